"""The numbers that make up the condition of a chassis, and what they are in a sound one.

A coordinate is the natural logarithm of what cannot be negative (ohms, farads, volts of a
winding, amperes), and the thing itself for positions of pots, errors of gain and switches.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .. import assumed
from ..engine.elements import Floats
from ..graph import Section
from ..idling import idling_valve
from ..model import nominal_values, spreads
from ..netlist import (
    Capacitor,
    Diode,
    Part,
    Pot,
    Resistor,
    Supply,
    Tremolo,
    Valve,
    Winding,
    Zener,
)
from ..probability import normal_share
from ..readings import DIODE_TEST, Function, Kind, Meter, Position, Reading, State, function_of
from ..valves import lookup
from ..valves.practice import SAMPLE_SPREAD

R_NOTHING = 1e12
"""A leak that is none. [ohm]"""
R_OPEN = 1e11
"""A break. [ohm]"""
R_SHORT = 0.1
"""A short, with the leads to it. [ohm]"""
R_CONTACT = 0.05
"""A good wiper. [ohm]"""
I_NOTHING = 1e-13
"""A grid current that is none. [A]"""
BY_EYE = 0.03
"""Standard deviation of a position judged by eye; common practice. [1]"""
GAIN_SHARE = 0.5
"""Share of a meter's variance in proportion to the reading that is common to its readings. [1]"""

TEST_SPREAD = 0.35
"""Standard deviation of the logarithm of the current that a diode test drives, which no sheet
states; common practice. [1]"""

FIXED, BOX, EVEN, NORMAL = range(4)
_AGED = 25
"""From this age on carbon composition counts as drifted upwards. [year]"""
_MAINS_READ = 0.25
"""How far the mains may lie from nominal where it was read. [1]"""
_ZENER_SERIES = 0.3
"""Spread of a zener's dynamic resistance; common practice. [1]"""
_DRIFT = 0.10
"""How far it may have drifted beyond its tolerance and still be called sound; common practice:
10 to 20 % is common in old ones. [1]"""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a coordinate before any reading.

    Parameters
    ----------
    kind : int
        `FIXED` at `a`; `BOX`: exp(coordinate) even between exp(a) and exp(b); `EVEN`: the
        coordinate itself even between `a` and `b`; `NORMAL` with mean `a` and s.d. `b`.
    a, b : float
        See `kind`.
    """

    kind: int
    a: float
    b: float = 0.0


def fixed(x: float) -> Prior:
    """A coordinate that is certain."""
    return Prior(FIXED, x)


def within(nominal: float, below: float, above: float) -> Prior:
    """A positive quantity even within shares below and above its nominal value."""
    return Prior(BOX, math.log(nominal * (1.0 - below)), math.log(nominal * (1.0 + above)))


def between(low: float, high: float) -> Prior:
    """A positive quantity whose logarithm is even between two values."""
    return Prior(EVEN, math.log(low), math.log(high))


class Priors:
    """Priors of many rows of coordinates, each written with a standard normal score.

    Parameters
    ----------
    rows : sequence of sequence of Prior
        One row for each hypothesis, shape (rows, coordinates).
    """

    def __init__(self, rows: Sequence[Sequence[Prior]]) -> None:
        self.kind = np.array([[p.kind for p in row] for row in rows])
        self.a = np.array([[p.a for p in row] for row in rows])
        self.b = np.array([[p.b for p in row] for row in rows])

    @property
    def free(self) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Which coordinates are not certain, shape (rows, coordinates)."""
        free: np.ndarray[tuple[int, ...], np.dtype[np.bool_]] = self.kind != FIXED
        return free

    def at(self, u: Floats, rows: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
           ) -> tuple[Floats, Floats]:  # fmt: skip
        """Coordinates and their derivative by the scores.

        Parameters
        ----------
        u : array, shape (n, coordinates)
            Scores. [1]
        rows : array of int, shape (n,)
            To which row of the priors each belongs.

        Returns
        -------
        x, dx_du : array, shape (n, coordinates)
        """
        kind, a, b = self.kind[rows], self.a[rows], self.b[rows]
        share = normal_share(u)
        density = np.exp(-0.5 * u * u) / math.sqrt(2.0 * math.pi)
        x, slope = a.copy(), np.zeros_like(a)
        is_box = kind == BOX
        low, high = np.exp(a[is_box]), np.exp(b[is_box])
        inside = low + (high - low) * share[is_box]
        x[is_box] = np.log(inside)
        slope[is_box] = (high - low) * density[is_box] / inside
        is_even = kind == EVEN
        x[is_even] = a[is_even] + (b[is_even] - a[is_even]) * share[is_even]
        slope[is_even] = (b[is_even] - a[is_even]) * density[is_even]
        is_normal = kind == NORMAL
        x[is_normal] = a[is_normal] + b[is_normal] * u[is_normal]
        slope[is_normal] = b[is_normal]
        return x, slope


