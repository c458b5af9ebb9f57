"""The rectifier under faults: its port's curve, and what is read in front of it.

Everything in front of the port is simulated by ngspice, with the whole section in place, at a
few loads for a few values of each of its parameters. A load is told by its conductance: at the
same load, what a parameter does to a voltage is nearly a proportion of it, which changes little
from load to load, and the proportions of several parameters multiply. Between the values that
were simulated the proportions are interpolated.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from ..engine.elements import GROUND, Element, Floats, Resistance
from ..engine.preflight import shown
from ..errors import EngineError
from ..graph import Cut
from ..model import R_LEAST, Values
from ..monotone import MonotoneCubic
from ..netlist import Winding
from ..predictor import Operating, Predictor
from ..tracing import LOADS, scaled, trace
from .family import EVERY, FEW, Axis, FrontState
from .knots import R_METER, Knot, Knots

_DENSE = 3000  # points of the table of the curve as drawn [count]
_WIDE = (1e-5, 1e7)  # loads that the table spans, as shares of the one drawn
_NO_VOLTS = 0.02  # where the drawn state gives less, effects add instead of multiplying [V]

_HEAVY = (600.0, 6e3, 6e4, 6e5)  # loads near a short, where only the drawn state is known
_G_LEAST = 1e-12  # a lighter load is none [S]
_NEGLIGIBLE = 1e-6  # less is no voltage to speak of [V]
_AT_ONCE = 20  # states that are simulated between two reports of progress [count]

Progress = Callable[[str, int, int], None]
"""Told of what is simulated how many states are done, and of how many."""


class Front:
    """The family of curves of the one port of a section.

    Parameters
    ----------
    predictor : Predictor
        Of the section, with `port` its only port.
    port : str
        The port.
    progress : Progress, optional
        Told now and then how far the simulation is.

    Attributes
    ----------
    axes : mapping of coordinate name to parameter name
        The coordinates in front, and which parameter of `model` each is (more than one
        coordinate may act on one axis: the winding's volts and the mains).
    outputs : tuple of (str, str, str)
        ("port", "", ""), then ("dc", node, "") and ("ac", node, "") of the nodes in front,
        ("ac", node, node) across windings, ("ripple", "", "") and ("ripple pp", "", "") of
        the port.
    harmonic : int
        Of the mains' frequency: that of the port's ripple. [count]
    r_seen : mapping of (str, str) to float
        What a meter sees at ("dc", node) and ("ac", node). [ohm]
    adds : array of bool, shape (outputs,)
        Where effects add instead of multiplying.
    """

    def __init__(self, predictor: Predictor, port: str,
                 progress: Progress | None = None) -> None:  # fmt: skip
        self._predictor, self._port = predictor, port
        self._progress = progress
        self._section = predictor.section
        assert predictor.network is not None
        assert self._section.cut is not None
        self._network = predictor.network
        self._cut: Cut = self._section.cut
        self.front_nodes = tuple(sorted(self._cut.front_nodes))
        across = [(("ac", a, b)) for a, b in self._windings()]
        self.outputs = (
            ("port", "", ""),
            *((kind, node, "") for node in self.front_nodes for kind in ("dc", "ac")),
            *across,
            ("ripple", "", ""),
            ("ripple pp", "", ""),
        )
        self.index = {output: k for k, output in enumerate(self.outputs)}
        self.harmonic = 1
        self._seen: list[tuple[float, Floats, float]] = []
        self._table()
        self.r_seen = self._seen_by_meters()
        self.axes: dict[str, Axis] = {}
        self._make_axes()

    # --- the drawn state over all loads

    def _windings(self) -> list[tuple[str, str]]:
        """Pairs of nodes across which a winding's volts can be read."""
        at, pairs = self._section.joined, []
        for winding in self._section.circuit.of(Winding):
            stops = [at[node] for _, node in winding.terminals]
            pairs += [(a, b) for a, b in itertools.combinations(stops, 2) if a != b]
        return list(dict.fromkeys(pairs))

    def _outputs_of(self, operating: Operating) -> Floats:
        """Outputs in one state, in the order of `outputs`. [V]"""
        waves = operating.state.waves
        waves_of = {node: waves.v.get(node, np.zeros_like(waves.t)) for node in waves.v}

        def alternating(a: str, b: str = GROUND) -> float:
            none = np.zeros_like(waves.t)
            wave = waves_of.get(a, none) - waves_of.get(b, none)
            return waves.rms(wave - waves.mean(wave))

        found = []
        for kind, a, b in self.outputs:
            if kind == "port":
                found.append(operating.mean[self._port])
            elif kind == "dc":
                found.append(operating.mean[a])
            elif kind == "ac":
                found.append(alternating(a, b or GROUND))
            elif kind == "ripple":
                found.append(alternating(self._port))
            else:
                found.append(operating.ripple[self._port])
        return np.array(found)

    def _find_harmonic(self, operating: Operating) -> None:
        waves = operating.state.waves
        wave, period = waves.v[self._port], waves.t[-1] - waves.t[0]
        turn = 2j * np.pi * (waves.t - waves.t[0]) / period
        size = []
        for k in (1, 2):
            both = (wave - waves.mean(wave)) * np.exp(-k * turn)
            size.append(abs(np.sum((both[1:] + both[:-1]) * np.diff(waves.t))))
        self.harmonic = 1 if size[0] >= size[1] else 2

    def _record(self, states: Sequence[tuple[Values, Sequence[Element]]]
                ) -> list[tuple[Mapping[str, float], bool]]:  # fmt: skip
        """Simulate for the tracer, and keep what it is not interested in."""
        answers = self._predictor.wholes(states)
        if not self._seen:
            self._find_harmonic(answers[0])
        for (values, extra), answer in zip(states, answers, strict=True):
            if answer.state.converged:
                i = self._current(values, answer.mean, extra)
                self._seen.append((i, self._outputs_of(answer), answer.mean[self._port]))
        return [(answer.mean, answer.state.converged) for answer in answers]

    def _current(self, values: Values, mean: Mapping[str, float],
                 extra: Sequence[Element]) -> float:  # fmt: skip
        i, _ = self._network.drawn(values, mean)[self._port]
        for element in extra:
            if isinstance(element, Resistance) and element.name == f"probe {self._port}":
                i += mean[self._port] / element.r
        return i

    def _table(self) -> None:
        """The drawn state over all loads, as a table over the logarithm of the load."""
        values = self._predictor.values()
        curves = trace(self._section, self._network, self._record, values, LOADS)
        self._predictor.widen(curves)
        curve = curves[self._port]
        seen, self._seen = self._seen, []
        i0, outputs0, v0 = seen[0]
        self.g_drawn = max(abs(i0 / v0), _G_LEAST) if v0 else 1e-6
        low, high = (math.log(share * self.g_drawn) for share in _WIDE)
        self.log_g = np.linspace(low, high, _DENSE)
        v = curve.meet(np.zeros_like(self.log_g), np.exp(self.log_g))[0]
        more = [self._loaded(values, (), share) for share in (*FEW, *_HEAVY)]
        self._record([(state, extra) for state, extra in more])
        seen += self._seen
        loads = np.array([math.log(max(abs(i / v), _G_LEAST)) if v else -27.0 for i, _, v in seen])
        rows = np.array([row for _, row, _ in seen])
        order = np.argsort(loads)
        loads, rows = loads[order], rows[order]
        kept = np.concatenate(([True], np.diff(loads) > 1e-6))
        if kept.sum() < 2:
            raise EngineError(f"the supply at node {shown(self._port)} is the same whatever "
                              "hangs on it: its faults cannot be told apart")  # fmt: skip
        inside = np.clip(self.log_g, loads[kept][0], loads[kept][-1])
        spread = MonotoneCubic(loads[kept], rows[kept]).at(inside)[0].T
        heavy = self.log_g > math.log(max(LOADS) * self.g_drawn)
        v[heavy] = _near_short(self.log_g[heavy], loads[kept], rows[kept, 0])
        self._base = np.array([v, *spread[1:]])
        self._slope = np.gradient(self._base, self.log_g, axis=1)
        self.adds = np.abs(outputs0) < _NO_VOLTS

    def _seen_by_meters(self) -> dict[tuple[str, str], float]:
        """Resistance that a meter sees at the nodes in front, as drawn: ("dc", node). [ohm]"""
        values = self._predictor.values()
        bare, *loaded = self._predictor.wholes([
            (values, ()), *((values, (Resistance("meter", node, GROUND, R_METER),))
                            for node in self.front_nodes)])  # fmt: skip
        drawn, found = self._outputs_of(bare), {}
        for node, answer in zip(self.front_nodes, loaded, strict=True):
            for kind in ("dc", "ac"):
                k = self.index[kind, node, ""]
                now = self._outputs_of(answer)[k]
                if abs(drawn[k]) > _NO_VOLTS and 0.0 < now / drawn[k] < 1.0:
                    found[kind, node] = R_METER * (drawn[k] / now - 1.0)
        return found

    # --- what the parameters do

    def _make_axes(self) -> None:
        knots, self.acts = Knots(self._predictor).find()
        self._simulate(knots)
        for name in self.axes:
            self.acts.setdefault(name, name)

    def _simulate(self, knots: Mapping[str, Sequence[Knot]]) -> None:  # fmt: skip
        """Simulate all knots of all axes at a few loads, in one go."""
        base = self._predictor.values()
        drawn = {name: float(value) for name, value in base.items()}
        asked = [(name, k, load) for name, axis in knots.items() for k, (_, changes, extra)
                 in enumerate(axis) for load in range(len(FEW))
                 if extra or any(drawn.get(n) != float(v) for n, v in changes.items())]  # fmt: skip
        states = [self._loaded(base | knots[name][k][1], knots[name][k][2], FEW[load])
                  for name, k, load in asked]  # fmt: skip
        answers = self._tried(states)
        effects = {name: np.full((len(self.outputs), len(FEW), len(axis)), np.nan)
                   for name, axis in knots.items()}  # fmt: skip
        for name, effect in effects.items():
            for k in range(len(knots[name])):
                if (name, k, 0) not in asked:
                    effect[:, :, k] = np.where(self.adds, 0.0, 1.0)[:, None]
        for (name, k, load), (values, extra), answer in zip(asked, states, answers, strict=True):
            if isinstance(answer, Operating):
                effects[name][:, load, k] = self._effect(values, extra, answer)
        for name, axis in knots.items():
            # What is too odd to be simulated is taken for what is next to it.
            known = [k for k in range(len(axis)) if np.all(np.isfinite(effects[name][:, :, k]))]
            known.sort(key=lambda k: axis[k][0])
            x = np.array([axis[k][0] for k in known])
            self.axes[name] = Axis(x, effects[name][:, :, known])

    def _tried(self, states: Sequence[tuple[Values, Sequence[Element]]]
               ) -> list[Operating | EngineError]:  # fmt: skip
        """Simulate states, and say how far it has come."""
        answers: list[Operating | EngineError] = []
        for begin in range(0, len(states), _AT_ONCE):
            if self._progress is not None:
                self._progress("simulating the rectifier under faults", begin, len(states))
            answers += self._predictor.tries(states[begin : begin + _AT_ONCE], patient=False)
        return answers

    def _loaded(self, values: Values, extra: Sequence[Element], share: float
                ) -> tuple[Values, Sequence[Element]]:  # fmt: skip
        """A state with another load: lighter by the network scaled, heavier by a resistor."""
        if share <= 1.0:
            return scaled(self._section, values, share), extra
        r = min(max(1.0 / ((share - 1.0) * self.g_drawn), R_LEAST), 1.0 / _G_LEAST)
        return values, [*extra, Resistance(f"probe {self._port}", self._port, GROUND, r)]

    def _effect(self, values: Values, extra: Sequence[Element], answer: Operating) -> Floats:
        """What a state is of the drawn one at the same load."""
        v = answer.mean[self._port]
        i = self._current(values, answer.mean, extra)
        g = abs(i / v) if abs(v) > 1e-6 else self.g_drawn
        drawn = self.base(np.array([math.log(max(g, _G_LEAST))]))[0][:, 0]
        now = self._outputs_of(answer)
        return np.where(self.adds, now - drawn, now / np.where(drawn == 0.0, 1.0, drawn))

    # --- asked

    @property
    def as_is(self) -> Floats:
        """What `exact` gives where the family is right, shape (outputs,)."""
        return np.where(self.adds, 0.0, 1.0)

    def base(self, log_g: Floats, outputs: slice = EVERY) -> tuple[Floats, Floats]:
        """Outputs as drawn and their derivative by the logarithm of the load, (outputs, n)."""
        at = np.clip((log_g - self.log_g[0]) / (self.log_g[1] - self.log_g[0]), 0.0, _DENSE - 1.001)
        k = at.astype(int)
        t = at - k
        drawn, by_load = self._base[outputs], self._slope[outputs]
        value = drawn[:, k] * (1.0 - t) + drawn[:, k + 1] * t
        slope = by_load[:, k] * (1.0 - t) + by_load[:, k + 1] * t
        return value, slope * ((log_g > self.log_g[0]) & (log_g < self.log_g[-1]))

    def exact(self, x: Mapping[str, float], log_g: float) -> Floats | None:
        """What a simulation of one condition is of what the family makes of it.

        Parameters
        ----------
        x : mapping of coordinate name to float
            The condition, every coordinate in front.
        log_g : float
            Logarithm of the load.

        Returns
        -------
        array, shape (outputs,), or None
            Factors (or, where effects add, what is to be added); None if it is too odd to be
            simulated.
        """
        changes, extra = Knots(self._predictor).state(x)
        share = math.exp(log_g) / self.g_drawn
        values, loads = self._loaded(self._predictor.values() | changes, extra, share)
        answer = self._predictor.tries([(values, loads)], patient=False)[0]
        if not isinstance(answer, Operating):
            return None
        v, now = answer.mean[self._port], self._outputs_of(answer)
        i = self._current(values, answer.mean, loads)
        g = np.array([abs(i / v) if abs(v) > 1e-6 else math.exp(log_g)])
        here = {name: np.array([value]) for name, value in x.items()}
        family = self.state(here, 1).at(np.log(np.maximum(g, _G_LEAST)))[0][:, 0]
        safe = np.where(np.abs(family) < _NEGLIGIBLE, _NEGLIGIBLE, family)
        return np.where(self.adds, now - family, np.maximum(now / safe, 0.0))

    def state(self, x: Mapping[str, Floats], rows: int,
              exact: Floats | None = None) -> FrontState:  # fmt: skip
        """The family at given coordinates.

        Parameters
        ----------
        x : mapping of coordinate name to array, shape (rows,)
            Every coordinate in front.
        rows : int
            Number of states. [count]
        exact : array, shape (rows, outputs), optional
            From `exact`, for conditions near those.
        """
        total: dict[str, Floats] = {}
        for name, axis in self.acts.items():
            if name in x:
                total[axis] = total.get(axis, 0.0) + x[name]
        effect = np.ones((len(self.outputs), len(FEW), rows))
        effect[self.adds] = 0.0
        slopes: dict[str, Floats] = {}
        for axis, at in total.items():
            value, slope = self.axes[axis].at(at)
            if np.any(self.adds):
                effect[self.adds] += value[self.adds]
            many = ~self.adds
            effect[many] *= value[many]
            slopes[axis] = np.where(
                self.adds[:, None, None], slope,
                slope / np.where(np.abs(value) < 1e-9, 1e-9, value))  # fmt: skip
        if exact is not None:
            adds = self.adds[:, None, None]
            effect = np.where(adds, effect + exact.T[:, None], effect * exact.T[:, None])
        return FrontState(self.base, self.adds, self.g_drawn, effect, slopes)


def _near_short(log_g: Floats, seen: Floats, v: Floats) -> Floats:
    """Port volts at loads near a short; beyond those seen the current is taken to stay. [V]"""
    curve = MonotoneCubic(seen, np.log(np.maximum(np.abs(v), 1e-12)))
    inside = np.clip(log_g, seen[0], seen[-1])
    volts: Floats = np.sign(v[-1]) * np.exp(curve.at(inside)[0] - (log_g - inside))
    return volts
