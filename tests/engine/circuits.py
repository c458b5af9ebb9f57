"""Bias supplies of every usual arrangement, with invented values."""

from __future__ import annotations

import math
from collections.abc import Callable

from netcheck.engine.elements import (
    GROUND,
    Capacitance,
    Element,
    Junction,
    Resistance,
    SineSource,
)

Made = tuple[list[Element], float]
"""The elements and the frequency of the mains. [Hz]"""


def diode(name: str, anode: str, cathode: str) -> Junction:
    """A silicon rectifier: 0.65 V at 10 mA or so."""
    return Junction(name, anode, cathode, i_s=5e-9, n=1.9, r_s=0.05)


def winding(name: str, a: str, b: str, v_rms: float) -> SineSource:
    return SineSource(name, a, b, math.sqrt(2) * v_rms)


def network(c2: float = 10e-6, r_series: float = 4.7e3, gl: float = 220e3) -> list[Element]:
    """Smoothing, a pot at 60 % above a foot resistor, a grid; hangs on node "n"."""
    return [
        Resistance("R series", "n", "m", r_series),
        Capacitance("C2", GROUND, "m", c2),
        Resistance("pot top", "m", "w", 10e3),
        Resistance("pot bottom", "w", "f", 15e3),
        Resistance("foot", "f", GROUND, 22e3),
        Resistance("grid leak", "w", "g", gl),
        Resistance("meter", "g", GROUND, 10e6),
    ]


def half_wave(c1: float = 22e-6, r: float = 100.0) -> Made:
    return [
        winding("W", "a", GROUND, 50.0),
        Resistance("R winding", "a", "b", r),
        diode("D1", "n", "b"),
        Capacitance("C1", GROUND, "n", c1),
        *network(),
    ], 50.0


def full_wave() -> Made:
    return [
        winding("W upper", "a", GROUND, 50.0),
        winding("W lower", GROUND, "c", 50.0),
        Resistance("R upper", "a", "b", 60.0),
        Resistance("R lower", "c", "d", 60.0),
        diode("D1", "n", "b"),
        diode("D2", "n", "d"),
        Capacitance("C1", GROUND, "n", 22e-6),
        *network(),
    ], 60.0


def bridge() -> Made:
    """The winding floats: only the diodes tie it to ground."""
    return [
        winding("W", "a", "b", 50.0),
        Resistance("R winding", "a", "c", 60.0),
        diode("D1", "c", GROUND),
        diode("D2", "b", GROUND),
        diode("D3", "n", "c"),
        diode("D4", "n", "b"),
        Capacitance("C1", GROUND, "n", 22e-6),
        *network(),
    ], 60.0


def cascade_doubler() -> Made:
    return [
        winding("W", "a", GROUND, 30.0),
        Resistance("R winding", "a", "b", 60.0),
        Capacitance("C in", "b", "x", 22e-6),
        diode("D1", "x", GROUND),
        diode("D2", "n", "x"),
        Capacitance("C1", GROUND, "n", 22e-6),
        *network(),
    ], 50.0


def stacked_doubler() -> Made:
    """Two half-wave rectifiers in series: two capacitors between supply and ground."""
    return [
        winding("W", "a", "mid", 30.0),
        Resistance("R winding", "a", "b", 60.0),
        diode("D1", "b", GROUND),
        diode("D2", "n", "b"),
        Capacitance("C upper", GROUND, "mid", 22e-6),
        Capacitance("C lower", "mid", "n", 22e-6),
        Resistance("bleeder upper", GROUND, "mid", 220e3),
        Resistance("bleeder lower", "mid", "n", 220e3),
        *network(),
    ], 50.0


def capacitor_coupled() -> Made:
    """From a 320 V winding through 100 nF, clamped by a second diode."""
    return [
        winding("W", "a", GROUND, 320.0),
        Resistance("R winding", "a", "b", 150.0),
        Capacitance("C coupling", "b", "x", 100e-9),
        diode("D1", "x", GROUND),
        diode("D2", "n", "x"),
        Capacitance("C1", GROUND, "n", 4.7e-6),
        *network(c2=4.7e-6),
    ], 50.0


def capacitor_coupled_divider() -> Made:
    """From the same winding through 47 nF into a resistor, half-wave."""
    return [
        winding("W", "a", GROUND, 320.0),
        Resistance("R winding", "a", "b", 150.0),
        Capacitance("C coupling", "b", "x", 47e-9),
        Resistance("R x", "x", "y", 47e3),
        Resistance("R y", "y", GROUND, 100e3),
        diode("D1", "n", "y"),
        Capacitance("C1", GROUND, "n", 2.2e-6),
        *network(c2=2.2e-6),
    ], 50.0


def dropped_tap() -> Made:
    """From a high-tension winding through a large dropper."""
    return [
        winding("W", "a", GROUND, 300.0),
        Resistance("dropper", "a", "b", 100e3),
        diode("D1", "n", "b"),
        Capacitance("C1", GROUND, "n", 4.7e-6),
        *network(c2=4.7e-6),
    ], 60.0


def parallel_capacitors() -> Made:
    """Loops of capacitors: one across the reservoir, and two in series across it."""
    elements, frequency = half_wave()
    return [
        *elements,
        Capacitance("C parallel", GROUND, "n", 4.7e-6),
        Capacitance("C series 1", "n", "s", 2.2e-6),
        Capacitance("C series 2", "s", GROUND, 1e-6),
        Resistance("R series middle", "s", GROUND, 100e3),
    ], frequency


def six_capacitors() -> Made:
    """A bridge with a snubber, a reservoir with series resistance, a smoothed wiper and grid."""
    elements, frequency = bridge()
    return [
        *elements,
        Capacitance("C snubber", "c", "b", 10e-9),
        Resistance("ESR", "n", "e", 2.0),
        Capacitance("C more", "e", GROUND, 10e-6),
        Capacitance("C wiper", GROUND, "w", 1e-6),
        Capacitance("C grid", GROUND, "g", 100e-9),
    ], frequency


def series_resistance() -> Made:
    """A worn reservoir: 20 ohm in series with it."""
    elements, frequency = half_wave()
    kept = [element for element in elements if element.name != "C1"]
    worn: list[Element] = [Resistance("ESR", "n", "e", 20.0), Capacitance("C1", GROUND, "e", 22e-6)]
    return [*kept, *worn], frequency


def no_capacitor() -> Made:
    elements, frequency = half_wave()
    return [e for e in elements if not isinstance(e, Capacitance)], frequency


KINDS: dict[str, Callable[[], Made]] = {
    make.__name__: make
    for make in (
        half_wave,
        full_wave,
        bridge,
        cascade_doubler,
        stacked_doubler,
        capacitor_coupled,
        capacitor_coupled_divider,
        dropped_tap,
        parallel_capacitors,
        six_capacitors,
        series_resistance,
        no_capacitor,
    )
}
