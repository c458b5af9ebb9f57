"""All that could be done, simulated and ranked."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from ..engine.service import Service
from ..errors import EngineError, InputError
from ..graph import Section
from ..netlist import Circuit, Pot, Resistor
from ..predictor import Predictor
from ..sweeping import swept_pots
from ..valves.practice import WINDOW
from .aim import Aim, aim
from .fitted import fit
from .obstacle import obstacle
from .option import Bench, Option, corner_signs
from .ratings import over_stressed
from .samples import Sample, samples
from .score import serves
from .search import Progress, Search, Tried, best_of_each, hot, sharing
from .start import Start
from .ways import Kind, Way, candidates

VERIFIED = 8
"""So many of the best are simulated as a whole. [count]"""
WORTH = 5.0
"""So many points a remedy must gain over a section that does its work as it is. [1]"""
_NEXT_BEST = 3  # values tried at one place before it is given up for over-stressing a part


@dataclass(frozen=True, slots=True)
class Refused:
    """A way that is not offered.

    Parameters
    ----------
    way : Way
        The way, with its best value.
    over_stressed : tuple of str
        The parts that it would over-stress.
    """

    way: Way
    over_stressed: tuple[str, ...]


@dataclass(frozen=True)
class Remedies:
    """What could be done.

    Parameters
    ----------
    start : Start
        What it begins with.
    goal : Aim
        What is wanted.
    pots : tuple of str
        The pots that set the bias.
    as_is : Option or None
        As it stands; None where that cannot be simulated.
    restored : Option or None
        With what was diagnosed put right, and nothing else; None where nothing was.
    options : tuple of Option
        What serves, and better than the section as it is, the best first; what restores the
        drawing before all others. Where that does not serve alone, every option begins with it.
    refused : tuple of Refused
        What would serve but over-stress a part.
    tried : int
        Values that were tried. [count]
    obstacle : tuple of str
        Where nothing serves: what stands in the way and what would have to change.
    samples : tuple of Sample
        Valves that were measured, beside an average one.
    """

    start: Start
    goal: Aim
    pots: tuple[str, ...]
    as_is: Option | None
    restored: Option | None
    options: tuple[Option, ...]
    refused: tuple[Refused, ...]
    tried: int
    obstacle: tuple[str, ...]
    samples: tuple[Sample, ...]

    @property
    def is_needed(self) -> bool:
        """Whether anything is to be done: there is a fault, or the window falls badly."""
        return bool(self.start.faults) or self.as_is is None or not self.as_is.serves

    @property
    def is_solved(self) -> bool:
        """Whether all valves can be set: as it is, or in a way that cannot over-run one."""
        if not self.is_needed and self.as_is is not None and self.as_is.figures.is_common:
            return True
        return any(o.figures.is_common and not o.figures.over_runs for o in self.options)

    @property
    def is_better(self) -> bool:
        """Whether the first option is better than to leave the section as it is."""
        if not self.options or self.as_is is None or self.is_needed:
            return bool(self.options)
        (over, _), (over_as_is, _) = self.options[0].rank, self.as_is.rank
        gain = self.options[0].score.total - self.as_is.score.total
        return over < over_as_is or (over == over_as_is and gain >= WORTH)


def remedies(
    start: Start,
    service: Service,
    progress: Progress,
    *,
    window: tuple[float, float] = WINDOW,
    v_grid: float | None = None,
) -> Remedies:
    """Find what could be done.

    Parameters
    ----------
    start : Start
        What to begin with.
    service : Service
        The running simulator.
    progress : callable
        Told what is done, how much of it, of how much.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    v_grid : float, optional
        A grid voltage wanted instead. [V]

    Raises
    ------
    InputError
        If there is nothing to aim at, or the aim lies beyond what a valve stands.
    EngineError
        If the simulator cannot answer.
    """
    section = Section(start.drawn)
    if not section.watched:
        raise InputError("there is neither a valve nor a pot whose bias to set")
    progress("simulating the section", 0, 0)
    goal = aim(section, window, v_grid)
    drawn = Predictor(section, service)
    pots = swept_pots(drawn)
    shared, signs = sharing(drawn, goal, pots), corner_signs(hot(drawn, goal), pots)
    return _Study(start, Bench(service, goal, pots, shared, signs), progress).run(section)


@dataclass
class _Study:
    """The work on one section."""

    start: Start
    bench: Bench
    progress: Progress
    refused: list[Refused] = field(default_factory=list)
    tried: list[Tried] = field(default_factory=list)

    def run(self, drawn: Section) -> Remedies:
        as_is, restored = self._as_is(), self._restored()
        before: Way | None = None
        circuit, reference = self.start.circuit, as_is
        is_enough = restored is not None and restored.serves
        if restored is not None and not is_enough:
            # What restores is done anyway; what else is to be done begins there.
            before, circuit, reference = restored.way, self.start.drawn, restored
        options: list[Option] = []
        if reference is not None and (not is_enough or self.start.is_livable):
            options = sorted(self._searched(circuit, reference, before), key=lambda o: o.rank)
        if restored is not None and is_enough:
            options.insert(0, restored)
        stands: tuple[str, ...] = ()
        if not options and reference is not None and not reference.serves:
            stands = tuple(
                obstacle(circuit, self.bench.service, self.bench.goal, reference, self.tried)
            )
        return Remedies(
            start=self.start,
            goal=self.bench.goal,
            pots=self.bench.pots,
            as_is=as_is,
            restored=restored,
            options=tuple(options),
            refused=tuple(self.refused),
            tried=len(self.tried),
            obstacle=stands,
            samples=tuple(samples(drawn, self.bench.goal)),
        )

    def _as_is(self) -> Option | None:
        try:
            return self.bench.simulate(self.start.circuit)
        except EngineError:
            if not self.start.faults:
                raise
            return None  # such as a grid that hangs on nothing

    def _restored(self) -> Option | None:
        if not self.start.faults:
            return None
        way = Way(Kind.RESTORE, self.start.faults)
        return self.bench.simulate(self.start.drawn, way, self.start.faults)

    def _searched(self, circuit: Circuit, reference: Option, before: Way | None
                  ) -> Iterator[Option]:  # fmt: skip
        """What serves, simulated as a whole."""
        predictor = Predictor(Section(circuit), self.bench.service)
        ways = [way for way in candidates(predictor, self.start.drawn, self.bench.pots)
                if not self._restores(way)]  # fmt: skip
        search = Search(predictor, self.bench.goal, self.bench.pots, self.bench.shared,
                        self.progress)  # fmt: skip
        self.tried = search.tried(ways, before)
        best = best_of_each(self.tried)
        found = 0
        for one in best:
            if found == VERIFIED or (reference.serves and one.rank >= reference.rank):
                break  # the rest is no better than to leave it
            self.progress("simulating the best", found, min(VERIFIED, len(best)))
            option = self._verified(circuit, one, reference, before)
            if option is not None and option.serves and (
                not reference.serves or option.rank < reference.rank
            ):  # fmt: skip
                found += 1
                yield option

    def _restores(self, way: Way) -> bool:
        """Whether a way puts back a faulty part's value, which goes by another name."""
        if way.kind not in {Kind.RESISTOR, Kind.POT} or not set(way.parts) <= {*self.start.faults}:
            return False
        drawn = self.start.drawn.part(way.parts[0])
        return isinstance(drawn, Resistor | Pot) and math.isclose(drawn.r, way.r, rel_tol=0.02)

    def _verified(self, circuit: Circuit, best: Tried, reference: Option, before: Way | None
                  ) -> Option | None:  # fmt: skip
        """The best value at one place that over-stresses no part, simulated as a whole."""
        where = best.way.where
        same = [t for t in self.tried if t.way.where == where and serves(t.figures)]
        same.sort(key=lambda t: t.rank)
        for one in same[:_NEXT_BEST]:
            fitted = fit(circuit, one.way)
            option = self.bench.simulate(fitted.circuit, one.way, fitted.new, before)
            burnt = over_stressed(option.circuit, option.stress, reference.stress)
            if not burnt:
                return option
            if one is same[0]:
                self.refused.append(Refused(one.way, tuple(burnt)))
        return None
