"""The curve of a rectifier's port, traced point by point with the whole circuit in place.

The load is varied as far as wrong values and open resistors vary it. A lighter load is the
network behind the port with every impedance raised alike, which is a load that no source
need force and that settles as fast; a heavier one is the network with a resistor across it,
because a wrong value there does not make the smoothing capacitors any larger. Where a supply
pushes current into the port, as into a zener, the network is scaled both ways.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .engine.elements import GROUND, Element, Floats, Resistance
from .graph import Section
from .model import I_SATURATION, R_LEAST, Value, Values
from .netlist import Capacitor, Part, Pot, Resistor, Supply, Tremolo
from .network import Network
from .port import PortCurve

LOADS = (1e-4, 1e-3, 0.01, 0.1, 0.4, 1.0, 1.5, 2.5, 5.0, 10.0, 20.0, 50.0)
"""Where a curve is traced first: conductance of the load, as a share of the one drawn. [1]"""

Simulated = tuple[Mapping[str, float], bool]
"""Mean node voltages [V], and whether the steady state was found."""
Simulate = Callable[[Sequence[tuple[Values, Sequence[Element]]]], Sequence[Simulated]]
"""What comes out for each (values, extra elements)."""

_GOAL = 2e-4  # error of a voltage between the points, as a fraction
_WORTH = 0.02  # a smaller error is not chased [V]
_CLOSER = 6.0  # a cubic errs by about so much less than it does with a point left out
_POWERS = (2.0 / 3.0, 1.0)  # of the current, over which curves are nearly straight
_ROUNDS = 3
_SLIGHT = 1e-3  # share of the largest current that is light enough
_CLOSEST = 1.05  # neighbouring loads are not refined further
_DRIVEN = 0.02  # share of a port's current that supplies behind it have to make
_BLOCKED = 1e-4  # a current that is so small a share of what it is made of is none
_I_LEAST = 2.0 * I_SATURATION  # where the logarithm of a diode's law levels out [A]
_NOTHING = 1e-8  # nor is what leaks through a diode [A]
_LIGHT = 1e-2  # share of the largest current at which the drop of the diodes shows
_APART = 5.0  # between currents by which the logarithm of a diode's law is seen
_SAME = 1e-9  # share by which currents have to differ
_R_MOST = 1e12  # what is more insulates [ohm]
_C_LEAST = 1e-15  # less is no capacitor, and is not simulated [F]

_RESISTANCES: dict[type[Part], tuple[str, ...]] = {
    Resistor: ("",),
    Pot: ("", ".end"),
    Supply: (".source",),
    Tremolo: (".source",),
    Capacitor: (".leak", ".esr"),
}
"""The parameters of each kind of part that are resistances, by their suffix."""


@dataclass(frozen=True, slots=True, order=True)
class _Load:
    """A load to simulate: the network scaled, or resistors across its ports."""

    share: float
    shunted: bool = False


_DRAWN = _Load(1.0)


@dataclass(frozen=True, slots=True)
class _Point:
    """What a port did at a load; `i` is 0 where no more flows than leaks."""

    load: _Load
    i: float
    v: float
    leak: float = 0.0


def trace(
    section: Section,
    network: Network,
    simulate: Simulate,
    values: Values,
    shares: Sequence[float] = LOADS,
    *,
    refine: bool = True,
) -> dict[str, PortCurve]:
    """Trace the curve of each port around a state.

    Parameters
    ----------
    section : Section
        A section that can be cut.
    network : Network
        What is behind its ports.
    simulate : callable
        Gives the mean voltages of states.
    values : mapping of str to float
        The state.
    shares : sequence of float
        Conductances of the load, as shares of the one in this state; 1 is added. [1]
    refine : bool
        Whether to add points where the curve bends too much between those.

    Returns
    -------
    dict of port to PortCurve
    """
    return traces(section, network, simulate, [values], shares, refine=refine)[0]


def traces(
    section: Section,
    network: Network,
    simulate: Simulate,
    states: Sequence[Values],
    shares: Sequence[float] = LOADS,
    *,
    refine: bool = True,
) -> list[dict[str, PortCurve]]:
    """Trace the curves around several states, which simulators can share.

    Parameters
    ----------
    section, network, simulate, shares, refine
        As for `trace`.
    states : sequence of mapping of str to float
        The states.

    Returns
    -------
    list of dict of port to PortCurve
        In the order of the states.
    """
    if not network.ports:
        return [{} for _ in states]
    tracers = [_Tracer(section, network, values) for values in states]
    _run(simulate, [(one, [_DRAWN]) for one in tracers])
    _run(simulate, [(one, one.loads(shares)) for one in tracers])
    _run(simulate, [(one, one.pushed(shares)) for one in tracers])
    for _ in range(_ROUNDS if refine else 0):
        _run(simulate, [(one, one.between()) for one in tracers])
    return [{port: _curve(points) for port, points in one.points.items()} for one in tracers]


def _run(simulate: Simulate, wanted: Sequence[tuple[_Tracer, Sequence[_Load]]]) -> None:
    """Simulate the loads that tracers want, and tell them what came out."""
    states = [(one, load, *one.state(load)) for one, loads in wanted for load in loads]
    if not states:
        return
    answers = simulate([(values, list(extra.values())) for _, _, values, extra in states])
    for (one, load, values, extra), (mean, settled) in zip(states, answers, strict=True):
        if settled or load == _DRAWN:  # a point that is still moving would bend the curve
            one.note(load, values, mean, extra)


def _curve(points: Sequence[_Point]) -> PortCurve:
    """The curve through the points of a port."""
    if not any(p.i for p in points):  # it never conducts: what leaks as drawn is all there is
        return PortCurve(np.array([points[0].leak]), np.array([points[0].v]))
    return curve_through([(p.i, p.v) for p in points])


class _Tracer:
    """The points traced so far around one state."""

    def __init__(self, section: Section, network: Network, values: Values) -> None:
        self._section, self._network, self._values = section, network, values
        self._shunt: dict[str, float] = {}
        self._is_driven = False
        self.points: dict[str, list[_Point]] = {port: [] for port in network.ports}

    def _begin(self, mean: Mapping[str, float]) -> None:
        """Conclude from the state itself how its ports are loaded."""
        drawn = self._network.drawn(self._values, mean)
        # What supplies behind a port make is what its current is without its own voltage.
        self._is_driven = any(abs(i - b * mean[port]) > _DRIVEN * abs(b * mean[port])
                              for port, (i, b) in drawn.items())  # fmt: skip
        for port, (i, b) in drawn.items():
            by_network = self._is_driven or not mean[port]
            self._shunt[port] = b if by_network else abs(i / mean[port])

    def loads(self, shares: Sequence[float]) -> list[_Load]:
        """The loads to begin with; heavier ones by resistors across the ports."""
        return [_Load(share, share > 1.0 and not self._is_driven)
                for share in shares if share != 1.0]  # fmt: skip

    def pushed(self, shares: Sequence[float]) -> list[_Load]:
        """The heavier ones once more, where the network was scaled for them."""
        return [_Load(share, True) for share in shares if self._is_driven and share > 1.0]

    def state(self, load: _Load) -> tuple[Values, dict[str, Resistance]]:
        """What to simulate for a load."""
        if load == _DRAWN:
            return self._values, {}
        if not load.shunted:
            return scaled(self._section, self._values, load.share), {}
        g = {port: (load.share - 1.0) * shunt for port, shunt in self._shunt.items()}
        return self._values, {
            port: Resistance(f"probe {port}", port, GROUND, max(1.0 / g[port], R_LEAST))
            for port in g if g[port] * _R_MOST > 1.0
        }  # fmt: skip

    def note(self, load: _Load, values: Values, mean: Mapping[str, float],
             extra: Mapping[str, Resistance]) -> None:  # fmt: skip
        """Note what the ports do at a load; the first one noted is that of the state itself."""
        if not self._shunt:
            self._begin(mean)
        for port, (i, b) in self._network.drawn(values, mean).items():
            v = mean[port]
            total = i + (v / extra[port].r if port in extra else 0.0)
            flows = abs(total) > max(_NOTHING, _BLOCKED * abs(b * v))
            self.points[port].append(_Point(load, total if flows else 0.0, v, total))

    def between(self) -> list[_Load]:
        """The loads that are missing between those traced."""
        return sorted({load for points in self.points.values() for load in _missing(points)})


def _missing(points: Sequence[_Point]) -> Iterator[_Load]:
    """Loads between the points where leaving one out moves the curve too far."""
    yield from _onset(points)
    ordered = sorted((p for p in points if p.i), key=lambda p: p.i)
    if len(ordered) < 4:
        return
    i, v = np.array([(p.i, p.v) for p in ordered]).T
    curve = curve_through(list(zip(i, v, strict=True)))
    # A voltage that is off draws another current, which brings it back part of the way.
    share = 1.0 / (1.0 + np.abs(curve.at(i)[1] * i / np.where(v == 0, 1.0, v)))
    off = _left_out(i, v, curve.power) * share / _CLOSER
    for k in range(1, len(ordered) - 1):
        if off[k] > max(_WORTH, _GOAL * abs(v[k])):
            for there in (ordered[k - 1], ordered[k + 1]):
                yield from _halfway(ordered[k].load, there.load)


def _onset(points: Sequence[_Point]) -> Iterator[_Load]:
    """Loads between the last that drew no current and the first that did."""
    flowing = sorted((p for p in points if p.i), key=lambda p: abs(p.i))
    if not flowing:
        return
    resting = [p for p in points if not p.i and p.load.share < flowing[0].load.share]
    if resting and flowing[0].load.shunted and abs(flowing[0].i) > _SLIGHT * abs(flowing[-1].i):
        last = max(resting, key=lambda p: p.load.share if p.load.shunted else 1.0)
        yield from _halfway(last.load if last.load.shunted else _Load(1.0), flowing[0].load)


def _left_out(i: Floats, v: Floats, power: float) -> Floats:
    """How far the curve moves at each point when that one is left out; 0 at the ends. [V]"""
    off = np.zeros_like(v)
    for k in range(1, i.size - 1):
        others = PortCurve(np.delete(i, k), np.delete(v, k), power)
        off[k] = abs(others.at(i[k : k + 1])[0][0] - v[k])
    return off


def _halfway(one: _Load, other: _Load) -> Iterator[_Load]:
    shunted = one.shunted or other.shunted
    alike = one.shunted == other.shunted or 1.0 in {one.share, other.share}
    if alike and max(one.share, other.share) > _CLOSEST * min(one.share, other.share):
        yield _Load(math.sqrt(one.share * other.share), shunted)


def scaled(section: Section, values: Values, share: float) -> dict[str, Value]:
    """A state with the conductance of everything behind the ports at a share of what it was.

    Capacitors behind the ports follow, so that all time constants there stay; those at a port
    belong to the rectifier. The voltages of supplies stay as they are.
    """
    cut = section.cut
    state = dict(values)
    if cut is None:
        return state
    at_port = set(cut.ports) | cut.front_nodes | {GROUND}
    for part in section.circuit.parts:
        if part.name in cut.front:
            continue
        for suffix in _RESISTANCES.get(type(part), ()):
            name = part.name + suffix
            if name in state:
                state[name] = np.minimum(state[name] / share, _R_MOST)
        if isinstance(part, Capacitor):
            ends = {section.joined[node] for _, node in part.terminals}
            if not ends <= at_port:
                state[part.name] = np.maximum(state[part.name] * share, _C_LEAST)
    return state


def curve_through(points: Sequence[tuple[float, float]]) -> PortCurve:
    """The curve through traced points, and on to where no current flows.

    Parameters
    ----------
    points : sequence of (float, float)
        Mean current out of the port, and mean voltage, in any order. [A], [V]
    """
    flowing = _distinct(sorted((p for p in points if p[0]), key=lambda point: abs(point[0])))
    if not flowing:
        return PortCurve(np.zeros(1), np.array([points[0][1]]))
    i, v = np.array(flowing).T
    power = min(_POWERS, key=lambda power: float(np.max(_left_out(i, v, power))))
    if i.min() > 0.0 or i.max() < 0.0:
        i, v = np.concatenate(([0.0], i)), np.concatenate(([_open_circuit(np.abs(i), v, power)], v))
    return PortCurve(i, v, power)


def _distinct(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Points without those at the current of the one before.

    A port that gives a current whatever the load is, or that was loaded with the least
    resistance more than once, has several of them.
    """
    kept: list[tuple[float, float]] = []
    for point in points:
        if not kept or abs(point[0] - kept[-1][0]) > _SAME * abs(point[0]):
            kept.append(point)
    return kept


def _open_circuit(i: Floats, v: Floats, power: float) -> float:
    """Voltage without current, from points with |i| rising. [V]

    Towards no current the voltage rises with the logarithm of the current, as the drop of the
    diodes falls, until the current is no more than what saturates them; or, where a coupling
    capacitor sets the curve, by a share that shrinks from decade to decade. Where no point is
    as light as that, in a straight line over the axis of the curve.
    """
    if i.size < 2:
        return float(v[0])
    later = np.searchsorted(i, [i[0], _APART * i[0], _APART**2 * i[0]])
    # One point may be the next for both, where the currents lie far apart.
    decades_on = [k for k in dict.fromkeys(later.tolist()) if k < i.size]
    if len(decades_on) < 3 or i[0] > _LIGHT * i[-1]:
        x = i[:2] ** power
        return float(v[0] + (v[0] - v[1]) * x[0] / (x[1] - x[0]))
    near, far = -np.diff(v[decades_on]) / np.diff(np.log10(i[decades_on]))
    shrinks = np.clip(near / far if far else 1.0, 0.0, 0.99)
    decades = max(0.0, math.log10(i[0] / _I_LEAST))
    return float(v[0] + near * min(decades, shrinks / (1.0 - shrinks)))
