"""The one cheap part: what takes over when the wiper of a pot lifts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..engine.elements import CurrentSource
from ..netlist import GROUND, OPEN, Pot, Resistor
from ..preferred import Series, values_between
from ..roles import Role
from .bench import Bench, Outcome
from .catalogue import Failure, Mode
from .danger import Danger, dangers, names_at, worst
from .wiring import Wiring, broken

I_GRID = 2e-6
"""The current that an output valve's grid may give while it is still good for service: some
microampere; common practice. The resistor must hold the grids against that of all valves. [A]"""
_SHARES = (1.0, 47.0)
"""The resistors tried, as multiples of the track: more would hold nothing, less would lame the
pot. [1]"""
HARDLY, V_HARDLY = 0.1, 0.1
"""A resistor that moves a grid by more than this share of the pot's travel [1], and by more than
these volts [V], changes the setting."""
SAFETY = "safety resistor"
_AT_ONCE = 3  # values tried in one go [count]


@dataclass(frozen=True, slots=True)
class Guard:
    """A pot whose lifted wiper loses no valve, as the section is drawn.

    Parameters
    ----------
    pot : str
        The pot.
    part : str or None
        The resistor that takes over; None where the wiring itself does.
    r : float or None
        What that resistor has. [ohm]
    lifted : Outcome
        With the wiper lifted.
    without : Outcome or None
        With the wiper lifted and the resistor away.
    danger : Danger
        Of the lifted wiper.
    danger_without : Danger
        Of the same without the resistor.
    """

    pot: str
    part: str | None
    r: float | None
    lifted: Outcome
    without: Outcome | None
    danger: Danger
    danger_without: Danger


@dataclass(frozen=True, slots=True)
class Proposal:
    """A resistor, or a strap to the free end of a rheostat, that makes a lifted wiper harmless.

    Parameters
    ----------
    pot : str
        The pot.
    start, end : str
        The nodes that it joins: the wiper's, and the end's; `OPEN` for a free end.
    end_word : str
        Which terminal of the pot that end is: "top" or "bottom".
    r : float or None
        A preferred value of E12; None for a strap. [ohm]
    moves : float
        How far it moves a grid at most while all is well, over the travel of the pot, together
        with what else is proposed. [V]
    moves_share : float
        The same as a share of how far the pot moves a grid. [1]
    lifted : Outcome
        With the wiper lifted and the part fitted.
    danger : Danger
        Of that.
    before : Outcome
        With the wiper lifted as it is drawn.
    danger_before : Danger
        Of that.
    """

    pot: str
    start: str
    end: str
    end_word: str
    r: float | None
    moves: float
    moves_share: float
    lifted: Outcome
    danger: Danger
    before: Outcome
    danger_before: Danger

    def fitted(self, wiring: Wiring) -> Wiring:
        """A wiring, sound or broken, with the part in it."""
        if self.r is not None:
            return wiring.across(f"{SAFETY} of {self.pot}", self.start, self.end, self.r)
        pot = wiring.circuit.part(self.pot)
        assert pot is not None
        return wiring.rewired(pot, **{self.end_word: self.start})


class Doctor:
    """Looks at each lifted wiper, and finds what makes it harmless.

    Parameters
    ----------
    bench : Bench
        The bench.
    sound : Outcome
        While all is well.
    roles : mapping of part name to Role
        What the parts are there for.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    """

    def __init__(self, bench: Bench, sound: Outcome, roles: Mapping[str, Role],
                 window: tuple[float, float]) -> None:  # fmt: skip
        self._bench, self._sound, self._roles, self._window = bench, sound, roles, window
        self._values = bench.states[0]

    def _danger(self, outcome: Outcome) -> Danger:
        return worst(dangers(self._bench, self._sound, outcome, self._window))

    def _lifted(self, pot: str) -> Wiring:
        return broken(self._bench.drawn, Failure(pot, Mode.WIPER_LIFTED), self._values)

    def examine(self, pot: Pot, lifted: Outcome) -> Guard | Proposal | None:
        """What there is or should be to hold the grids when the wiper of a pot lifts.

        Parameters
        ----------
        pot : Pot
            The pot.
        lifted : Outcome
            What its lifted wiper does.

        Returns
        -------
        Guard, Proposal or None
            None where nothing helps.
        """
        danger = self._danger(lifted)
        if danger.is_dangerous:
            return self._strap(pot, lifted, danger) or self._proposal(pot, lifted, danger)
        return self._guard(pot, lifted, danger)

    def together(self, proposals: Sequence[Proposal]) -> list[Proposal]:
        """What several proposals come to when all are followed."""
        wiring = self._bench.drawn
        for proposal in proposals:
            wiring = proposal.fitted(wiring)
        return [self._moving(proposal, wiring) or proposal for proposal in proposals]

    def _moving(self, proposal: Proposal, wiring: Wiring) -> Proposal | None:
        """A proposal with how far a wiring moves the grids; None where that cannot be told."""
        volts = self._bench.over_travel(wiring, proposal.pot)
        if volts is None:
            return None
        before, after = volts
        moves = float(np.max(np.abs(after - before)))
        travel = float(np.max(np.ptp(before, axis=0)))
        return replace(proposal, moves=moves, moves_share=moves / travel if travel else 0.0)

    # ------------------------------------------------------------------- what is there

    def _guard(self, pot: Pot, lifted: Outcome, danger: Danger) -> Guard:
        """Which of the safety resistors does it: the one that is missed the most."""
        names = [part.name for part in self._bench.section.circuit.of(Resistor)
                 if self._may_hold(part, pot)]  # fmt: skip
        wiring = self._lifted(pot.name)
        outcomes = self._bench.try_out([wiring.without([name]) for name in names])
        judged = [(self._danger(one), name, one) for name, one in zip(names, outcomes, strict=True)]
        judged.sort(key=lambda one: one[0].rank)
        if judged and judged[0][0].rank < danger.rank and judged[0][0] is not Danger.UNKNOWN:
            without, name, outcome = judged[0]
            r = float(self._values[name])
            return Guard(pot.name, name, r, lifted, outcome, danger, without)
        return Guard(pot.name, None, None, lifted, None, danger, danger)

    def _may_hold(self, part: Resistor, pot: Pot) -> bool:
        """Whether a resistor is there for a lifted wiper, or lies from this one to an end."""
        at = self._bench.drawn.at
        ends = {at(node) for node in (pot.top, pot.bottom) if node != OPEN} - {at(pot.wiper)}
        is_beside = {at(part.start), at(part.end)} in [{at(pot.wiper), end} for end in ends]
        return is_beside or self._roles.get(part.name) is Role.WIPER_SAFETY

    # --------------------------------------------------------------------- what to fit

    def _strap(self, pot: Pot, lifted: Outcome, danger: Danger) -> Proposal | None:
        """The free end of a rheostat strapped to its wiper: a lifted one leaves the whole track."""
        free = [word for word, node in (("top", pot.top), ("bottom", pot.bottom)) if node == OPEN]
        if not free:
            return None
        return self._tried(pot.name, (pot.wiper, OPEN, free[0]), None, (lifted, danger))

    def _proposal(self, pot: Pot, lifted: Outcome, danger: Danger) -> Proposal | None:
        """The largest resistor that holds the grids: it moves the travel the least."""
        for end, word in self._places(pot):
            r = self._largest(pot, lifted, pot.wiper, end)
            if r is None:
                continue
            found = self._tried(pot.name, (pot.wiper, end, word), r, (lifted, danger))
            if found is not None and (found.moves_share <= HARDLY or found.moves <= V_HARDLY):
                return found
        return None

    def _tried(self, pot: str, at: tuple[str, str, str], r: float | None,
               before: tuple[Outcome, Danger]) -> Proposal | None:  # fmt: skip
        """A part tried out; None where it does not help."""
        untried = Proposal(pot, *at, r, 0.0, 0.0, *before, *before)
        (lifted,) = self._bench.try_out([untried.fitted(self._lifted(pot))])
        found = replace(untried, lifted=lifted, danger=self._danger(lifted))
        if found.danger.is_dangerous or found.danger is Danger.UNKNOWN:
            return None
        return self._moving(found, found.fitted(self._bench.drawn))

    def _places(self, pot: Pot) -> Iterator[tuple[str, str]]:
        """Where it may go from the wiper: a node and which end that is, the best first."""
        at = self._bench.drawn.at
        ends = [(word, node) for word, node in (("top", pot.top), ("bottom", pot.bottom))
                if node != OPEN and at(node) not in (GROUND, at(pot.wiper))]  # fmt: skip
        levels = self._levels(pot, [node for _, node in ends])
        for _, (word, end) in sorted(zip(levels, ends, strict=True)):
            yield end, word

    def _levels(self, pot: Pot, nodes: Sequence[str]) -> list[float]:
        """What makes one end better than another: its mean volts, or how far it alternates. [V]"""
        state = self._bench.states[self._bench.now]
        answer = self._bench.predictor.whole(state)
        if self._roles.get(pot.name) is Role.LEVEL_POT:
            return [-answer.ripple[node] for node in nodes]
        return [answer.mean[node] for node in nodes]

    def _largest(self, pot: Pot, lifted: Outcome, start: str, end: str) -> float | None:
        """The largest preferred value with which the lifted wiper is safe; None if none is. [ohm]

        The grids that the lifted wiper leaves have to be as negative as where the pot stands now,
        even with `I_GRID` out of each; where no value does that, it is enough that no valve is in
        danger.
        """
        low, high = (share * float(self._values[pot.name]) for share in _SHARES)
        values = values_between(low, high, Series.E12)[::-1]
        left = self._left(lifted)
        wiring = self._lifted(pot.name)
        if wiring.at(start) != GROUND:
            i = I_GRID * sum(left)
            wiring = wiring.plus(CurrentSource("grid current", GROUND, wiring.at(start), i))
        columns = [k for k, count in enumerate(left) if count]
        before = self._sound.mean[self._bench.now, columns]
        enough: float | None = None
        for begun in range(0, len(values), _AT_ONCE):
            part = values[begun : begun + _AT_ONCE]
            outcomes = self._bench.try_out([wiring.across(SAFETY, start, end, r) for r in part])
            for r, outcome in zip(part, outcomes, strict=True):
                danger = self._danger(outcome)
                if danger.is_dangerous or danger in (Danger.HOT, Danger.UNKNOWN):
                    continue
                if np.all(outcome.mean[:, columns] <= before):
                    return r
                enough = enough or r
        return enough

    def _left(self, lifted: Outcome) -> list[int]:
        """How many valves at each watched node the lifted wiper endangers."""
        found = dangers(self._bench, self._sound, lifted, self._window)
        return [sum(name in found and found[name].is_dangerous
                    for name in names_at(self._bench, node))
                for node in self._bench.section.watched]  # fmt: skip
