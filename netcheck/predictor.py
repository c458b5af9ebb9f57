"""States of a section, predicted: by ngspice as a whole, or fast by curve and network.

`Predictor.whole` is the truth; `Predictor.means` is the fast path where the section can be
cut, and falls back on `whole` where it cannot.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .engine.elements import CurrentSource, Element, Resistance, SteadyState
from .engine.service import Service
from .engine.steady import Problem, steady_states
from .graph import Section
from .model import Value, Values, elements, nominal_values
from .netlist import GROUND, Pot
from .network import Means, Network
from .port import PortCurve

LIGHT = (0.03, 0.2, 0.5, 0.8)
"""Shares of the mid-travel current at which the port is traced with part of its load taken
away by a current source. [1]"""
HEAVY = (1.0, 1.3, 1.8, 3.0, 6.0, 15.0)
"""Shares of the mid-travel conductance at which the port is traced with a resistor across
it: a resistor, since a current source would force volts that no fault could. [1]"""


@dataclass(frozen=True, slots=True)
class Operating:
    """A section in one state, as simulated.

    Parameters
    ----------
    state : SteadyState
        One period.
    mean : mapping of node to float
        Mean voltage against ground. [V]
    ripple : mapping of node to float
        Peak to peak. [V]
    """

    state: SteadyState
    mean: Mapping[str, float]
    ripple: Mapping[str, float]


class Predictor:
    """Predicts the states of one section.

    Parameters
    ----------
    section : Section
        The section.
    service : Service
        The running simulator.
    changes : mapping of str to float
        Parameters (see `model`) that differ from what is drawn.
    """

    def __init__(self, section: Section, service: Service,
                 changes: Mapping[str, float] | None = None) -> None:  # fmt: skip
        self.section = section
        self.service = service
        self.changes = dict(changes or {})
        self._start: Mapping[str, float] | None = None

    @property
    def frequency(self) -> float | None:
        """The mains frequency; None without mains. [Hz]"""
        mains = self.section.circuit.mains
        return None if mains is None else mains.frequency

    def values(self, travel: float | Mapping[str, float] = 0.5) -> dict[str, Value]:
        """A value for each parameter: as drawn, changes applied, pots at `travel`.

        Parameters
        ----------
        travel : float or mapping of pot name to float
            Rotation, 0 to 1 clockwise; pots that a mapping leaves out are at the middle. [1]
        """
        everywhere = travel if isinstance(travel, int | float) else 0.5
        values = nominal_values(self.section.circuit, everywhere)
        if isinstance(travel, Mapping):
            values.update({f"{name}.travel": at for name, at in travel.items()})
        values.update(self.changes)
        return values

    def whole(self, values: Values, extra: Sequence[Element] = ()) -> Operating:
        """One state by ngspice, the whole circuit at once.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        return self.wholes([(values, extra)])[0]

    def wholes(self, states: Sequence[tuple[Values, Sequence[Element]]]) -> list[Operating]:
        """Several states by ngspice.

        Parameters
        ----------
        states : sequence of (values, extra elements)
            Each as for `whole`.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        f = self.frequency
        circuits = [[*elements(self.section.circuit, v), *extra] for v, extra in states]
        found: list[SteadyState] = []
        if self._start is None and circuits:  # the first one shortens the search for the rest
            found = steady_states([Problem(circuits[0], f)], service=self.service)
            self._start = found[0].start
        start = self._start or {}
        rest = [Problem(circuit, f, start) for circuit in circuits[len(found) :]]
        if rest:
            found += steady_states(rest, service=self.service)
        return [self._operating(state) for state in found]

    def _operating(self, state: SteadyState) -> Operating:
        waves = state.waves
        mean, ripple = {GROUND: 0.0}, {GROUND: 0.0}
        for node, stands in self.section.joined.items():
            if stands in waves.v:
                wave = waves.v[stands]
                mean[node] = waves.mean(wave)
                ripple[node] = float(np.ptp(wave))
            else:
                mean[node] = ripple[node] = 0.0
        return Operating(state, mean, ripple)

    @functools.cached_property
    def network(self) -> Network | None:
        """The linear part, None if the section cannot be cut."""
        cut = self.section.cut
        return None if cut is None else Network(self.section, cut)

    @functools.cached_property
    def curves(self) -> dict[str, PortCurve]:
        """The curve of each port, traced by ngspice with pots at the middle."""
        return self.trace(self.values())

    def trace(
        self, values: Values, light: Sequence[float] = LIGHT, heavy: Sequence[float] = HEAVY
    ) -> dict[str, PortCurve]:
        """Trace the curve of each port around a state.

        Parameters
        ----------
        values : mapping of str to float
            The state.
        light, heavy : sequence of float
            Where to trace: see `LIGHT` and `HEAVY`. [1]
        """
        cut = self.section.cut
        if cut is None or self.network is None or not cut.ports:
            return {}
        loads = self.network.driving_points(values)
        base = self.whole(values)
        i_base = {p: loads[p][0] + loads[p][1] * base.mean[p] for p in cut.ports}
        plans: list[tuple[dict[str, float], list[Element]]] = []
        for share in light:
            taken = {p: (share - 1.0) * i_base[p] for p in cut.ports}
            plans.append((taken, [CurrentSource(f"probe {p}", p, GROUND, taken[p])
                                  for p in cut.ports]))  # fmt: skip
        for share in heavy:
            if share > 1.0:
                plans.append(({}, self._shunts(share, i_base, base)))
        answers = self.wholes([(values, extra) for _, extra in plans])
        points = {p: [(i_base[p], base.mean[p])] for p in cut.ports}
        for (taken, extra), answer in zip(plans, answers, strict=True):
            for p in cut.ports:
                v = answer.mean[p]
                i = loads[p][0] + loads[p][1] * v + taken.get(p, 0.0)
                i += sum(v / e.r for e in extra if isinstance(e, Resistance) and e.a == p)
                points[p].append((i, v))
        return {p: _curve(found) for p, found in points.items()}

    def _shunts(self, share: float, i_base: Mapping[str, float], base: Operating) -> list[Element]:
        """Across each port the resistance that raises its load to `share`."""
        shunts: list[Element] = []
        for port, i in i_base.items():
            g = abs(i / base.mean[port]) if base.mean[port] else 0.0
            if g > 0:
                shunts.append(Resistance(f"probe {port}", port, GROUND, 1.0 / (g * (share - 1.0))))
        return shunts

    def means(self, values: Values, rows: int = 1) -> Means:
        """Mean voltages of a batch of states, by the fast path where there is one.

        Only parameters behind the rectifiers may differ from `self.values()`: in front of
        them the curve was traced as drawn.
        """
        if self.network is not None:
            return self.network.means(values, self.curves, rows)
        return self._means_whole(values, rows)

    def _means_whole(self, values: Values, rows: int) -> Means:
        rows = max([rows, *(np.size(value) for value in values.values())])
        states = [
            ({n: float(np.broadcast_to(v, rows)[k]) for n, v in values.items()}, ())
            for k in range(rows)
        ]
        nodes = tuple(n for n in dict.fromkeys(self.section.joined.values()) if n != GROUND)
        answers = self.wholes(states)
        v = np.array([[answer.mean.get(node, 0.0) for node in nodes] for answer in answers])
        return Means(nodes, v, {})

    def pots(self) -> list[Pot]:
        """The pots of the section, in the order of the file."""
        return list(self.section.circuit.of(Pot))


def _curve(points: list[tuple[float, float]]) -> PortCurve:
    """The curve through traced points, and on to where no current flows."""
    points = sorted(points, key=lambda point: abs(point[0]))
    (i0, v0), (i1, v1) = points[0], points[1]
    x0, x1 = (abs(i) ** (2.0 / 3.0) for i in (i0, i1))
    if x1 > x0 and i0 * i1 > 0:
        points.insert(0, (0.0, v0 + (v0 - v1) * x0 / (x1 - x0)))
    i, v = np.array(points).T
    return PortCurve(i, v)