@dataclass(frozen=True)
class Coordinates:
    """The coordinates of a section under the conditions of some readings.

    Parameters
    ----------
    names : tuple of str
        "R3", "RV1", "RV1.top end", "RV1@2" (its position since turn 2), "dmm.dcv" and so on.
    sound : tuple of Prior
        What each is in a sound chassis.
    """

    names: tuple[str, ...]
    sound: tuple[Prior, ...]
    index: Mapping[str, int] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "index", {name: k for k, name in enumerate(self.names)})

    def __len__(self) -> int:
        return len(self.names)

    def row(self, changes: Mapping[str, Prior]) -> list[Prior]:
        """The priors of a chassis that is sound but for some coordinates."""
        row = list(self.sound)
        for name, prior in changes.items():
            row[self.index[name]] = prior
        return row


def coordinates(section: Section, readings: Sequence[Reading], year: int,
                undrawn: Sequence[str] = ()) -> Coordinates:  # fmt: skip
    """The coordinates of a section under the conditions of some readings.

    Parameters
    ----------
    section : Section
        The section.
    readings : sequence of Reading
        What was, or may be, read.
    year : int
        The year in which it was read: old carbon resistors may have drifted. [year]
    undrawn : sequence of str
        Leaks that are not drawn, which come last.
    """
    found: dict[str, Prior] = dict(_of_parts(section, year))
    found |= dict(_of_mains(section, readings))
    found |= dict(_of_positions(section, readings))
    found |= dict(_of_meters(readings))
    found |= dict.fromkeys(undrawn, fixed(math.log(R_NOTHING)))
    return Coordinates(tuple(found), tuple(found.values()))


def position(pot: str, state: State) -> str:
    """Name of the position of a pot: a new one each time it is turned.

    A pot that the sheet does not name was not touched: it has one position, unknown.
    """
    at = state.pots.get(pot)
    return f"{pot}@" if at is None else f"{pot}@{at.turn}"


def gain(meter: Meter, function: Function) -> str:
    """Name of the error of gain of a meter on a function."""
    return f"{meter.name}.{function.value}"


def test_current(meter: Meter) -> str:
    """Name of how far the current of a meter's diode test is from the usual one."""
    return f"{meter.name}.test current"


def _of_parts(section: Section, year: int) -> Iterator[tuple[str, Prior]]:
    drawn = _Drawn(section, year)
    for part in section.circuit.parts:
        of_kind = _OF_KIND.get(type(part))
        if of_kind is not None:
            yield from of_kind(drawn, part)


class _Drawn:
    """What is drawn, as numbers by parameter name."""

    def __init__(self, section: Section, year: int) -> None:
        self.section, self.year = section, year
        self.spread = spreads(section.circuit)
        values = nominal_values(section.circuit)
        self.nominal = {name: float(value) for name, value in values.items()}

    def sound(self, name: str) -> Prior:
        """A parameter within its tolerance."""
        return _sound(self.nominal[name], self.spread.get(name, 0.0))


_Named = Iterator[tuple[str, Prior]]


def _resistor(drawn: _Drawn, part: Resistor) -> _Named:
    is_old = part.year is not None and drawn.year - part.year >= _AGED
    yield part.name, _sound(part.r, drawn.spread.get(part.name, 0.0), _DRIFT if is_old else 0.0)


def _pot(drawn: _Drawn, part: Pot) -> _Named:
    name = part.name
    yield name, drawn.sound(name)
    end = drawn.nominal[f"{name}.end"]
    for which in ("top", "bottom"):
        yield f"{name}.{which} end", between(0.2 * end, min(2.5 * end, 0.3 * part.r))
    yield f"{name}.wiper", fixed(math.log(R_CONTACT))
    yield f"{name}.taper", fixed(0.0)
    yield f"{name}.turned", fixed(0.0)


def _capacitor(drawn: _Drawn, part: Capacitor) -> _Named:
    name = part.name
    yield name, drawn.sound(name)
    yield f"{name}.esr", between(*_sound_esr(part))
    yield f"{name}.leak", fixed(math.log(drawn.nominal.get(f"{name}.leak", R_NOTHING)))


def _winding(drawn: _Drawn, part: Winding) -> _Named:
    name = part.name
    yield name, drawn.sound(name)
    yield f"{name}.source", drawn.sound(f"{name}.source")
    # Of the resistance that acts in use, part is the primary's: a meter sees the rest. But who
    # drew it may have read the winding and left the primary out.
    yield f"{name}.copper", between(0.2, 1.25)
    for half in range(1 if part.centre is None else 2):
        yield f"{name}.break {half}", fixed(math.log(R_SHORT))


