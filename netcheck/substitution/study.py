"""The sweep itself: each value simulated whole by ngspice, over the travel of the pot."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from ..engine.elements import Element, Floats
from ..errors import EngineError, InputError
from ..graph import Section
from ..model import Value
from ..moves import in_words
from ..netlist import Pot
from ..predictor import Operating, Predictor
from ..sweeping import swept_pots
from ..tolerance import Band
from ..valves.practice import WINDOW
from ..valvetravel import ValvesTravel, ValveTravel, valves_travel
from .knob import Knob, state_of

LEAST = 0.01
"""A knob that moves no grid by more does not act on it: the last digit of a bench meter on its
20 V range. [V]"""
FLAT = 0.1
"""Values between which the grids move by less are as good as one: the last digit of a bench
meter on its 200 V range. [V]"""
_POSITIONS = 11  # every tenth of the travel, as a prediction has them
_POSITIONS_CHART = 5  # enough for a linear track, whose curve bends little
_CELLS = 400  # of a chart: a thousand would take minutes and fill pages
_BOTH_WAYS = 0.1  # one end that moves by so little of what the other does stays where it is
_AT_ONCE = 120  # states that are simulated in one go: enough for two workers to share

Progress = Callable[[str, int, int], None]


def _silent(what: str, done: int, total: int) -> None:
    """Say nothing of how far the work has come."""


@dataclass(frozen=True, slots=True)
class Setting:
    """Knobs at some values, over the travel of the pots.

    Parameters
    ----------
    values : tuple of (float or None)
        One for each knob; None for nothing across the part. [SI unit]
    mean : array, shape (positions, watched)
        Mean voltages against ground; no numbers where `trouble` says why. [V]
    valves : ValvesTravel or None
        The valves; None where `trouble` says why.
    settled : bool
        False if some steady state was still moving when the search for it ended.
    trouble : str
        Why the simulation could not answer; empty if it did.
    """

    values: tuple[float | None, ...]
    mean: Floats
    valves: ValvesTravel | None
    settled: bool = True
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class _Travelled:
    """What all settings of a sweep share.

    Parameters
    ----------
    section : Section
        The section.
    changes : mapping of parameter name to float
        What differs from the drawing by the command. [SI unit]
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    swept : tuple of str
        The pots that are turned together.
    fixed : mapping of pot name to float
        Rotation of the other pots. [1]
    travel : array, shape (positions,)
        Rotation of the swept pots, 0 to 1 clockwise. [1]
    settings : tuple of Setting
        The values, one after the other; of a chart row by row.
    """

    section: Section
    changes: Mapping[str, float]
    window: tuple[float, float]
    swept: tuple[str, ...]
    fixed: Mapping[str, float]
    travel: Floats
    settings: tuple[Setting, ...]

    @property
    def middle(self) -> int:
        """Which position is the middle of the travel. [count]"""
        return int(np.argmin(np.abs(self.travel - 0.5)))

    @property
    def answered(self) -> list[Setting]:
        """The settings that could be simulated."""
        return [one for one in self.settings if not one.trouble]

    @property
    def moved(self) -> Floats:
        """How far each watched node is moved at most, shape (watched,). [V]"""
        means = np.array([one.mean for one in self.answered])
        return np.asarray(np.max(np.ptp(means, axis=0), axis=0))


@dataclass(frozen=True, slots=True)
class Substitution(_Travelled):
    """One knob turned.

    Parameters
    ----------
    knob : Knob
        The knob; `settings` go with its values.
    """

    knob: Knob

    def direction(self) -> str:
        """What turning the knob away from what is fitted does, in words.

        From nothing across to the lowest value across; in place from the lowest value to the
        highest.
        """
        first, last = self.answered[0].mean, self.answered[-1].mean
        change = last - first
        down, up = -change.min(axis=0), change.max(axis=0)
        if np.any(np.minimum(down, up) > np.maximum(LEAST, _BOTH_WAYS * np.maximum(down, up))):
            wider = np.ptp(last, axis=0).max() > np.ptp(first, axis=0).max()
            return f"the ends of the travel move {'apart' if wider else 'together'}"
        far = change[np.argmax(np.abs(change), axis=0), np.arange(change.shape[1])]
        said = in_words(dict(zip(self.section.watched, far.tolist(), strict=True)))
        return f"{said} in the end, but not at first" if self._turns_back(change) else said

    def _turns_back(self, change: Floats) -> bool:
        """Whether some grid goes the other way by `FLAT` before it goes as it does in the end."""
        means = np.array([one.mean for one in self.answered])
        before = (means - means[0]) * np.sign(change)
        return bool(np.any(before < -FLAT))


@dataclass(frozen=True, slots=True)
class Chart(_Travelled):
    """Two knobs turned.

    Parameters
    ----------
    rows, columns : Knob
        The knobs; `settings` are row by row.
    """

    rows: Knob
    columns: Knob

    def at(self, row: int, column: int) -> Setting:
        """The setting in a cell."""
        return self.settings[row * len(self.columns.values) + column]

    @property
    def moved_by(self) -> tuple[float, float]:
        """How far a grid is moved at most by the knob of the rows, and of the columns. [V]"""
        count = range(len(self.rows.values)), range(len(self.columns.values))
        down = max(_spread([self.at(a, b) for a in count[0]]) for b in count[1])
        along = max(_spread([self.at(a, b) for b in count[1]]) for a in count[0])
        return down, along


def _spread(settings: Sequence[Setting]) -> float:
    """How far the watched nodes differ at most between those that could be simulated. [V]"""
    means = [one.mean for one in settings if not one.trouble]
    return float(np.max(np.ptp(np.array(means), axis=0))) if means else 0.0


def substitute(predictor: Predictor, knob: Knob, window: tuple[float, float] = WINDOW,
               progress: Progress = _silent) -> Substitution:  # fmt: skip
    """Turn one knob.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    knob : Knob
        What is turned.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    progress : callable
        Told how far the work has come.

    Raises
    ------
    EngineError
        If the simulator can answer at one value at most.
    """
    bench = _Bench(predictor, window, _POSITIONS)
    settings = bench.settings([((knob, value),) for value in knob.values], progress)
    return Substitution(*bench.shared, settings, knob)


def chart(predictor: Predictor, rows: Knob, columns: Knob, window: tuple[float, float] = WINDOW,
          progress: Progress = _silent) -> Chart:  # fmt: skip
    """Turn two knobs, each value of one with each of the other; arguments as `substitute`.

    Raises
    ------
    InputError
        If there are too many pairs.
    EngineError
        If the simulator can answer at one of them at most.
    """
    count = len(rows.values) * len(columns.values)
    if count > _CELLS:
        raise InputError(f"{len(rows.values)} by {len(columns.values)} values are too many; a "
                         f"chart has at most {_CELLS} cells")  # fmt: skip
    pots = predictor.section.circuit.of(Pot)
    is_linear = all(pot.taper == "linear" for pot in pots)
    bench = _Bench(predictor, window, _POSITIONS_CHART if is_linear else _POSITIONS)
    cells = [((rows, a), (columns, b)) for a, b in product(rows.values, columns.values)]
    return Chart(*bench.shared, bench.settings(cells, progress), rows, columns)


class _Bench:
    """A section with its pots ready to be turned.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    positions : int
        Positions of the pots. [count]
    """

    def __init__(self, predictor: Predictor, window: tuple[float, float], positions: int) -> None:
        self._predictor, self._window = predictor, window
        section = predictor.section
        swept = swept_pots(predictor)
        fixed = {pot.name: 0.5 for pot in predictor.pots() if pot.name not in swept}
        travel = np.linspace(0.0, 1.0, positions) if swept else np.array([0.5])
        self.shared = (section, predictor.changes, window, swept, fixed, travel)
        self._at = travel
        self._states = [predictor.values(dict.fromkeys(swept, float(at))) for at in travel]

    def settings(
        self, turned: Sequence[tuple[tuple[Knob, float | None], ...]], progress: Progress
    ) -> tuple[Setting, ...]:
        """Simulate all positions for each combination of values."""
        found: list[Setting] = []
        several = max(1, _AT_ONCE // len(self._states))
        for start in range(0, len(turned), several):
            progress("turning", start, len(turned))
            found += self._simulated(turned[start : start + several])
        if sum(not one.trouble for one in found) < 2:  # nothing to compare
            raise EngineError(next(one.trouble for one in found if one.trouble))
        return tuple(found)

    def _simulated(
        self, turned: Sequence[tuple[tuple[Knob, float | None], ...]]
    ) -> Iterator[Setting]:
        """Some combinations of values, all positions of all of them in one go."""
        states: list[tuple[dict[str, Value], Sequence[Element]]] = []
        for knobs in turned:
            changes, added = state_of(self._predictor, knobs)
            states += [(state | changes, added) for state in self._states]
        answers = self._predictor.tries(states)
        count = len(self._states)
        for n, knobs in enumerate(turned):
            values = tuple(value for _, value in knobs)
            yield self._setting(values, answers[n * count : (n + 1) * count])

    def _setting(
        self,
        values: tuple[float | None, ...],
        answers: Sequence[Operating | EngineError],
    ) -> Setting:
        section = self._predictor.section
        whole: list[Operating] = []
        for answer in answers:
            if isinstance(answer, EngineError):
                none = np.full((len(answers), len(section.watched)), np.nan)
                return Setting(values, none, None, False, str(answer))
            whole.append(answer)
        mean = np.array([[op.mean[node] for node in section.watched] for op in whole])
        band = Band(mean, mean, mean, mean, {})
        valves = valves_travel(section, self._at, mean, band, self._window)
        return Setting(values, mean, valves, all(op.state.converged for op in whole))


def valve_groups(swept: _Travelled) -> list[list[int]]:
    """Valves that do the same at every setting and position, together, by their place.

    Valves that cannot be modelled are in no group.
    """
    travels = [one.valves.valves for one in swept.answered if one.valves is not None]
    groups: list[list[int]] = []
    for k in range(len(travels[0])):
        for group in groups:
            if all(_is_alike(valves[k], valves[group[0]]) for valves in travels):
                group.append(k)
                break
        else:
            groups.append([k])
    return groups


def _is_alike(a: ValveTravel, b: ValveTravel) -> bool:
    same_type = a.idling.type.name == b.idling.type.name
    return same_type and np.allclose(a.idle.i_cathode, b.idle.i_cathode, rtol=2e-3)


def flat_stretches(s: Substitution) -> list[tuple[int, int]]:
    """The settings at either end of the range between which no grid moves by `FLAT`.

    Returns
    -------
    list of (int, int)
        First and last setting of each; none of less than three, and the longer of two that
        overlap.
    """
    means = np.array([one.mean for one in s.settings])
    count = len(s.settings)

    def length(order: Sequence[int]) -> int:
        for n in range(1, count + 1):
            part = means[list(order[:n])]
            if np.isnan(part).any() or np.max(np.ptp(part, axis=0)) >= FLAT:
                return n - 1
        return count

    head = length(range(count))
    tail = length(range(count - 1, -1, -1))
    found = [(0, head - 1), (count - tail, count - 1)]
    if head + tail > count:
        found = [max(found, key=lambda stretch: stretch[1] - stretch[0])]
    return [(a, b) for a, b in found if b - a >= 2]


def volts_wanted(s: _Travelled, k: int) -> tuple[float, float] | None:
    """Grid volts between which a valve is in its window, from what was simulated.

    Parameters
    ----------
    s : Substitution or Chart
        The sweep.
    k : int
        Place of the valve. [count]

    Returns
    -------
    (float, float) or None
        The more negative first; None where the window was never reached. [V]
    """
    volts: list[Floats] = []
    shares: list[Floats] = []
    for one in s.answered:
        assert one.valves is not None
        valve = one.valves.valves[k]
        volts.append(one.mean[:, s.section.watched.index(valve.valve.grid)])
        shares.append(valve.idle.p_plate / valve.limit)
    v, share = np.concatenate(volts), np.concatenate(shares)
    order = np.argsort(share)
    low, high = s.window
    if share[order[-1]] < low or share[order[0]] > high:
        return None
    ends = np.interp([low, high], share[order], v[order])
    return float(ends[0]), float(ends[1])
