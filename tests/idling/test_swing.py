"""The swing of a tremolo at the grids."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netcheck.engine.elements import Capacitance, DcSource, Element, Resistance, SineSource
from netcheck.engine.service import Service
from netcheck.engine.steady import steady_state
from netcheck.graph import Section
from netcheck.model import nominal_values
from netcheck.netlist import Capacitor, Circuit, Resistor, Supply, Tremolo, Valve
from netcheck.swing import swings


def section(r_leak: float, c: float, v_pp: float = 10.0, frequency: float = 5.0) -> Section:
    """-40 V behind 100k, smoothed by `c`, with a tremolo coupled to the line by 100 nF."""
    parts = (
        Supply(name="S1", plus="ground", minus="raw", v=40.0, r_source=100.0),
        Resistor(name="R1", start="raw", end="line", r=100e3),
        Capacitor(name="C1", start="ground", end="line", c=c, polarised=True),
        Capacitor(name="C2", start="osc", end="line", c=100e-9, polarised=False),
        Tremolo(name="OSC", start="ground", end="osc", v_pp=v_pp, frequency=frequency,
                r_source=10e3),
        Resistor(name="R2", start="line", end="grid", r=r_leak),
        Valve(name="V1", type="EL34", grid="grid"),
    )  # fmt: skip
    return Section(Circuit("", None, parts))


def test_by_hand_where_nothing_smooths() -> None:
    """A divider of impedances, handbook arithmetic: 100k + 100 ohm against 10k and 100 nF."""
    drawn = section(220e3, 1e-12)
    found = swings(drawn, nominal_values(drawn.circuit), {}, {})
    below = 100e3 + 100.0
    above = 10e3 + 1 / (2j * math.pi * 5.0 * 100e-9)
    # One picofarad of smoothing is left, a hundred-thousandth at 5 Hz.
    assert found["grid"] == pytest.approx(5.0 * abs(below / (below + above)), rel=1e-4)


def test_against_ngspice(service: Service) -> None:
    """The same circuit simulated at 5 Hz."""
    drawn = section(220e3, 220e-9)
    found = swings(drawn, nominal_values(drawn.circuit), {}, {})
    parts: list[Element] = [
        DcSource("S", "ground", "inner", 40.0),
        Resistance("Rs", "inner", "raw", 100.0),
        Resistance("R1", "raw", "line", 100e3),
        Capacitance("C1", "line", "ground", 220e-9),
        Capacitance("C2", "osc", "line", 100e-9),
        SineSource("OSC", "emf", "ground", 5.0),
        Resistance("Ro", "emf", "osc", 10e3),
        Resistance("R2", "line", "grid", 220e3),
        Resistance("Rg", "grid", "ground", 1e9),
    ]
    state = steady_state(parts, 5.0, service=service)
    # 200 points to the period place the peaks within 0.02 %, the gigohm takes 0.02 %.
    assert found["grid"] == pytest.approx(state.ripple("grid") / 2.0, rel=2e-3)


def test_swing_is_in_proportion_and_falls_with_smoothing() -> None:
    def swing(**fields: float) -> float:
        drawn = section(220e3, **{"c": 1e-6, **fields})
        return swings(drawn, nominal_values(drawn.circuit), {}, {})["grid"]

    assert swing(v_pp=20.0) == pytest.approx(2.0 * swing(v_pp=10.0))
    assert swing(c=10e-6) < 0.2 * swing(c=1e-6)
    assert np.isfinite(swing(c=1e-3))