def _diode(drawn: _Drawn, part: Diode) -> _Named:
    name = part.name
    yield f"{name}.drop", drawn.sound(f"{name}.drop")
    yield f"{name}.series", fixed(math.log(max(drawn.nominal[f"{name}.series"], 1e-3)))
    yield f"{name}.leak", fixed(math.log(R_NOTHING))


def _zener(drawn: _Drawn, part: Zener) -> _Named:
    name = part.name
    yield name, drawn.sound(name)
    yield f"{name}.series", _sound(drawn.nominal[f"{name}.series"], _ZENER_SERIES)
    yield f"{name}.leak", fixed(math.log(R_NOTHING))


def _supply(drawn: _Drawn, part: Supply) -> _Named:
    name = part.name
    yield name, drawn.sound(name)
    yield f"{name}.source", _sound(max(part.r_source, 0.05), 0.2)
    # What is behind it when it is off (a winding, bleeders, nothing) is not drawn.
    yield f"{name}.off", between(max(0.5 * part.r_source, 1.0), 20e6)


def _tremolo(_: _Drawn, part: Tremolo) -> _Named:
    yield f"{part.name}.source", _sound(max(part.r_source, 0.05), 0.1)


def _valve(drawn: _Drawn, part: Valve) -> _Named:
    yield f"{part.name}.grid current", fixed(math.log(I_NOTHING))
    yield f"{part.name}.leak", fixed(math.log(R_NOTHING))
    yield f"{part.name}.current", Prior(NORMAL, 0.0, _spread_of(drawn.section, part))


_OF_KIND: Mapping[type[Part], Callable[[_Drawn, Any], _Named]] = {
    Resistor: _resistor,
    Pot: _pot,
    Capacitor: _capacitor,
    Winding: _winding,
    Diode: _diode,
    Zener: _zener,
    Supply: _supply,
    Tremolo: _tremolo,
    Valve: _valve,
}


def _sound(nominal: float, tolerance: float, drift: float = 0.0) -> Prior:
    if tolerance <= 0.0:
        return fixed(math.log(nominal))
    return within(nominal, tolerance, tolerance + drift)


def _sound_esr(part: Capacitor) -> tuple[float, float]:
    if part.esr:
        return 0.5 * part.esr, 2.0 * part.esr
    return (0.05, 4.0) if part.polarised else (0.01, 1.0)


def _spread_of(section: Section, valve: Valve) -> float:
    """Standard deviation of ln(current) of this valve. [1]"""
    kind = lookup(valve.type, section.circuit.own_types)
    ready = None if kind is None else idling_valve(valve, kind, section.circuit.high_tension)
    return SAMPLE_SPREAD if ready is None else ready.shift.spread


def _of_mains(section: Section, readings: Sequence[Reading]) -> Iterator[tuple[str, Prior]]:
    mains = section.circuit.mains
    if mains is None or not section.sources:
        return
    if any(reading.kind is Kind.MAINS for reading in readings):
        yield "mains", _sound(1.0, _MAINS_READ)  # whatever it is: the reading tells
    else:
        nominal = float(nominal_values(section.circuit)["mains"])
        yield "mains", _sound(nominal, assumed.mains_tolerance(mains))


def _of_positions(section: Section, readings: Sequence[Reading]) -> Iterator[tuple[str, Prior]]:
    told: dict[str, Position | None] = {}
    for reading in readings:
        for pot in section.circuit.of(Pot):
            at, name = reading.state.pots.get(pot.name), position(pot.name, reading.state)
            _check_turn(told, name, at)
            if at is None:
                yield name, Prior(EVEN, 0.0, 1.0)
            elif at.by_eye:
                yield name, Prior(NORMAL, at.travel, BY_EYE)
            else:
                yield name, fixed(at.travel)


def _check_turn(told: dict[str, Position | None], name: str, at: Position | None) -> None:
    before = told.setdefault(name, at)
    if at is not None and before is not None and not at.same_place(before):
        raise ValueError(f"{name}: one turn, but two positions")


def _of_meters(readings: Sequence[Reading]) -> Iterator[tuple[str, Prior]]:
    for meter in {r.meter.name: r.meter for r in readings}.values():
        yield f"{meter.name}.input", fixed(0.0)
        if any(r.meter.name == meter.name and r.kind in DIODE_TEST for r in readings):
            yield test_current(meter), Prior(NORMAL, 0.0, TEST_SPREAD)
        for function in dict.fromkeys(function_of(r.kind) for r in readings
                                      if r.meter.name == meter.name):  # fmt: skip
            share = meter.uncertainty(function, 1.0, 0.0).gain
            yield gain(meter, function), Prior(NORMAL, 0.0, 0.5 * share * math.sqrt(GAIN_SHARE))
