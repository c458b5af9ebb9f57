"""Chassis made up at random, and the readings that a technician would take of them.

Live readings come from ngspice, the whole circuit at once with the fault and the meter in it,
and never from the fast path; resistances from a nodal analysis of what is left with the power
off. What is drawn at random hangs on the chassis's seed and on what it is drawn for, not on
the order of asking: taken again, a reading is the same.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from netcheck import assumed
from netcheck.engine.elements import Element, Resistance, SteadyState
from netcheck.engine.service import Service
from netcheck.engine.steady import Problem, steady_states
from netcheck.graph import Section
from netcheck.idling import Idle, IdlingValve, idle, idling_valve
from netcheck.model import nominal_values, spreads
from netcheck.netlist import Pot, Valve, Winding
from netcheck.readings import (
    DIODE_TEST,
    OVERLOAD,
    Accuracy,
    Function,
    Kind,
    Meter,
    Position,
    Range,
    Reading,
    State,
    function_of,
)
from netcheck.valves import lookup

from . import diodetest
from .faults import METER, READING, Fault
from .ohms import resistance
from .plans import Item
from .wiring import Wiring, anchored, broken


def _ranges(*full: float) -> tuple[Range, ...]:
    """Ranges of 2000 steps, or a round step just above."""
    return tuple(Range(f, 10.0 ** math.ceil(math.log10(f / 2000.0) - 1e-9)) for f in full)


DMM = Meter(
    "dmm",
    10e6,
    accuracy={
        Function.DC_VOLTS: Accuracy(0.005, 2, _ranges(0.2, 2, 20, 200, 1000)),
        Function.AC_VOLTS: Accuracy(0.01, 3, _ranges(0.2, 2, 20, 200, 1000)),
        Function.CURRENT: Accuracy(0.015, 3, _ranges(20e-3, 0.2, 2)),
        Function.OHMS: Accuracy(0.008, 1, _ranges(200, 2e3, 20e3, 200e3, 2e6, 20e6)),
        Function.CAPACITANCE: Accuracy(0.04, 5, _ranges(20e-9, 200e-9, 2e-6, 20e-6, 200e-6, 2e-3)),
    },
)
"""A usual hand-held meter of 3 1/2 digits; common practice."""

_END_FACTOR = 2.0
"""A pot's end resistance is up to this factor from the usual, either way. [1]"""

_COPPER, _COPPER_FACTOR = 0.5, 2.5
"""A winding's own copper over the resistance that acts in use, and how far it is from that either
way; common practice. [1]"""

_Key = tuple[tuple[str, float], ...]
_LIVE = (Kind.DC, Kind.AC, Kind.RIPPLE)
_VALVE = (Kind.CURRENT, Kind.CATHODE, Kind.PLATE, Kind.SCREEN)


@dataclass(frozen=True, slots=True)
class Errors:
    """How far everything is off.

    Parameters
    ----------
    tolerances : float
        True spread of the parts over their tolerance. [1]
    normal : bool
        Whether it is normal, the tolerance being twice its standard deviation, and not even.
    meter : float
        Errors of the meter over its specification, whose limits are twice the standard
        deviation; at 0 it shows every digit. [1]
    by_eye : float
        Standard deviation of a pot position judged by eye. [1]
    """

    tolerances: float = 1.0
    normal: bool = False
    meter: float = 1.0
    by_eye: float = 0.03


NO_ERRORS = Errors(0.0, False, 0.0, 0.0)
"""Every part as marked, a perfect meter, pots where they are said to stand."""


