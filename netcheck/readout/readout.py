"""Readings of many chassis, with their derivatives by every coordinate."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..engine.elements import GROUND, Floats
from ..netlist import Capacitor, Pot, Resistor, Valve
from ..readings import DIODE_TEST, SOLDERED_IN, Function, Kind, Reading, function_of
from .alternating import Alternating
from .coordinates import Coordinates, Priors, coordinates, gain, position, test_current
from .diodetest import I_TEST, DiodeTest
from .family import FrontState
from .live import Conditions, LiveState, ToCoordinates
from .model import SectionModel, log_current
from .nodal import Solved
from .scales import (
    ESR_ADDED,
    I_ADDED,
    R_ADDED,
    V_ADDED,
    V_OVERLOAD,
    Measured,
    Scales,
    front_output,
    overload,
)

_FAR, _FAR_FRONT = 0.03, 0.10  # of mean volts far from those drawn, behind and in front
_FAR_STRAY = 0.5  # of mean volts in front, where the alternating ones are gone or are others
_FAR_RIPPLE = 0.5  # of the logarithm of alternating volts, for each neper beyond the first
_FARTHEST = 2.0  # nepers beyond the first; what is farther off is off, and no less exact [1]
_LARGEST = 4_000_000  # elements of the matrices that are inverted at once [count]


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
    measured : list of Measured
        The readings on their scales.
    scales : Scales
        The scales.
    """

    def __init__(self, model: SectionModel, readings: Sequence[Reading], year: int) -> None:
        self.model = model
        self.scales = Scales(model)
        self._at = model.section.at
        self.unused = tuple(r for r in readings if not self._is_usable(r))
        self.readings = tuple(r for r in readings if self._is_usable(r))
        self.coordinates: Coordinates = coordinates(
            model.section, self.readings, year, model.undrawn
        )
        self._live: dict[tuple[object, ...], _Group] = {}
        self._off: dict[tuple[object, ...], _Group] = {}
        for k, reading in enumerate(self.readings):
            kind = reading.kind
            if kind in _LIVE_KINDS or kind in SOLDERED_IN:
                groups = self._off if kind in SOLDERED_IN else self._live
                where = {pot.name: position(pot.name, reading.state)
                         for pot in model.section.circuit.of(Pot)}  # fmt: skip
                out = reading.state.valves_out
                groups.setdefault((*where.items(), out), _Group(where, out)).where.append(k)
        self._alternating = self._make_alternating()
        self._tables = {name: model.current_table(ready) for name, ready in model.valves.items()}
        self._drawn = self._as_drawn()
        self.measured = self._with_distance()

    def _as_drawn(self) -> Floats:
        """What the section shows as it is drawn, shape (readings,), on the readings' scales."""
        middle = np.zeros((1, len(self.coordinates)))
        drawn, _ = self.predict(Priors([self.coordinates.sound]).at(middle, np.zeros(1, int))[0])
        return np.asarray(drawn[0])

    def _with_distance(self) -> list[Measured]:
        """Readings with the error of this path, see `distance`."""
        found = [self.scales.measured(reading) for reading in self.readings]
        far = [float(self.distance(k, np.array(now.y))) for k, now in enumerate(found)]
        in_front = [self._is_in_front(reading) for reading in self.readings]
        # Of the supply itself: alternating volts in front of the rectifier, mean ones behind it.
        is_far = any(
            off and reading.kind is (Kind.AC if front else Kind.DC)
            for reading, off, front in zip(self.readings, far, in_front, strict=True)
        )
        for k, now in enumerate(found):
            if is_far and in_front[k] and self.readings[k].kind is Kind.DC:
                far[k] = math.hypot(far[k], _FAR_STRAY * now.y)
        return [Measured(now.y, math.hypot(now.sigma, off))
                for now, off in zip(found, far, strict=True)]  # fmt: skip

    def _is_in_front(self, reading: Reading) -> bool:
        return bool({self._at(reading.plus), self._at(reading.minus)} & self.model.front_nodes)

    def distance(self, k: int, y: Floats) -> Floats:
        """Error of this path far from what is drawn, a standard deviation on a reading's scale.

        The rectifier is simulated around the drawn state: where a part is open or shorted so
        that volts are gone or many times too high, they are told less exactly.

        Parameters
        ----------
        k : int
            Which of the readings.
        y : array
            What it shows, on its scale.
        """
        reading, drawn = self.readings[k], self._drawn[k]
        if reading.kind in {Kind.AC, Kind.RIPPLE}:
            return np.asarray(_FAR_RIPPLE * np.clip(np.abs(y - drawn) - 1.0, 0.0, _FARTHEST))
        if reading.kind is not Kind.DC:
            return np.zeros_like(y)
        size, now = abs(drawn), np.abs(y)
        small = 0.02 * size + 0.05
        off = np.abs(np.log((now + small) / (size + small)))
        share, least = (_FAR_FRONT, size) if self._is_in_front(reading) else (_FAR, 0.3 * size)
        return np.asarray(share * np.maximum(now, least) * np.clip(off - 1.0, 0.0, 1.0))

    # --- what can be read

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
        if kind is Kind.LIFTED:  # what a diode or a winding shows then is no coordinate
            part = model.section.circuit.part(reading.part)
            return isinstance(part, Resistor | Pot | Capacitor)
        has_mains = model.section.circuit.mains is not None and bool(model.section.sources)
        return kind is not Kind.MAINS or has_mains

    def _is_alternating_usable(self, reading: Reading) -> bool:
        front = self.model.front
        if front is None:
            return False
        plus, minus = self._at(reading.plus), self._at(reading.minus)
        if minus == GROUND and plus in self.model.live_wiring.index:
            return True
        return reading.kind is Kind.AC and front_output(front.index, plus, minus) is not None

    def _make_alternating(self) -> Alternating | None:
        nodes = [self._at(r.plus) for r in self.readings
                 if r.kind in {Kind.AC, Kind.RIPPLE} and self._at(r.minus) == GROUND
                 and self._at(r.plus) in self.model.live_wiring.index]  # fmt: skip
        if not nodes or self.model.front is None:
            return None
        return Alternating(self.model, tuple(dict.fromkeys(nodes)))

    # --- the prediction

    def predict(self, x: Floats, exact: Floats | None = None) -> tuple[Floats, Floats]:
        """Readings on chassis, and their derivative.

        Parameters
        ----------
        x : array, shape (rows, coordinates)
            Conditions.
        exact : array, shape (rows, outputs of the front), optional
            From `exact`, of a condition near each.

        Returns
        -------
        y : array, shape (rows, readings)
            On the scales of `measured`.
        dy_dx : array, shape (rows, readings, coordinates)
        """
        size = max(len(self.model.live_wiring.nodes), len(self.model.off_wiring.nodes), 1)
        at_once = max(_LARGEST // size**2, 1)
        if len(x) <= at_once:
            return self._predict(x, exact)
        pieces = [slice(k, k + at_once) for k in range(0, len(x), at_once)]
        found = [self._predict(x[p], None if exact is None else exact[p]) for p in pieces]
        y, slope = zip(*found, strict=True)
        return np.concatenate(y), np.concatenate(slope)

    def _predict(self, x: Floats, exact: Floats | None) -> tuple[Floats, Floats]:
        rows = x.shape[0]
        y = np.zeros((rows, len(self.readings)))
        slope = np.zeros((rows, len(self.readings), len(self.coordinates)))
        named = {name: x[:, k] for k, name in enumerate(self.coordinates.names)}
        family = self.model.front if self._live else None
        front = None if family is None else family.state(named, rows, exact)
        for group in self._live.values():
            self._predict_live(group, named, y, slope, front)
        for group in self._off.values():
            self._predict_off(group, named, y, slope)
        for k, reading in enumerate(self.readings):
            self._predict_direct(k, reading, named, y, slope)
            name = gain(reading.meter, function_of(reading.kind))
            scale = y[:, k] if reading.kind is Kind.DC else self.scales.share(reading, y[:, k])
            slope[:, k, self.coordinates.index[name]] += scale
            y[:, k] += scale * named[name]
        return y, slope

    def exact(self, x: Floats) -> Floats | None:
        """What a simulation puts right of the rectifier in one condition.

        Parameters
        ----------
        x : array, shape (coordinates,)
            The condition.

        Returns
        -------
        array, shape (outputs of the front,), or None
            None without a rectifier, without a live reading, or for what is too odd to be
            simulated.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        if self.model.front is None or not self._live:
            return None
        named = {name: x[None, k] for k, name in enumerate(self.coordinates.names)}
        front = self.model.front.state(named, 1)
        loads = [self._live_state(group, named, front).log_g[0] for group in self._live.values()]
        own = {name: float(value[0]) for name, value in named.items()}
        return self.model.front.exact(own, float(np.mean(loads)))

    def _live_state(self, group: _Group, x: Conditions, front: FrontState | None) -> LiveState:
        return LiveState(self.model, x, group.positions, group.valves_out,
                         self.coordinates.index, front)  # fmt: skip

    def _predict_live(self, group: _Group, x: Conditions, y: Floats, slope: Floats,
                      front: FrontState | None) -> None:  # fmt: skip
        state = self._live_state(group, x, front)
        direct = [k for k in group.where if self.readings[k].kind is Kind.DC]
        drawn = [k for k in group.where if self.readings[k].kind in {Kind.CURRENT, Kind.CATHODE}]
        if direct:
            y[:, direct], slope[:, direct] = self._direct_volts(direct, state)
        for k in drawn:
            y[:, k], slope[:, k] = self._current(self.readings[k], state)
        rippling = [k for k in group.where if k not in direct and k not in drawn]
        if rippling and self._alternating is not None:
            self._alternating.solve(state)
        for k in rippling:
            y[:, k], slope[:, k] = self._ripple(self.readings[k], state)

    def _direct_volts(self, which: Sequence[int], state: LiveState) -> tuple[Floats, Floats]:
        """What meters show of mean volts: they load what they read."""
        readings = [self.readings[k] for k in which]
        probes = [(self._at(r.plus), self._at(r.minus)) for r in readings]
        v, v_by, r, r_by = state.volts(probes)
        names = [f"{reading.meter.name}.input" for reading in readings]
        stated = [reading.meter.resistance(Function.DC_VOLTS, abs(reading.nominal))
                  for reading in readings]  # fmt: skip
        r_meter = np.stack([ohm * np.exp(state.x[name])
                            for ohm, name in zip(stated, names, strict=True)], axis=1)  # fmt: skip
        share = r_meter / (r_meter + r)
        by = share[:, :, None] * v_by - (v * share / (r_meter + r))[:, :, None] * r_by
        for k, name in enumerate(names):
            by[:, k, self.coordinates.index[name]] += (v * share * (1.0 - share))[:, k]
        return v * share, by

    def _ripple(self, reading: Reading, state: LiveState) -> tuple[Floats, Floats]:
        front, plus, minus = self.model.front, self._at(reading.plus), self._at(reading.minus)
        assert front is not None
        output = front_output(front.index, plus, minus)
        if output is not None:
            w, by = self._loaded(reading, *state.output(output), state)
        else:
            assert self._alternating is not None
            kind = "ripple pp" if reading.kind is Kind.RIPPLE else "ripple"
            w, by = state.output(front.index[kind, "", ""])
            share, share_by = self._alternating.share(plus, kind)
            by = share[:, None] * by + w[:, None] * share_by
            w = w * share
        total = np.maximum(w, 0.0) + self.scales.added(reading)
        return np.log(total), by * (w > 0.0)[:, None] / total[:, None]

    def _loaded(self, reading: Reading, w: Floats, by: Floats, state: LiveState
                ) -> tuple[Floats, Floats]:  # fmt: skip
        """Alternating volts in front of the rectifier as the meter leaves them."""
        front, nodes = self.model.front, (self._at(reading.plus), self._at(reading.minus))
        assert front is not None
        r = sum(front.r_seen.get(("ac", node), 0.0) for node in nodes)
        name = f"{reading.meter.name}.input"
        r_meter = reading.meter.resistance(Function.AC_VOLTS, abs(reading.nominal))
        share = 1.0 - r / (r_meter * np.exp(state.x[name]) + r)
        by = share[:, None] * by
        by[:, self.coordinates.index[name]] += w * share * (1.0 - share)
        return w * share, by

    def _current(self, reading: Reading, state: LiveState) -> tuple[Floats, Floats]:
        valve = self.model.section.circuit.part(reading.part)
        assert isinstance(valve, Valve)
        v, v_by, _, _ = state.volts([(self._at(valve.grid), GROUND)])
        log_i, slope = log_current(self._tables[valve.name], v[:, 0])
        name = f"{valve.name}.current"
        i = np.exp(log_i + state.x[name])
        scale = self.scales.r_cathode(reading) if reading.kind is Kind.CATHODE else 1.0
        inside = i / (i + I_ADDED)
        by = (inside * slope)[:, None] * v_by[:, 0]
        by[:, self.coordinates.index[name]] += inside
        return np.log(scale * (i + I_ADDED)), by

    def _predict_off(self, group: _Group, x: Conditions, y: Floats, slope: Floats) -> None:
        model, wiring, index = self.model, self.model.off_wiring, self.coordinates.index
        travel = {pot: x[name] for pot, name in group.positions.items()}
        r, slopes = model.resistances(model.off, x, travel)
        places = {**index, **{f"{pot}@": index[name] for pot, name in group.positions.items()}}
        to_coordinates = ToCoordinates(slopes, places, len(index), r.shape[1])
        g = 1.0 / r
        if group.valves_out:
            g[:, model.valve_leaks(model.off)] = 0.0
        solved = Solved(wiring, np.asarray(wiring.inverse(g), dtype=float), np.zeros((0, 0)))
        tests = [k for k in group.where if self.readings[k].kind in DIODE_TEST]
        ohms = [k for k in group.where if k not in tests]
        if ohms:
            y[:, ohms], slope[:, ohms] = self._ohms(ohms, g, solved, to_coordinates)
        for k in tests:
            y[:, k], slope[:, k] = self._tested(self.readings[k], x, g, solved, to_coordinates)

    def _ohms(self, which: Sequence[int], g: Floats, solved: Solved,
              to_coordinates: ToCoordinates) -> tuple[Floats, Floats]:  # fmt: skip
        """Resistances between two nodes, no junction conducting."""
        readings = [self.readings[k] for k in which]
        picked = np.array([self._leads(reading) for reading in readings])
        along, between = solved.transfer(picked)
        most = np.array([overload(reading) for reading in readings])
        by = to_coordinates(g[:, None, :] * along**2)
        by *= ((between < most) / (between + R_ADDED))[:, :, None]
        return np.log(np.clip(between, 0.0, most) + R_ADDED), by

    @functools.cached_property
    def _diode_test(self) -> DiodeTest:
        return DiodeTest(self.model)

    def _leads(self, reading: Reading) -> Floats:
        return self.model.off_wiring.probe(self._at(reading.plus), self._at(reading.minus))

    def _tested(self, reading: Reading, x: Conditions, g: Floats, solved: Solved,
                to_coordinates: ToCoordinates) -> tuple[Floats, Floats]:  # fmt: skip
        """A diode test."""
        index, current = self.coordinates.index, test_current(reading.meter)
        shown = self._diode_test.read(x, g, solved.z, self._leads(reading),
                                      I_TEST * np.exp(x[current]))  # fmt: skip
        by: Floats = to_coordinates(shown.by_branch[:, None, :])[:, 0]
        for name, slope in shown.by_name.items():
            by[:, index[name]] += slope
        by[:, index[current]] += shown.by_current
        v = np.clip(shown.v, 0.0, V_OVERLOAD)
        return np.log(v + V_ADDED), by * ((shown.v < V_OVERLOAD) / (v + V_ADDED))[:, None]

    def _predict_direct(self, k: int, reading: Reading, x: Conditions, y: Floats,
                        slope: Floats) -> None:  # fmt: skip
        """Readings of one coordinate alone."""
        index = self.coordinates.index
        if reading.kind is Kind.MAINS:
            mains = self.model.section.circuit.mains
            assert mains is not None
            y[:, k] = x["mains"] + math.log(mains.v_nominal)
            slope[:, k, index["mains"]] = 1.0
        elif reading.kind is Kind.LIFTED:
            part = self.model.section.circuit.part(reading.part)
            name = reading.part if not isinstance(part, Capacitor) else f"{reading.part}.leak"
            most = overload(reading)
            r = np.minimum(np.exp(x[name]), most)
            y[:, k] = np.log(r + R_ADDED)
            slope[:, k, index[name]] = r / (r + R_ADDED) * (r < most)
        elif reading.kind is Kind.CAPACITANCE:
            y[:, k], slope[:, k, index[reading.part]] = x[reading.part], 1.0
        elif reading.kind is Kind.ESR:
            name = f"{reading.part}.esr"
            esr = np.exp(x[name])
            y[:, k] = np.log(esr + ESR_ADDED)
            slope[:, k, index[name]] = esr / (esr + ESR_ADDED)


_LIVE_KINDS = frozenset({Kind.DC, Kind.AC, Kind.RIPPLE, Kind.CURRENT, Kind.CATHODE})
