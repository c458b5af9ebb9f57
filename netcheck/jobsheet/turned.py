"""What a substitution box gives over the travel of the pot, computed before the page is opened.

For each part that acts on the grids, across it and in its place, every E12 value is predicted at
every tenth of the travel: by the fast path, held to whole simulations at a few values and
positions; from these alone where the fast path does not reach, in front of the rectifier.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from ..engine.elements import Floats
from ..errors import EngineError
from ..graph import Section
from ..idling import Idle, idle
from ..model import Value
from ..netlist import OPEN, Circuit, Pot, Resistor, Zener
from ..port import PortCurve
from ..predictor import Predictor
from ..preferred import Series, values_between
from ..remedy.ways import Kind, Way, acting, changes, pot_values, scaffold
from ..travel import Prediction

_ACROSS = (0.5, 30.0)  # of the part: from a third of it left to 3 % off [1]
_IN_PLACE = (0.1, 10.0)  # of the part: a decade either way [1]
_KNOTS, _KNOTS_IN_FRONT, _KNOTS_AT_KNEE = (
    7,
    13,
    25,
)  # values at which a part is simulated whole [count]
_LOADS = (0.08, 0.2, 0.4, 0.7, 1.5, 3.0, 7.0)  # of the port, of the one drawn [1]
_FIRM = 1.0  # what is nearer to ground is corrected by volts, not in proportion [V]
_NEAR = 1e-4  # values of a pot so near to the fitted one are that one [1]


@dataclass(frozen=True)
class Turn:
    """One part, or some that belong together, with a box across or in place.

    Parameters
    ----------
    parts : tuple of str
        The parts, each of which gets the value.
    is_across : bool
        Whether the box lies across the part; else it is in its place.
    fitted : float
        What the part has. [ohm]
    values : tuple of (float or None)
        Of the box, in the order in which it is turned; None for what is drawn: nothing across,
        or the part itself. [ohm]
    v : array, shape (values, positions, nodes)
        Mean voltages against ground; those of what is drawn among them. [V]
    valves : tuple of Idle
        What the valves do, arrays of shape (values, positions).
    """

    parts: tuple[str, ...]
    is_across: bool
    fitted: float
    values: tuple[float | None, ...]
    v: Floats
    valves: tuple[Idle, ...]

    @property
    def home(self) -> int:
        """Which value leaves the part as it is. [count]"""
        return self.values.index(None)


@dataclass(frozen=True)
class Turned:
    """All that can be turned.

    Parameters
    ----------
    prediction : Prediction
        Of the section as it is.
    nodes : tuple of str
        In the order of the columns.
    base : array, shape (positions, nodes)
        Mean voltages with nothing turned but the pot. [V]
    valves : tuple of Idle
        What the valves of the prediction do, arrays of shape (positions,).
    turns : tuple of Turn
        The parts.
    left_out : tuple of str
        Parts that act but cannot be turned, each with the reason.
    """

    prediction: Prediction
    nodes: tuple[str, ...]
    base: Floats
    valves: tuple[Idle, ...]
    turns: tuple[Turn, ...]
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Group:
    """Ways that change the same parameters.

    Parameters
    ----------
    parts : tuple of str
        The parts, each in the same way.
    fitted : float
        What they have. [ohm]
    ways : list of (Kind, tuple of float)
        What is done, with the values of the box in the order in which it is turned. [ohm]
    """

    parts: tuple[str, ...]
    fitted: float
    ways: list[tuple[Kind, tuple[float, ...]]] = field(default_factory=list)


def turned(predictor: Predictor, prediction: Prediction) -> Turned:
    """Turn everything that acts on the grids.

    Parameters
    ----------
    predictor : Predictor
        Of the section as it is.
    prediction : Prediction
        Over its travel.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    bench = _Bench(predictor, prediction)
    grids = [bench.gridded(group) for group in groups(predictor, prediction.swept)]
    turns: list[Turn] = []
    left_out: list[str] = []
    for grid, answers in zip(grids, bench.simulated(grids), strict=True):
        if isinstance(answers, EngineError):
            left_out.append(f"{', '.join(grid.group.parts)}: {answers}")
        else:
            turns += bench.turns(grid, answers)
    return Turned(prediction, bench.nodes, bench.base, bench.idle(bench.base), tuple(turns),
                  tuple(left_out))  # fmt: skip


