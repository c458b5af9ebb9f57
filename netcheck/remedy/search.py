"""Every way with every preferred value, by the fast path."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from ..engine.elements import Floats
from ..graph import Section
from ..model import Value
from ..network import Means
from ..port import moved
from ..predictor import Predictor
from ..sweeping import pot_effects
from ..tolerance import BandFinder
from .aim import Aim
from .figures import POSITIONS, Figures, figures
from .score import score, serves
from .ways import Way, changes, scaffold

Progress = Callable[[str, int, int], None]

_CHUNK = 250  # ways predicted in one call, for the sake of memory [count]
_KNOTS = 9  # values at which a part is tried that the fast path cannot vary [count]
_FRONT_LOADS = (0.5, 1.8)  # beside the drawn one enough to see how a part moves the curve [1]
_MUCH = 0.5  # of the largest effect on a grid: what a pot sets, as against what it disturbs [1]


@dataclass(frozen=True, slots=True)
class Tried:
    """One way, as the fast path sees it.

    Parameters
    ----------
    way : Way
        The way.
    figures : Figures
        What it makes of the travel.
    total : float
        Its score. [1]
    """

    way: Way
    figures: Figures
    total: float

    @property
    def rank(self) -> tuple[bool, float]:
        """To sort by: what cannot over-run a valve first, then the score."""
        return self.figures.over_runs, -self.total


def sharing(predictor: Predictor, goal: Aim, pots: Sequence[str]) -> list[list[int]]:
    """The marks that one pot sets together, each mark in one group.

    Where a balance pot shifts the grids against each other, each is set on its own.
    """
    effects = pot_effects(predictor)
    others = [pot for pot in effects if pot not in pots]
    if any(min(effects[p].values()) < -_some(effects[p]) < _some(effects[p])
           < max(effects[p].values()) for p in others):  # fmt: skip
        return [[k] for k in range(len(goal.marks))]
    groups: dict[frozenset[str], list[int]] = {}
    for k, mark in enumerate(goal.marks):
        moved = {pot: abs(effects[pot].get(mark.node, 0.0)) for pot in pots}
        most = max(moved.values(), default=0.0)
        key = frozenset(pot for pot, by in moved.items() if by >= _MUCH * most > 0.0)
        groups.setdefault(key, []).append(k)
    return list(groups.values())


def _some(moves: Mapping[str, float]) -> float:
    return 0.2 * max(map(abs, moves.values()), default=0.0)


class Search:
    """Tries ways on a section.

    Parameters
    ----------
    predictor : Predictor
        Of the section to begin with.
    goal : Aim
        What is wanted.
    pots : sequence of str
        The pots that set the bias.
    shared : sequence of sequence of int
        Marks that one pot sets together, see `sharing`.
    progress : callable
        Told what is done, how much of it, of how much.
    """

    def __init__(self, predictor: Predictor, goal: Aim, pots: Sequence[str],
                 shared: Sequence[Sequence[int]], progress: Progress) -> None:  # fmt: skip
        self._circuit = predictor.section.circuit
        self._goal, self._pots, self._progress = goal, tuple(pots), progress
        self._shared = shared
        section = Section(scaffold(self._circuit, pots))
        self._fast = Predictor(section, predictor.service, predictor.changes)
        self._hot = hot(self._fast, goal)
        self._travel = np.linspace(0.0, 1.0, POSITIONS) if pots else np.array([0.5])
        self._ends = np.array([0.0, 1.0]) if pots else np.array([0.5])

    def tried(self, ways: Sequence[Way], before: Way | None = None) -> list[Tried]:
        """The ways with what they make of the travel, in their order.

        The worst case is looked at for those that serve.

        Parameters
        ----------
        ways : sequence of Way
            None of which restores.
        before : Way or None
            What is done besides.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        quick = [way for way in ways if self._is_behind(way)]
        slow = [way for way in ways if not self._is_behind(way)]
        found: dict[Way, Figures] = {}
        total = len(ways)
        for chunk in (quick[k : k + _CHUNK] for k in range(0, len(quick), _CHUNK)):
            self._progress("trying values", len(found), total)
            found.update(zip(chunk, self._at_once(chunk), strict=True))
        found.update(self._with_worst([way for way in quick if serves(found[way])], found))
        groups: dict[tuple[str, ...], list[Way]] = {}
        for way in slow:
            groups.setdefault(tuple(changes(self._circuit, way)), []).append(way)
        for same in groups.values():
            self._progress("trying values", len(found), total)
            found.update(zip(same, self._between_knots(same), strict=True))
        return [Tried(way, found[way], score(found[way], way, before).total) for way in ways]

    def _is_behind(self, way: Way) -> bool:
        cut = self._fast.section.cut
        return cut is not None and not set(changes(self._circuit, way)) & cut.front

    def _watched(self, values: Mapping[str, Value], rows: int) -> Floats:
        return self._columns(self._fast.means(values, rows))

    # ------------------------------------------------------------------- all in one call

    def _at_once(self, ways: Sequence[Way]) -> list[Figures]:
        """What they make of the travel, all but the worst case."""
        settings = self._settings(ways, self._travel)
        rows = len(ways) * self._travel.size
        v = self._watched(self._fast.values() | settings, rows)
        v = v.reshape(len(ways), self._travel.size, -1)
        return figures(self._goal, v, self._shared, [None] * len(ways))

    def _with_worst(self, ways: Sequence[Way], found: Mapping[Way, Figures]) -> dict[Way, Figures]:
        """Those that serve, with their worst case: it takes many states each."""
        if not ways:
            return {}
        finder = BandFinder(self._hot, self._settings(ways, self._ends),
                            self._fast.section.watched)  # fmt: skip
        corner = finder.find().high.reshape(len(ways), self._ends.size, -1)
        worst = worst_shares(self._goal, corner)
        return {w: replace(found[w], share_worst=x) for w, x in zip(ways, worst, strict=True)}

    def _settings(self, ways: Sequence[Way], at: Floats) -> dict[str, Floats]:
        """The parameters that differ, one row for each way and position."""
        each = [changes(self._circuit, way) for way in ways]
        base = self._fast.values()
        found = {
            name: np.repeat([one.get(name, float(base[name])) for one in each], at.size)
            for name in dict.fromkeys(itertools.chain.from_iterable(each))
        }
        travel = np.tile(at, len(ways))
        return found | {f"{pot}.travel": travel for pot in self._pots}

    # ---------------------------------------------------------------- a few, and between

    def _between_knots(self, ways: Sequence[Way]) -> list[Figures]:
        """Ways that change the same parts: predicted at a few values, interpolated between."""
        each = [changes(self._circuit, way) for way in ways]
        wanted = np.log([next(iter(one.values())) for one in each])
        knots = np.linspace(wanted.min(), wanted.max(), min(_KNOTS, len(ways)))
        first = next(iter(each[0].values()))
        known = self._known([
            {name: x / first * float(np.exp(knot)) for name, x in each[0].items()}
            for knot in knots
        ])  # fmt: skip
        v = np.asarray(PchipInterpolator(knots, known)(wanted)) if knots.size > 1 else known
        # All limits at once shift a grid in proportion to it, whatever the value.
        corner = v[:, [0, -1] if self._pots else [0]] * self._corner_share
        return figures(self._goal, v, self._shared, worst_shares(self._goal, corner))

    def _known(self, changed: Sequence[Mapping[str, float]]) -> Floats:
        """The watched nodes over the travel with parts changed, (changes, positions, watched). [V]

        Whole where there is no fast path. Else what a change adds, by curves alike: smoothing
        capacitors act on both in one way.
        """
        fast, at = self._fast, self._travel
        if fast.network is None:
            positions = [fast.values(dict.fromkeys(self._pots, float(where))) for where in at]
            states = [{**there, **one} for one in changed for there in positions]
            answers = fast.wholes([(state, ()) for state in states])
            v = np.array([[a.mean[node] for node in fast.section.watched] for a in answers])
            return v.reshape(len(changed), at.size, -1)
        travel = {f"{pot}.travel": at for pot in self._pots}
        drawn = fast.values()
        now = self._watched(drawn | travel, at.size)
        without = self._columns(fast.network.means(drawn | travel, fast.curves, at.size))
        traced = fast.traces([{**drawn, **one} for one in changed], _FRONT_LOADS, refine=False)
        known = []
        for one, few in zip(changed, traced, strict=True):
            curves = {port: moved(fast.curves[port], curve) for port, curve in few.items()}
            with_it = fast.network.means({**drawn, **one, **travel}, curves, at.size)
            known.append(now + self._columns(with_it) - without)
        return np.array(known)

    def _columns(self, means: Means) -> Floats:
        section = self._fast.section
        return np.stack([means.at(section.joined[n]) for n in section.watched], axis=1)

    @functools.cached_property
    def _corner_share(self) -> Floats:
        """What the worst corner makes of the grids at the ends, of what they are. [1]"""
        settings = {f"{pot}.travel": self._ends for pot in self._pots}
        watched = self._fast.section.watched
        corner = BandFinder(self._hot, settings, watched).find().high
        now = self._watched(self._fast.values() | settings, self._ends.size)
        return np.asarray(corner / np.where(now != 0.0, now, 1.0))