class Chassis:
    """A chassis on the bench.

    Parameters
    ----------
    section : Section
        What is drawn.
    faults : sequence of Fault
        What is wrong; empty for a healthy one.
    seed : int
        Of everything that is random.
    service : Service
        The running simulator.
    meter : Meter
        As it is said to be.
    errors : Errors
        How far everything is off.
    start : mapping of capacitance name to float, optional
        Capacitor voltages to start the search from, such as `start` of another chassis. [V]

    Attributes
    ----------
    wiring : Wiring
        What is really in it; its `values` are what parts really have.
    valves : mapping of valve name to IdlingValve
        The valves in its sockets, those that can be modelled.
    start : dict of capacitance name to float
        Capacitor voltages of the last state found. [V]
    """

    def __init__(
        self,
        section: Section,
        faults: Sequence[Fault],
        seed: int,
        service: Service,
        *,
        meter: Meter = DMM,
        errors: Errors = Errors(),
        start: Mapping[str, float] | None = None,
    ) -> None:
        self.section, self.faults, self.seed = section, tuple(faults), seed
        self.meter, self.errors = meter, errors
        self.start = dict(start or {})
        self._service = service
        nominal = {n: float(v) for n, v in nominal_values(section.circuit).items()}
        wiring = Wiring(section.circuit, self._true_values(nominal))
        for fault in self.faults:
            wiring = broken(wiring, fault, nominal)
        self.wiring = wiring
        self.valves = self._fitted_valves()
        self._unloaded: dict[_Key, SteadyState] = {}
        self._nearest: dict[_Key, Mapping[str, float]] = {}

    # ------------------------------------------------------------------ how it was made

    def _rng(self, *what: object) -> np.random.Generator:
        """Random numbers for one purpose."""
        return np.random.default_rng([self.seed, zlib.crc32(repr(what).encode())])

    def _true_values(self, nominal: Mapping[str, float]) -> dict[str, float]:
        """What each part has, within its tolerance."""
        tolerance = spreads(self.section.circuit)
        mains = self.section.circuit.mains
        if mains is not None:
            tolerance["mains"] = assumed.mains_tolerance(mains)
        true = {
            name: value * (1.0 + tolerance[name] * self._deviation(name))
            if name in tolerance
            else value
            for name, value in nominal.items()
        }
        for pot in self.section.circuit.of(Pot):
            factor = _END_FACTOR ** self._deviation(f"{pot.name}.end")
            true[f"{pot.name}.end"] = min(nominal[f"{pot.name}.end"] * factor, 0.25 * pot.r)
        return true

    def _deviation(self, name: str) -> float:
        """How far a parameter is off, in tolerances. [1]"""
        rng, scale = self._rng("part", name), self.errors.tolerances
        return scale * float(rng.normal(0.0, 0.5) if self.errors.normal else rng.uniform(-1.0, 1.0))

    def _fitted_valves(self) -> dict[str, IdlingValve]:
        fitted = {}
        circuit = self.section.circuit
        for valve in circuit.of(Valve):
            kind = lookup(valve.type, circuit.own_types)
            one = None if kind is None else idling_valve(valve, kind, circuit.high_tension)
            if one is not None:
                # Samples differ as they do, however well the other parts keep to their marking.
                spread = one.shift.spread * min(self.errors.tolerances, 1.0)
                scale = math.exp(spread * self._rng("valve", valve.name).normal())
                fitted[valve.name] = replace(
                    one, shift=replace(one.shift, scale=one.shift.scale * scale)
                )
        return fitted

    # --------------------------------------------------------------------- what is read

    def readings(self, plan: Sequence[Item]) -> list[Reading]:
        """Take readings.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        settings = [self.positions(item.state) for item in plan]
        self._settle([s for item, s in zip(plan, settings, strict=True) if _needs(item)])
        shown = [
            self._shown(item, self._true(item, setting))
            for item, setting in zip(plan, settings, strict=True)
        ]
        struck = self.misread(plan)
        if struck is not None:
            shown[struck] = _wrong(shown[struck], self._fault(READING))
        return shown

    def _fault(self, part: str) -> Fault | None:
        return next((fault for fault in self.faults if fault.part == part), None)

    def misread(self, plan: Sequence[Item]) -> int | None:
        """Which item of a plan is misread, if one is: direct volts, or ohms but for the sign."""
        fault = self._fault(READING)
        if fault is None or fault.number is None:
            return None
        kinds = (Kind.DC,) if fault.number < 0 else (Kind.DC, Kind.OHMS)
        able = [k for k, item in enumerate(plan) if item.kind in kinds]
        return able[int((fault.second or 0.0) * len(able))] if able else None

    def positions(self, state: State) -> dict[str, float]:
        """Where the pots really stand. [1]

        A stop is certain, a position by eye is off by the same until it is set anew, and a pot that
        nobody looked at stands anywhere.
        """
        found = {}
        for pot in self.section.circuit.of(Pot):
            position = state.pots.get(pot.name)
            if position is None:
                found[pot.name] = float(self._rng("anywhere", pot.name).uniform())
            elif position.by_eye:
                rng = self._rng("by eye", pot.name, position.travel, state.stage, position.turn)
                at = position.travel + self.errors.by_eye * rng.normal()
                found[pot.name] = float(np.clip(at, 0.0, 1.0))
            else:
                found[pot.name] = position.travel
        return found

    def _solve(self, circuit: Sequence[Element], start: Mapping[str, float]) -> SteadyState:
        mains = self.section.circuit.mains
        frequency = None if mains is None else mains.frequency
        problem = Problem(anchored(circuit, opened=self._opened), frequency, start)
        return steady_states([problem], service=self._service)[0]

    @property
    def _opened(self) -> bool:
        return any(fault.opens for fault in self.faults)

    def _settle(self, settings: Sequence[dict[str, float]]) -> None:
        """Find the states without a meter: where the search with one begins."""
        for setting in settings:
            if _key(setting) not in self._unloaded:
                state = self._solve(self.wiring.elements(setting), self.start)
                self._unloaded[_key(setting)] = state
                self.start = dict(state.start)

    def _loaded(self, item: Item, setting: dict[str, float]) -> SteadyState:
        """The state in which a reading of volts is taken, the meter across its two nodes."""
        base = self._unloaded[_key(setting)]
        circuit = self.wiring.elements(setting)
        a, b = self._at(item.plus), self._at(item.minus)
        if a == b:
            return base
        r = self._r_meter(item, abs(self._volts(item, base)))
        circuit.append(Resistance("meter", a, b, r))
        state = self._solve(circuit, self._nearest.get(_key(setting), base.start))
        if self._opened:
            # Where hardly any current flows the search is long; the last meter has led on.
            self._nearest[_key(setting)] = state.start
        return state

    def _r_meter(self, item: Item, v: float) -> float:
        """What the meter really puts across its leads. [ohm]"""
        fault = self._fault(METER)
        if fault is not None and fault.number is not None:
            return fault.number
        return self.meter.resistance(function_of(item.kind), v)

    def _at(self, node: str) -> str:
        return self.section.joined.get(node, node)

    def _volts(self, item: Item, state: SteadyState) -> float:
        """What a reading is of, in a state. [V]"""
        # A node that nothing ends at any more lies at ground by its insulation.
        none = np.zeros_like(state.waves.t)
        v = state.waves.v.get(self._at(item.plus), none) - state.waves.v.get(
            self._at(item.minus), none
        )
        mean = state.waves.mean(v)
        if item.kind is Kind.DC:
            return mean
        return float(np.ptp(v)) if item.kind is Kind.RIPPLE else state.waves.rms(v - mean)

    def _true(self, item: Item, setting: dict[str, float]) -> float:
        """What a perfect meter shows. [SI]"""
        kind = item.kind
        if kind in _LIVE:
            return self._volts(item, self._loaded(item, setting))
        if kind is Kind.MAINS:
            mains = self.section.circuit.mains
            return 0.0 if mains is None else self.wiring.values["mains"] * mains.v_nominal
        if kind is Kind.OHMS:
            circuit = self.copper_alone().elements(setting)
            return resistance(circuit, self._at(item.plus), self._at(item.minus))
        if kind in DIODE_TEST:
            return self._tested(item, setting)
        if kind in _VALVE:
            return self._of_valve(item, self._unloaded[_key(setting)])
        return self._lifted(item)

    def _tested(self, item: Item, setting: dict[str, float]) -> float:
        """Volts of a diode test; infinite for OL. [V]"""
        off = diodetest.SPREAD * self.errors.meter * self._rng("test current").normal()
        a, b = self._at(item.plus), self._at(item.minus)
        if a == b:
            return 0.0
        return diodetest.shown(self.section.circuit, self.copper_alone().elements(setting), a, b,
                               diodetest.I_TEST * math.exp(off), self._service)  # fmt: skip

    def copper_alone(self) -> Wiring:
        """The wiring as a meter on ohms sees it: without what the primary's copper adds in use."""
        sources = [f"{winding.name}.source" for winding in self.section.circuit.of(Winding)]
        share = {name: _COPPER * _COPPER_FACTOR ** self._deviation(f"{name}.copper")
                 for name in sources}  # fmt: skip
        return self.wiring.put(**{n: share[n] * self.wiring.values[n] for n in sources})

    def _of_valve(self, item: Item, state: SteadyState) -> float:
        valves = list(self.valves.values())
        none = np.zeros_like(state.waves.t)
        grids = [
            np.array([state.waves.mean(state.waves.v.get(self._at(v.valve.grid), none))])
            for v in valves
        ]
        found = idle(valves, grids, self.section.circuit.high_tension)
        one = dict(zip(self.valves, found, strict=True))[item.part]
        return _read_valve(item.kind, self.valves[item.part], one)

    def _lifted(self, item: Item) -> float:
        """A part by itself: what its own pieces make between its outer terminals. [SI]"""
        name, values = item.part, self.wiring.values
        if item.kind is Kind.CAPACITANCE:
            return values[name]
        if item.kind is Kind.ESR:
            return values.get(f"{name}.esr", 0.0)
        part = self.section.circuit.part(name)
        if part is None:
            raise ValueError(f"no part {name}")
        if isinstance(part, Pot):
            return self._track(name)
        pots = {pot.name: 0.5 for pot in self.section.circuit.of(Pot)}
        pieces = (f"{name}.", f"{name} ")
        own = [e for e in self.wiring.elements(pots)
               if e.name == name or e.name.startswith(pieces)]  # fmt: skip
        nodes = [self._at(node) for _, node in part.terminals]
        return resistance(own, nodes[0], nodes[-1])

    def _track(self, pot: str) -> float:
        """A pot's track from end to end, whatever its lugs are wired to. [ohm]"""
        own = [fault for fault in self.faults if fault.part == pot]
        if any(fault.mode in ("top open", "bottom open") for fault in own):
            return math.inf
        worn = sum(fault.number or 0.0 for fault in own if fault.mode == "worn end")
        return self.wiring.values[pot] + worn

    # -------------------------------------------------------------------- what is shown

    def _shown(self, item: Item, true: float) -> Reading:
        """A true value as the meter shows it."""
        function = function_of(item.kind)
        accuracy = self.meter.on(function)
        span = accuracy.range_for(abs(true))
        most = math.inf if span is None else 1.000001 * span.full
        if math.isinf(true) or (function is Function.OHMS and true > most):
            return self._reading(item, OVERLOAD, 0.0)
        digit = span.resolution if span is not None and span.resolution else _fourth_figure(true)
        if self.errors.meter == 0.0:
            return self._reading(item, true, digit)
        gain, floor = accuracy.share, accuracy.digits * digit
        if accuracy.of_full_scale:
            gain, floor = 0.0, floor + accuracy.share * (abs(true) if span is None else span.full)
        # Limits are two standard deviations; the gain is one for all readings of a function.
        half = 0.5 * self.errors.meter
        state = item.state
        when = (state.stage, state.live, state.turn, sorted(state.pots.items(), key=_name))
        what = (item.kind.value, item.plus, item.minus, item.part)
        off = half * gain * self._rng("gain", function.value).normal()
        noise = half * floor * self._rng("digits", what, when).normal()
        shown = round((true * (1.0 + off) + noise) / digit) * digit
        return self._reading(item, shown if item.kind is Kind.DC else max(shown, 0.0), digit)

    def _reading(self, item: Item, nominal: float, last_digit: float) -> Reading:
        return Reading(item.kind, nominal, last_digit, item.state, self.meter,
                       item.plus, item.minus, item.part)  # fmt: skip