def groups(predictor: Predictor, pots: Sequence[str]) -> Iterator[Group]:
    """The resistors that act, those that belong together as one, and the pots that are turned.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    pots : sequence of str
        Those that set the bias.
    """
    circuit = predictor.section.circuit
    for names in acting(predictor):
        part = circuit.part(names[0])
        assert isinstance(part, Resistor)
        across = tuple(reversed(_e12(part.r, _ACROSS)))
        yield Group(names, part.r, [(Kind.STRAP, across),
                                     (Kind.RESISTOR, _e12(part.r, _IN_PLACE))])  # fmt: skip
    swept = [pot for pot in circuit.of(Pot) if pot.name in pots]
    if not swept or len({pot.r for pot in swept}) > 1:
        return
    names = tuple(pot.name for pot in swept)
    r = swept[0].r
    others = tuple(x for x in pot_values(*(share * r for share in _IN_PLACE)))
    yield Group(names, r, [(Kind.POT, others)])
    if all(OPEN not in (pot.top, pot.bottom) for pot in swept):
        yield Group(names, r, [(Kind.STRAP_POT, tuple(reversed(_e12(r, _ACROSS))))])


def _e12(nominal: float, shares: tuple[float, float]) -> tuple[float, ...]:
    return values_between(shares[0] * nominal, shares[1] * nominal, Series.E12)


@dataclass(frozen=True)
class _Grid:
    """The values of a part, and where the fast path is held to whole simulations.

    Parameters
    ----------
    group : Group
        The part.
    every : list of (Kind, float, dict)
        Each way with each value, and the parameters that it changes. [ohm]
    x : array, shape (values,)
        Logarithm of the first of these parameters.
    is_behind : bool
        Whether the fast path reaches the part.
    has_knee : bool
        Whether the volts may bend sharply from one value to the next.
    knots : array
        Values of `x` that are simulated.
    known : list of dict
        The parameters there.
    places : list of int
        Positions that are simulated. [count]
    """

    group: Group
    every: list[tuple[Kind, float, dict[str, float]]]
    x: Floats
    is_behind: bool
    has_knee: bool
    knots: Floats
    known: list[dict[str, float]]
    places: list[int]


