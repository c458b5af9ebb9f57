"""Readings of many chassis, with their derivatives by every coordinate."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..engine.elements import GROUND, Floats
from ..netlist import Capacitor, Pot, Supply, Valve
from ..readings import OVERLOAD, Function, Kind, Reading, function_of
from .alternating import Alternating
from .coordinates import Coordinates, coordinates, gain, position
from .front import FrontState
from .model import SectionModel, log_current
from .nodal import Solved, Wiring

R_ADDED = 10.0
"""Ohms are compared as ln(R + this): contacts and leads blur what is less. [ohm]"""
R_OVERLOAD = 20e6
"""What a meter shows as OL where its ranges are not stated. [ohm]"""
I_ADDED = 50e-6
"""Currents are compared as ln(I + this): near cut-off a valve's curve says little. [A]"""
ESR_ADDED = 0.2
"""Series resistances are compared as ln(ESR + this). [ohm]"""
_RIPPLE_ERROR = 0.08  # of the ripple by this path against a whole simulation
_FORM = 0.01  # an averaging meter on a mains that is not quite a sine
_V_ERROR = 0.01  # of mean volts by this path [V]
_UNSAFE = 3.0  # a resistance read with capacitors not known to be discharged may be off by more
_ITERATIONS = 12


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading as a number that predictions are compared with.

    Parameters
    ----------
    y : float
        The reading on its scale: volts as they are, what spans decades as a logarithm.
    sigma : float
        Its own standard deviation on that scale, what it shares with others left out.
    """

    y: float
    sigma: float


@dataclass(frozen=True)
class _Group:
    """Readings taken in one state of the chassis: where pots stand, by coordinate names."""

    positions: Mapping[str, str]
    valves_out: bool
    where: list[int] = field(default_factory=list)


class Readout:
    """Predicts the given readings on many chassis.

    Parameters
    ----------
    model : SectionModel
        The section.
    readings : sequence of Reading
        What was, or may be, read; nodes filled in.
    year : int
        The year in which it was read. [year]

    Attributes
    ----------
    readings : tuple of Reading
        Those that can be predicted.
    unused : tuple of Reading
        Those that say nothing of the section, such as plate volts.
    """

    def __init__(self, model: SectionModel, readings: Sequence[Reading], year: int) -> None:
        self.model = model
        self.unused = tuple(r for r in readings if not self._is_usable(r))
        self.readings = tuple(r for r in readings if self._is_usable(r))
        self.coordinates: Coordinates = coordinates(model.section, self.readings, year)
        self.measured = [self.measured_as(reading) for reading in self.readings]
        self._live: dict[tuple[object, ...], _Group] = {}
        self._off: dict[tuple[object, ...], _Group] = {}
        for k, reading in enumerate(self.readings):
            kind = reading.kind
            if kind in _LIVE_KINDS or kind is Kind.OHMS:
                groups = self._off if kind is Kind.OHMS else self._live
                where = {pot.name: position(pot.name, reading.state)
                         for pot in model.section.circuit.of(Pot)}  # fmt: skip
                out = reading.state.valves_out
                groups.setdefault((*where.items(), out), _Group(where, out)).where.append(k)
        self._alternating = self._make_alternating()
        self._tables = {name: model.current_table(ready) for name, ready in model.valves.items()}

    # --- what can be read

    def _at(self, node: str) -> str:
        return self.model.section.joined.get(node, node)

    def _is_usable(self, reading: Reading) -> bool:
        kind, model = reading.kind, self.model
        if kind in {Kind.PLATE, Kind.SCREEN}:
            return False
        if kind in {Kind.CURRENT, Kind.CATHODE}:
            return reading.part in model.valves
        if kind in {Kind.AC, Kind.RIPPLE}:
            return self._is_alternating_usable(reading)
        if kind is Kind.DC:
            known = {*model.live_wiring.nodes, *model.front_nodes, GROUND}
            return {self._at(reading.plus), self._at(reading.minus)} <= known
        return kind is not Kind.MAINS or model.section.circuit.mains is not None

    def _is_alternating_usable(self, reading: Reading) -> bool:
        front = self.model.front
        if front is None:
            return False
        plus, minus = self._at(reading.plus), self._at(reading.minus)
        if minus == GROUND and plus in self.model.live_wiring.index:
            return True
        return reading.kind is Kind.AC and _front_output(front.index, plus, minus) is not None

    def measured_as(self, reading: Reading) -> Measured:
        """The reading on its scale, with the error that is its own."""
        nominal, kind = reading.nominal, reading.kind
        if nominal == OVERLOAD:
            return Measured(math.log(_overload(reading) + R_ADDED), 0.05)
        function = function_of(kind)
        limits = reading.meter.uncertainty(function, nominal, reading.last_digit)
        own = math.hypot(limits.gain * abs(nominal) * math.sqrt(0.5), limits.floor) / 2.0
        if kind is Kind.DC:
            return Measured(nominal, math.hypot(own, _V_ERROR))
        added = self.added(reading)
        sigma = own / max(abs(nominal) + added, 1e-12)
        if kind in {Kind.AC, Kind.RIPPLE}:
            front = self.model.front
            is_front = front is not None and _front_output(
                front.index, self._at(reading.plus), self._at(reading.minus)) is not None  # fmt: skip
            sigma = math.hypot(sigma, _FORM if is_front else _RIPPLE_ERROR)
        if kind is Kind.OHMS and not reading.state.discharged:
            sigma *= _UNSAFE
        return Measured(math.log(max(max(nominal, 0.0) + added, 1e-15)), sigma)

    def added(self, reading: Reading) -> float:
        """What is added to a reading before its logarithm is taken. [SI]"""
        kind = reading.kind
        if kind in {Kind.OHMS, Kind.LIFTED}:
            return R_ADDED
        if kind is Kind.ESR:
            return ESR_ADDED
        if kind is Kind.CURRENT:
            return I_ADDED
        if kind is Kind.CATHODE:
            return I_ADDED * self._r_cathode(reading)
        if kind in {Kind.AC, Kind.RIPPLE}:
            return max(reading.meter.uncertainty(Function.AC_VOLTS, 0.0, reading.last_digit).floor,
                       2e-3)  # fmt: skip
        return 0.0

    def _r_cathode(self, reading: Reading) -> float:
        valve = self.model.section.circuit.part(reading.part)
        return valve.r_cathode if isinstance(valve, Valve) and valve.r_cathode else 1.0

    def _make_alternating(self) -> Alternating | None:
        nodes = [self._at(r.plus) for r in self.readings
                 if r.kind in {Kind.AC, Kind.RIPPLE} and self._at(r.minus) == GROUND
                 and self._at(r.plus) in self.model.live_wiring.index]  # fmt: skip
        if not nodes or self.model.front is None:
            return None
        return Alternating(self.model, tuple(dict.fromkeys(nodes)))

    # --- the prediction

    def predict(self, x: Floats) -> tuple[Floats, Floats]:
        """Readings on chassis, and their derivative.

        Parameters
        ----------
        x : array, shape (rows, coordinates)
            Conditions.

        Returns
        -------
        y : array, shape (rows, readings)
            On the scales of `measured`.
        dy_dx : array, shape (rows, readings, coordinates)
        """
        rows = x.shape[0]
        y = np.zeros((rows, len(self.readings)))
        slope = np.zeros((rows, len(self.readings), len(self.coordinates)))
        named = {name: x[:, k] for k, name in enumerate(self.coordinates.names)}
        out = _Out(y, slope, self.coordinates.index)
        for group in self._live.values():
            self._predict_live(group, named, out)
        for group in self._off.values():
            self._predict_off(group, named, out)
        for k, reading in enumerate(self.readings):
            self._predict_direct(k, reading, named, out)
            name = gain(reading.meter, function_of(reading.kind))
            scale = y[:, k] if reading.kind is Kind.DC else self._share(reading, y[:, k])
            slope[:, k, self.coordinates.index[name]] += scale
            y[:, k] += scale * named[name]
        return y, slope

    def _share(self, reading: Reading, y: Floats) -> Floats:
        """How a proportional error shows on a logarithmic scale."""
        return 1.0 - self.added(reading) * np.exp(-y) if self.added(reading) else np.ones_like(y)

    def _predict_live(self, group: _Group, x: Mapping[str, Floats], out: _Out) -> None:
        travel = {pot: x[name] for pot, name in group.positions.items()}
        state = LiveState(self.model, x, travel, group.valves_out)
        names = {f"{pot}@": name for pot, name in group.positions.items()}
        for k in group.where:
            reading = self.readings[k]
            if reading.kind is Kind.DC:
                y, by = self._direct_volts(reading, state, x)
            elif reading.kind in {Kind.AC, Kind.RIPPLE}:
                y, by = self._ripple(reading, state, x)
            else:
                y, by = self._current(reading, state, x)
            out.put(k, y, by, names)

    def _direct_volts(self, reading: Reading, state: LiveState, x: Mapping[str, Floats]
                      ) -> tuple[Floats, dict[str, Floats]]:  # fmt: skip
        plus, minus = self._at(reading.plus), self._at(reading.minus)
        v, by, r, r_by = state.volts(plus, minus)
        name = f"{reading.meter.name}.input"
        r_meter = reading.meter.resistance(Function.DC_VOLTS, abs(reading.nominal)) * np.exp(x[name])
        share = r_meter / (r_meter + r)
        found = {k: share * d for k, d in by.items()}
        for k, d in r_by.items():
            found[k] = found.get(k, 0.0) - v * share / (r_meter + r) * d
        found[name] = v * share * (1.0 - share)
        return v * share, found

    def _ripple(self, reading: Reading, state: LiveState, x: Mapping[str, Floats]
                ) -> tuple[Floats, dict[str, Floats]]:  # fmt: skip
        front, plus, minus = self.model.front, self._at(reading.plus), self._at(reading.minus)
        assert front is not None
        output = _front_output(front.index, plus, minus)
        if output is not None:
            w, by = state.output(output)
        else:
            assert self._alternating is not None
            kind = "ripple pp" if reading.kind is Kind.RIPPLE else "ripple"
            w, by = state.output(front.index[kind, "", ""])
            share, share_by = self._alternating.share(plus, kind, state)
            by = {k: share * d for k, d in by.items()}
            for k, d in share_by.items():
                by[k] = by.get(k, 0.0) + w * d
            w = w * share
        added = self.added(reading)
        w = np.maximum(w, 0.0)
        return np.log(w + added), {k: d / (w + added) for k, d in by.items()}

    def _current(self, reading: Reading, state: LiveState, x: Mapping[str, Floats]
                 ) -> tuple[Floats, dict[str, Floats]]:  # fmt: skip
        valve = self.model.section.circuit.part(reading.part)
        assert isinstance(valve, Valve)
        v, by, _, _ = state.volts(self._at(valve.grid), GROUND)
        log_i, slope = log_current(self._tables[valve.name], v)
        name = f"{valve.name}.current"
        i = np.exp(log_i + x[name])
        scale = self._r_cathode(reading) if reading.kind is Kind.CATHODE else 1.0
        inside = i / (i + I_ADDED)
        found = {k: inside * slope * d for k, d in by.items()}
        found[name] = inside
        return np.log(scale * (i + I_ADDED)), found

    def _predict_off(self, group: _Group, x: Mapping[str, Floats], out: _Out) -> None:
        model, wiring = self.model, self.model.off_wiring
        travel = {pot: x[name] for pot, name in group.positions.items()}
        r, slopes = model.resistances(model.off, x, travel)
        g = 1.0 / r
        if group.valves_out:
            for k, branch in enumerate(model.off):
                if _is_valve_leak(model, branch.coordinate):
                    g[:, k] = 0.0
        solved = Solved(wiring, np.asarray(wiring.inverse(g), dtype=float), np.zeros((0, 0)))
        names = {f"{pot}@": name for pot, name in group.positions.items()}
        picked = np.array([wiring.probe(self._at(self.readings[k].plus),
                                        self._at(self.readings[k].minus)) for k in group.where])  # fmt: skip
        along, between = solved.transfer(picked)
        for j, k in enumerate(group.where):
            most = _overload(self.readings[k])
            seen = np.minimum(between[:, j], most)
            by: dict[str, Floats] = {}
            for branch, name, slope in slopes:
                d = g[:, branch] * along[:, j, branch] ** 2 * slope / (between[:, j] + R_ADDED)
                by[name] = by.get(name, 0.0) + d * (between[:, j] < most)
            out.put(k, np.log(np.maximum(seen, 0.0) + R_ADDED), by, names)

    def _predict_direct(self, k: int, reading: Reading, x: Mapping[str, Floats],
                        out: _Out) -> None:  # fmt: skip
        """Readings of one coordinate alone."""
        if reading.kind is Kind.MAINS:
            mains = self.model.section.circuit.mains
            assert mains is not None
            out.put(k, x["mains"] + math.log(mains.v_nominal), {"mains": np.ones_like(x["mains"])})
        elif reading.kind is Kind.LIFTED:
            part = self.model.section.circuit.part(reading.part)
            name = reading.part if not isinstance(part, Capacitor) else f"{reading.part}.leak"
            most = _overload(reading)
            r = np.minimum(np.exp(x[name]), most)
            out.put(k, np.log(r + R_ADDED), {name: r / (r + R_ADDED) * (r < most)})
        elif reading.kind is Kind.CAPACITANCE:
            out.put(k, x[reading.part], {reading.part: np.ones_like(x[reading.part])})
        elif reading.kind is Kind.ESR:
            name = f"{reading.part}.esr"
            esr = np.exp(x[name])
            out.put(k, np.log(esr + ESR_ADDED), {name: esr / (esr + ESR_ADDED)})


_LIVE_KINDS = frozenset({Kind.DC, Kind.AC, Kind.RIPPLE, Kind.CURRENT, Kind.CATHODE})


@dataclass(frozen=True)
class _Out:
    """Where predictions are put."""

    y: Floats
    slope: Floats
    index: Mapping[str, int]

    def put(self, k: int, y: Floats, by: Mapping[str, Floats],
            names: Mapping[str, str] | None = None) -> None:  # fmt: skip
        self.y[:, k] = y
        for name, slope in by.items():
            self.slope[:, k, self.index[(names or {}).get(name, name)]] += slope


class LiveState:
    """A section with the power on, in many conditions.

    Parameters
    ----------
    model : SectionModel
        The section.
    x : mapping of coordinate name to array, shape (rows,)
        The conditions.
    travel : mapping of pot name to array, shape (rows,)
        Where the pots stand. [1]
    valves_out : bool
        Whether the output valves are out: then no grid draws current.
    """

    def __init__(self, model: SectionModel, x: Mapping[str, Floats],
                 travel: Mapping[str, Floats], valves_out: bool) -> None:  # fmt: skip
        self.model, self.x = model, x
        self.r, self.slopes = model.resistances(model.live, x, travel)
        self.g = 1.0 / self.r
        if valves_out:
            for k, branch in enumerate(model.live):
                if _is_valve_leak(model, branch.coordinate):
                    self.g[:, k] = 0.0
        wiring = model.live_wiring
        self.z_open = np.asarray(wiring.inverse(self.g), dtype=float)
        self.sources = list(self._sources(valves_out))
        j = np.zeros((self.r.shape[0], len(wiring.nodes)))
        for picked, i, _ in self.sources:
            j += i[:, None] * picked
        v_open = np.einsum("rnm,rm->rn", self.z_open, j)
        self.front: FrontState | None = None
        if model.front is None or model.port is None:
            self.solved = Solved(wiring, self.z_open, v_open)
        else:
            self._meet_port(wiring, v_open)
        self.across = self.solved.v @ wiring.incidence.T

    def _sources(self, valves_out: bool
                 ) -> list[tuple[Floats, Floats, dict[str, Floats]]]:  # fmt: skip
        """Currents driven into nodes: where, how much, and how it follows the coordinates."""
        model, x = self.model, self.x
        found = []
        for supply in model.section.circuit.of(Supply):
            if supply.name in model.in_front:
                continue
            mains = x.get("mains", np.zeros_like(self.r[:, 0]))
            i = np.exp(x[supply.name] + mains - x[f"{supply.name}.source"])
            by = {supply.name: i, f"{supply.name}.source": -i}
            if "mains" in x:
                by["mains"] = i
            joined = model.section.joined
            picked = model.live_wiring.probe(joined[supply.plus], joined[supply.minus])
            found.append((picked, i, by))
        for valve in model.section.circuit.of(Valve):
            name = f"{valve.name}.grid current"
            i = np.exp(x[name]) * (0.0 if valves_out else 1.0)
            picked = model.live_wiring.probe(model.section.joined[valve.grid])
            found.append((picked, i, {name: i}))
        return found

    def _meet_port(self, wiring: Wiring, v_open: Floats) -> None:
        """Where the network meets the curve of its port."""
        front, p = self.model.front, wiring.index[str(self.model.port)]
        assert front is not None
        rows = v_open.shape[0]
        self.front = front.state(self.x, rows)
        z_pp, v_oc = self.z_open[:, p, p], v_open[:, p]
        low, high = front.log_g[0], front.log_g[-1]
        log_g = np.clip(-np.log(z_pp), low, high)
        for _ in range(_ITERATIONS):
            value, slope = self.front.at(log_g)
            v, by_log_g = value[0], slope[0]
            safe = np.where(np.abs(v) < 1e-6, 1e-6, v)
            ratio = np.clip(1.0 - v_oc / safe, 1e-6, 1e6)
            new = np.clip(-np.log(z_pp) + np.log(ratio), low, high)
            # Newton on the load: what the open-circuit volts change follows the curve.
            bend = 1.0 - (v_oc / safe) * (by_log_g / safe) / ratio
            step = (new - log_g) / np.clip(bend, 0.3, 5.0)
            log_g = log_g + step
            if np.max(np.abs(step)) < 1e-9:
                break
        self.log_g = log_g
        value, slope = self.front.at(log_g)
        v = value[0]
        safe = np.where(np.abs(v) < 1e-6, 1e-6, v)
        self.elastic = np.clip(slope[0] / safe, -0.999, -1e-6)
        self.r_source = -self.elastic / (np.exp(log_g) * (1.0 + self.elastic))
        self.by_axis = self.front.by_axis(log_g)
        # Seen from the network the port is a source behind its slope.
        total = self.r_source + z_pp
        i = (v - v_oc) / z_pp
        column = self.z_open[:, :, p]
        z = self.z_open - np.einsum("rn,rm->rnm", column, column) / total[:, None, None]
        self.solved = Solved(wiring, z, v_open + column * i[:, None])
        self.to_nodes = column / total[:, None]
        self.outputs, self.outputs_by_load = value, slope
        # Without other sources the load is the network's own conductance.
        row = column @ wiring.incidence.T
        self.load_by_branch = -self.g * row**2 / z_pp[:, None]

    def volts(self, plus: str, minus: str
              ) -> tuple[Floats, dict[str, Floats], Floats, dict[str, Floats]]:  # fmt: skip
        """Volts between two nodes and the resistance seen there, each with its derivatives."""
        wiring = self.model.live_wiring
        v, r = np.zeros(self.r.shape[0]), np.zeros(self.r.shape[0])
        by: dict[str, Floats] = {}
        r_by: dict[str, Floats] = {}
        behind = np.zeros(len(wiring.nodes))
        for node, sign in ((plus, 1.0), (minus, -1.0)):
            if node in wiring.index:
                behind[wiring.index[node]] += sign
            elif node != GROUND and self.model.front is not None:
                w, w_by = self.output(self.model.front.index["dc", node, ""])
                v = v + sign * w
                for k, d in w_by.items():
                    by[k] = by.get(k, 0.0) + sign * d
        if not np.any(behind):
            return v, by, r, r_by
        v = v + self.solved.v @ behind
        along, seen = self.solved.transfer(behind[None])
        for k, name, slope in self.slopes:
            weight = self.g[:, k] * along[:, 0, k] * slope
            by[name] = by.get(name, 0.0) + weight * self.across[:, k]
            r_by[name] = r_by.get(name, 0.0) + weight * along[:, 0, k]
        for picked, _, source_by in self.sources:
            into = np.einsum("n,rnm,m->r", behind, self.solved.z, picked)
            for name, d in source_by.items():
                by[name] = by.get(name, 0.0) + into * d
        if self.front is not None:
            # A curve that moves by so much at the same load moves by more at the same current.
            reach = self.to_nodes @ behind / (1.0 + self.elastic)
            self._add_axes(by, 0, reach)
        return v, by, seen[:, 0], r_by

    def _add_axes(self, by: dict[str, Floats], output: int, weight: Floats | float) -> None:
        """Add what the coordinates in front do to an output."""
        assert self.model.front is not None
        for name, axis in self.model.front.acts.items():
            if name in self.x:
                by[name] = by.get(name, 0.0) + weight * self.by_axis[axis][output]

    def output(self, k: int) -> tuple[Floats, dict[str, Floats]]:
        """An output of the front with its derivatives."""
        by: dict[str, Floats] = {}
        self._add_axes(by, k, 1.0)
        for branch, name, slope in self.slopes:
            d = self.outputs_by_load[k] * self.load_by_branch[:, branch] * slope
            by[name] = by.get(name, 0.0) + d
        return self.outputs[k], by


def _is_valve_leak(model: SectionModel, coordinate: str) -> bool:
    name, _, what = coordinate.rpartition(".")
    return what == "leak" and isinstance(model.section.circuit.part(name), Valve)


def _front_output(index: Mapping[tuple[str, str, str], int], plus: str, minus: str) -> int | None:
    """Which output of the front an alternating voltage between two nodes is."""
    if minus == GROUND:
        minus = ""
    for a, b in ((plus, minus), (minus, plus)):
        for b_ in (b, GROUND) if b == "" else (b,):
            if ("ac", a, b_) in index:
                return index["ac", a, b_]
    return None


def _overload(reading: Reading) -> float:
    """What the meter shows as OL. [ohm]"""
    ranges = reading.meter.on(Function.OHMS).ranges
    return max(ranges[-1].full, 1e3) if ranges else R_OVERLOAD