def _name(entry: tuple[str, Position]) -> str:
    return entry[0]


def _fourth_figure(value: float) -> float:
    """What the fourth figure of a value is worth, for a meter whose ranges are not stated."""
    return 10.0 ** (math.floor(math.log10(max(abs(value), 1e-12))) - 3)


def _wrong(reading: Reading, fault: Fault | None) -> Reading:
    """A reading as it was written down by mistake."""
    factor = 1.0 if fault is None or fault.number is None else fault.number
    digit = reading.last_digit * (factor if factor in (0.1, 10.0) else 1.0)
    wrong = reading.nominal * factor
    if digit > 0.0:
        wrong = round(wrong / digit) * digit
    return replace(reading, nominal=wrong, last_digit=digit)


def _needs(item: Item) -> bool:
    """Whether a reading needs a simulation."""
    return item.kind in _LIVE or item.kind in _VALVE


def _key(setting: Mapping[str, float]) -> _Key:
    return tuple(sorted(setting.items()))


def _read_valve(kind: Kind, valve: IdlingValve, now: Idle) -> float:
    """What is read at a valve. [A] or [V]"""
    i, r = float(now.i_cathode[0]), valve.valve.r_cathode
    if kind is Kind.CURRENT:
        return i
    if kind is Kind.CATHODE:
        return i * r
    plate = float(now.v_plate[0]) + i * r
    if kind is Kind.PLATE:
        return plate
    # The screen falls with the plate: both hang on one supply.
    return (valve.valve.v_screen or 0.0) - ((valve.valve.v_plate or 0.0) - plate)