def hot(predictor: Predictor, goal: Aim) -> Predictor:
    """The same section with the mains at the top of its tolerance."""
    values = predictor.values()
    if "mains" not in values:
        return Predictor(predictor.section, predictor.service, predictor.changes)
    mains = {"mains": float(values["mains"]) * goal.mains_high}
    return Predictor(predictor.section, predictor.service, predictor.changes | mains)


def worst_shares(goal: Aim, corner: Floats) -> list[float | None]:
    """Greatest dissipation at the ends of the travel, of the limit, from the worst volts.

    Parameters
    ----------
    goal : Aim
        What is wanted.
    corner : array, shape (circuits, ends, watched)
        Least negative grid voltages that the tolerances allow with the mains high. [V]
    """
    each = [mark.law.shares_high(corner[:, :, mark.column]).max(axis=1)
            for mark in goal.marks if mark.law is not None]  # fmt: skip
    if not each:
        return [None] * corner.shape[0]
    return [float(share) for share in np.max(each, axis=0)]


def best_of_each(tried: Sequence[Tried]) -> list[Tried]:
    """The best value of each way at each place that serves, the best first."""
    best: dict[object, Tried] = {}
    for one in tried:
        if serves(one.figures):
            held = best.get(one.way.where)
            if held is None or one.rank < held.rank:
                best[one.way.where] = one
    return sorted(best.values(), key=lambda one: one.rank)
