"""States of a section, predicted: by ngspice as a whole, or fast by curve and network.

`Predictor.whole` is the truth; `Predictor.means` is the fast path where the section can be
cut, and falls back on `whole` where it cannot.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from .engine.elements import Element, Floats, SteadyState, terminals
from .engine.neighbours import Neighbours
from .engine.preflight import check, shown
from .engine.service import Service
from .errors import EngineError
from .graph import Section
from .model import Value, Values, elements, nominal_values
from .netlist import GROUND, Pot
from .network import Means, Network
from .port import PortCurve
from .ripple import RippleLoads, Rippling
from .tracing import LOADS, Simulated, traces

NEAR = (0.3, 0.6, 1.0, 1.7, 3.0)
"""Loads around the one drawn, as shares of it: what pots and tolerances make of it. [1]"""


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
        self._neighbours = Neighbours()
        self._curves: dict[str, PortCurve] | None = None
        self._is_wide = False

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
        answers = self._answers(states, patient=True, every=True)
        for answer in answers:
            if isinstance(answer, EngineError):
                raise answer
        return cast("list[Operating]", answers)

    def tries(
        self, states: Sequence[tuple[Values, Sequence[Element]]], *, patient: bool = True
    ) -> list[Operating | EngineError]:
        """Several states by ngspice, some of which may be too odd to be simulated.

        Parameters
        ----------
        states : sequence of (values, extra elements)
            Each as for `whole`.
        patient : bool
            Whether to wait for a state that is hard to find; else it is given as far as it was
            found.

        Returns
        -------
        list of Operating or EngineError
            In the order of the states.

        Raises
        ------
        EngineError
            If a state is refused before it is simulated.
        """
        return self._answers(states, patient=patient, every=False)

    def _answers(self, states: Sequence[tuple[Values, Sequence[Element]]], *, patient: bool,
                 every: bool) -> list[Operating | EngineError]:  # fmt: skip
        """The same; if every answer is needed, none is sought after one that failed."""
        self._refuse_floating()
        circuits = [[*elements(self.section.circuit, v), *extra] for v, extra in states]
        found = self._neighbours.attempts(
            circuits, self.frequency, service=self.service, patient=patient, every=every
        )
        return [self._operating(s) if isinstance(s, SteadyState) else s for s in found]

    def _refuse_floating(self) -> None:
        """Refuse a section whose nodes have no voltage, be it for the fast path.

        Raises
        ------
        EngineError
            Naming the node, or what else makes it impossible to simulate.
        """
        if self._refused:
            raise EngineError(self._refused)

    @functools.cached_property
    def _refused(self) -> str:
        """Why the section as drawn cannot be simulated; empty if it can."""
        drawn = elements(self.section.circuit, self.values())
        held = {GROUND}.union(*map(terminals, drawn))
        for node, stands in self.section.joined.items():
            if stands not in held:  # such as one with grids on it and nothing else
                return f"node {shown(node)} floats: no part leads from it anywhere"
        try:
            check(drawn, self.frequency)
        except EngineError as error:
            return str(error)
        return ""

    def _operating(self, state: SteadyState) -> Operating:
        waves = state.waves
        mean, ripple = {GROUND: 0.0}, {GROUND: 0.0}
        for node, stands in self.section.joined.items():
            wave = waves.v[stands]
            mean[node] = waves.mean(wave)
            ripple[node] = float(np.ptp(wave))
        return Operating(state, mean, ripple)

    @functools.cached_property
    def network(self) -> Network | None:
        """The linear part, None if the section cannot be cut."""
        cut = self.section.cut
        return None if cut is None else Network(self.section, cut)

    @property
    def curves(self) -> dict[str, PortCurve]:
        """The curve of each port, traced by ngspice with pots at the middle.

        At first around the load that is drawn, which is what bands ask for; over all loads
        that faults may make as soon as `means` is asked for one of them.
        """
        if self._curves is None:
            self._curves = self.trace(self.values(), NEAR)
        return self._curves

    def widen(self, curves: dict[str, PortCurve]) -> None:
        """Take the curve of each port over all loads that faults may make.

        Parameters
        ----------
        curves : dict of port to PortCurve
            From `trace`, as drawn with pots at the middle.
        """
        self._curves, self._is_wide = curves, True

    def trace(
        self, values: Values, shares: Sequence[float] = LOADS, *, refine: bool = True
    ) -> dict[str, PortCurve]:
        """Trace the curve of each port around a state.

        Parameters
        ----------
        values : mapping of str to float
            The state.
        shares : sequence of float
            Conductances of the load, as shares of the one in this state. [1]
        refine : bool
            Whether to add points where the curve bends too much between those.
        """
        return self.traces([values], shares, refine=refine)[0]

    def traces(
        self, states: Sequence[Values], shares: Sequence[float] = LOADS, *, refine: bool = True
    ) -> list[dict[str, PortCurve]]:
        """Trace the curve of each port around several states; see `trace`.

        All at once is quicker than one after the other: simulators share them.
        """
        if self.section.cut is None or self.network is None:
            return [{} for _ in states]
        return traces(self.section, self.network, self._simulated, states, shares, refine=refine)

    def _simulated(self, states: Sequence[tuple[Values, Sequence[Element]]]) -> list[Simulated]:
        return [(answer.mean, answer.state.converged) for answer in self.wholes(states)]

    def means(self, values: Values, rows: int = 1) -> Means:
        """Mean voltages of a batch of states, by the fast path where there is one.

        Only parameters behind the rectifiers may differ from `self.values()`: in front of
        them the curve was traced as drawn.
        """
        self._refuse_floating()
        if self.network is None:
            return self._means_whole(values, rows)
        means = self.network.means(values, self.curves, rows)
        far = [p for p, i in means.i_port.items() if not _within(self.curves[p], i)]
        if far and not self._is_wide:
            self.widen(self.trace(self.values()))
            means = self.network.means(values, self.curves, rows)
        loads = self._ripple_loads
        return means if loads is None else loads.corrected(values, means, self.curves)

    @functools.cached_property
    def _ripple_loads(self) -> RippleLoads | None:
        """What smoothing capacitors make of the ports; None where there is no ripple."""
        network, frequency = self.network, self.frequency
        if network is None or not network.smooths or not network.ports or frequency is None:
            return None
        drawn = self.values()
        state = self.whole(drawn)
        currents = network.drawn(drawn, state.mean)
        ports = {
            port: Rippling(state.ripple[port], i, state.mean[port])
            for port, (i, _) in currents.items()
        }
        few = functools.partial(self.trace, refine=False)
        return RippleLoads(network, frequency, drawn, ports, few)

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


def _within(curve: PortCurve, i: Floats) -> bool:
    """Whether currents lie where a curve was traced, and not merely continued."""
    traced = np.abs(curve.i[curve.i != 0.0])
    if not traced.size:
        return True
    return bool(np.all((np.abs(i) >= 0.9 * traced.min()) & (np.abs(i) <= 1.1 * traced.max())))