class _Bench:
    """A section with its pots ready to be turned, and its valves.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    prediction : Prediction
        Over its travel.
    """

    def __init__(self, predictor: Predictor, prediction: Prediction) -> None:
        self._circuit: Circuit = predictor.section.circuit
        self._pots, self._at = prediction.swept, prediction.travel
        self._fixed = prediction.fixed
        section = Section(scaffold(self._circuit, self._pots))
        self._fast = Predictor(section, predictor.service, predictor.changes)
        self._prediction = prediction
        self.nodes = tuple(prediction.nodes)
        self.base = np.stack([prediction.nodes[node] for node in self.nodes], axis=1)
        cut = section.cut
        self._front = None if cut is None else cut.front
        network = self._fast.network
        self._known = [k for k, node in enumerate(self.nodes)
                       if network is not None and network.has(node)]  # fmt: skip

    def gridded(self, group: Group) -> _Grid:
        """The values of a part, and the states by which the fast path is held."""
        every = [(kind, value, changes(self._circuit, Way(kind, group.parts, value)))
                 for kind, values in group.ways for value in values]  # fmt: skip
        first, *_ = every[0][2]
        x = np.log([changed[first] for _, _, changed in every])
        is_behind = self._front is not None and not set(every[0][2]) & self._front
        has_knee = not is_behind and any(self._circuit.of(Zener))
        count = _KNOTS if is_behind else _KNOTS_AT_KNEE if has_knee else _KNOTS_IN_FRONT
        knots = np.linspace(x.min(), x.max(), min(count, x.size))
        last = self._at.size - 1
        places = sorted({0, last // 2, last})
        if self._front is None:  # there is no fast path
            places = list(range(self._at.size))
        start = every[0][2]
        known = [{name: value / start[first] * float(np.exp(knot)) for name, value in start.items()}
                 for knot in knots]  # fmt: skip
        return _Grid(group, every, x, is_behind, has_knee, knots, known, places)

    def simulated(self, grids: Sequence[_Grid]) -> Iterator[Floats | EngineError]:
        """Node voltages by ngspice, shape (knots, places, nodes), of each part.

        All are asked for at once, so that every worker has its share.
        """
        answers = iter(self._fast.tries([state for grid in grids for state in self._states(grid)]))
        for grid in grids:
            own = list(itertools.islice(answers, len(grid.known) * len(grid.places)))
            error = next((a for a in own if isinstance(a, EngineError)), None)
            if error is not None:
                yield error
                continue
            v = np.array([[a.mean[node] for node in self.nodes] for a in own
                          if not isinstance(a, EngineError)])  # fmt: skip
            yield v.reshape(len(grid.known), len(grid.places), -1)

    def _states(self, grid: _Grid) -> Iterator[tuple[dict[str, Value], tuple[()]]]:
        for changed in grid.known:
            for k in grid.places:
                travel = {**self._fixed, **dict.fromkeys(self._pots, float(self._at[k]))}
                yield {**self._fast.values(travel), **changed}, ()

    def turns(self, grid: _Grid, whole: Floats) -> Iterator[Turn]:
        """A part turned across and in place."""
        v = self._volts(grid, whole)
        for kind, _ in grid.group.ways:
            own = [k for k, (other, _, _) in enumerate(grid.every) if other is kind]
            values = [grid.every[k][1] for k in own]
            yield self._turn(grid.group, kind in {Kind.STRAP, Kind.STRAP_POT}, values, v[own])

    def _turn(self, group: Group, is_across: bool, values: Sequence[float], v: Floats) -> Turn:
        """With what is drawn put where it belongs among the values."""
        told: list[float | None] = list(values)
        if is_across:
            place = 0
        else:
            kept = [k for k, x in enumerate(values) if abs(x / group.fitted - 1.0) > _NEAR]
            told, v = [values[k] for k in kept], v[kept]
            place = sum(values[k] < group.fitted for k in kept)
        told.insert(place, None)
        v = np.insert(v, place, self.base, axis=0)
        return Turn(group.parts, is_across, group.fitted, tuple(told), v, self.idle(v))

    def idle(self, v: Floats) -> tuple[Idle, ...]:
        """What the valves do at some node voltages, shape (states, positions, nodes)."""
        ready = [one.idling for one in self._prediction.valves.valves]
        if not ready:
            return ()
        grids = [v[..., self.nodes.index(one.valve.grid)].ravel() for one in ready]
        found = idle(ready, grids, self._circuit.high_tension)
        shape = v.shape[:-1]
        return tuple(Idle(*(x.reshape(shape) for x in
                            (one.i_cathode, one.i_plate, one.v_plate, one.p_plate)))
                     for one in found)  # fmt: skip

    # ------------------------------------------------------------------------- volts

    def _volts(self, grid: _Grid, whole: Floats) -> Floats:
        """Node voltages of all values of a part, shape (values, positions, nodes)."""
        near = self._model(grid.known, grid.is_behind)[:, grid.places]
        found = self._model([changed for _, _, changed in grid.every], grid.is_behind)
        for k in range(len(self.nodes)):
            w, m = whole[:, :, k], near[:, :, k]
            if np.min(np.abs(m)) > _FIRM:
                found[:, :, k] *= self._spread(grid, w / m)
            else:
                found[:, :, k] += self._spread(grid, w - m)
        return found

    def _spread(self, grid: _Grid, known: Floats) -> Floats:
        """What is known at knots and places, at all values and positions."""
        if grid.has_knee:  # a cubic would swing about a bend
            along = PchipInterpolator(grid.knots, known, axis=0)(grid.x)
        else:
            along = CubicSpline(grid.knots, known, axis=0)(grid.x)
        if len(grid.places) == self._at.size:
            return np.asarray(along)
        at = self._at[list(grid.places)]
        weights = np.array([np.prod([(self._at - b) / (a - b) for b in at if b != a], axis=0)
                            for a in at])  # fmt: skip
        return np.asarray(along @ weights)

    def _model(self, changed: Sequence[Mapping[str, float]], is_behind: bool) -> Floats:
        """The fast path, as far as it reaches: else the section as it is."""
        rows, size = len(changed), self._at.size
        found = np.repeat(self.base[None], rows, axis=0)
        if not is_behind:
            return found
        values: dict[str, Value] = dict(self._fast.values(self._fixed))
        values |= {f"{pot}.travel": np.tile(self._at, rows) for pot in self._pots}
        for name in changed[0]:
            values[name] = np.repeat([one[name] for one in changed], size)
        assert self._fast.network is not None, "a section with parts behind its rectifier"
        means = self._fast.network.means(values, self._curves, rows * size)
        for k in self._known:
            node = self._fast.section.joined[self.nodes[k]]
            found[:, :, k] = means.at(node).reshape(rows, size)
        return found

    @functools.cached_property
    def _curves(self) -> Mapping[str, PortCurve]:
        """The ports over the loads that are met here.

        What smoothing capacitors make of them is left to the whole simulations beside it.
        """
        return self._fast.trace(self._fast.values(self._fixed), _LOADS)
