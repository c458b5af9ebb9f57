"""Capacitor-input rectifiers against the theory of the conduction angle.

O. H. Schade, "Analysis of rectifier operation", Proc. IRE 31 (July 1943), 341-361, treats
an ideal diode with a resistance R_s before a reservoir so large that its voltage is constant.
The diode conducts while the sine is above that voltage, over an angle of 2 phi around the
peak; the mean of (V_p cos x - V_dc)/R_s over that angle must be the load's V_dc/R_L. With
V_dc = V_p cos(phi) this is

    tan(phi) - phi = pi R_s / R_L        half-wave,

and half of it full-wave, where two pulses share the load. It is solved here, not read off
Schade's curves. The theory has no diode drop: the simulated diodes have an n V_T of a quarter
of a millivolt, so that theirs is some 6 mV in 100 V.
"""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from netcheck.engine.elements import (
    GROUND,
    Capacitance,
    CurrentSource,
    Element,
    Junction,
    Resistance,
    SineSource,
    SteadyState,
)
from netcheck.engine.service import Service
from netcheck.engine.steady import steady_state

V_PEAK = 100.0
R_L = 10e3
RATIOS = (0.005, 0.01, 0.05, 0.10, 0.30)
"""R_s / R_L. [1]"""

TABLED = {
    "half": (0.9376, 0.9035, 0.7518, 0.6455, 0.4364),
    "full": (0.9601, 0.9376, 0.8322, 0.7518, 0.5724),
}
"""V_dc / V_p at `RATIOS`, as it is commonly tabled to four digits. [1]"""


def conduction_angle(ratio: float, kind: str) -> float:
    """Half the angle over which a diode conducts. [rad]"""
    target = math.pi * ratio / (2 if kind == "full" else 1)
    return float(brentq(lambda phi: math.tan(phi) - phi - target, 1e-6, math.pi / 2 - 1e-9))


def ideal(name: str, anode: str, cathode: str) -> Junction:
    return Junction(name, anode, cathode, i_s=1e-12, n=0.01, r_s=0.0)


def rectifier(kind: str, ratio: float, frequency: float, load: list[Element]) -> list[Element]:
    """A positive supply at node "n", without its reservoir."""
    elements: list[Element] = [
        SineSource("W1", "a", GROUND, V_PEAK),
        Resistance("Rs1", "a", "b", ratio * R_L),
        ideal("D1", "b", "n"),
        *load,
    ]
    if kind == "full":
        elements += [
            SineSource("W2", GROUND, "c", V_PEAK),
            Resistance("Rs2", "c", "d", ratio * R_L),
            ideal("D2", "d", "n"),
        ]
    return elements


def solve(
    service: Service, kind: str, ratio: float, c: float, frequency: float = 50.0
) -> SteadyState:
    load: list[Element] = [Resistance("RL", "n", GROUND, R_L)]
    if c:
        load.append(Capacitance("C", "n", GROUND, c))
    state = steady_state(rectifier(kind, ratio, frequency, load), frequency, service=service)
    assert state.converged
    return state


@pytest.mark.parametrize("kind", TABLED)
@pytest.mark.parametrize("k", range(len(RATIOS)))
def test_tabled_values_are_those_of_the_equation(kind: str, k: int) -> None:
    assert round(math.cos(conduction_angle(RATIOS[k], kind)), 4) == TABLED[kind][k]


@pytest.mark.parametrize("ratio", [0.002, 0.01, 0.08, 0.5])
def test_full_wave_is_half_wave_with_half_the_resistance(ratio: float) -> None:
    assert conduction_angle(ratio, "full") == pytest.approx(conduction_angle(ratio / 2, "half"))


@pytest.mark.parametrize("kind", TABLED)
@pytest.mark.parametrize("ratio", RATIOS)
@pytest.mark.parametrize("frequency", [50.0, 60.0])
def test_mean_voltage(service: Service, kind: str, ratio: float, frequency: float) -> None:
    """1 mF keeps the ripple below 0.2 %, and a mean over it feels a tenth of that at most."""
    state = solve(service, kind, ratio, 1e-3, frequency)
    expected = V_PEAK * math.cos(conduction_angle(ratio, kind))
    assert state.mean("n") == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize("kind", TABLED)
@pytest.mark.parametrize("c", [100e-6, 300e-6, 1e-3, 10e-3])
def test_reservoir_large_enough_does_not_matter(service: Service, kind: str, c: float) -> None:
    """From omega C R_L = 300 on the mean no longer depends on the capacitor."""
    expected = V_PEAK * math.cos(conduction_angle(0.05, kind))
    assert solve(service, kind, 0.05, c).mean("n") == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("kind", TABLED)
@pytest.mark.parametrize("ratio", RATIOS)
def test_conduction_angle(service: Service, kind: str, ratio: float) -> None:
    """The diode conducts for 2 phi of the period, as its current shows."""
    waves = solve(service, kind, ratio, 1e-3).waves
    conducting = (waves.i["D1"] > 1e-6).astype(float)
    angle = waves.mean(conducting) * 2 * math.pi
    # Its edges are known to one of the 200 points of the period, on both sides.
    assert angle == pytest.approx(2 * conduction_angle(ratio, kind), abs=2 * 2 * math.pi / 200)


@pytest.mark.parametrize("kind", TABLED)
@pytest.mark.parametrize("ratio", RATIOS)
def test_peak_current(service: Service, kind: str, ratio: float) -> None:
    """(V_p - V_dc) / R_s at the peak of the sine."""
    waves = solve(service, kind, ratio, 1e-3).waves
    expected = V_PEAK * (1 - math.cos(conduction_angle(ratio, kind))) / (ratio * R_L)
    # A current set by the small difference of two voltages, each within 0.2 %; see the
    # ripple: it moves V_dc during the pulse.
    tolerance = 2e-3 * V_PEAK / (ratio * R_L)
    assert waves.i["D1"].max() == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(("kind", "limit"), [("half", 1 / math.pi), ("full", 2 / math.pi)])
@pytest.mark.parametrize("ratio", RATIOS)
def test_without_reservoir(service: Service, kind: str, limit: float, ratio: float) -> None:
    """The mean of a rectified sine, less what R_s takes."""
    state = solve(service, kind, ratio, 0.0)
    assert state.mean("n") == pytest.approx(V_PEAK * limit / (1 + ratio), rel=2e-3)


@pytest.mark.parametrize(("kind", "pulses", "share"), [("half", 1, 0.85), ("full", 2, 0.77)])
@pytest.mark.parametrize("frequency", [50.0, 60.0])
def test_ripple(service: Service, kind: str, pulses: int, share: float, frequency: float) -> None:
    """At most I / (f C) half-wave, I / (2 f C) full-wave; at R_s/R_L = 1 % some 0.85 and 0.77
    of that, since the capacitor does not discharge while the diode conducts.
    """
    c = 100e-6
    state = solve(service, kind, 0.01, c, frequency)
    bound = state.mean("n") / R_L / (pulses * frequency * c)
    assert state.ripple("n") < bound
    assert state.ripple("n") == pytest.approx(share * bound, rel=0.02)


@pytest.mark.parametrize("kind", TABLED)
@pytest.mark.parametrize("share", [0.3, 1.0, 3.0])
def test_mean_against_current_drawn(service: Service, kind: str, share: float) -> None:
    """The same theory with a current for a load: V_dc / I takes the place of R_L."""
    frequency, ratio = 50.0, 0.02
    i = share * 0.8 * V_PEAK / R_L
    load: list[Element] = [
        CurrentSource("I", "n", GROUND, i), Capacitance("C", "n", GROUND, 1e-3),
    ]  # fmt: skip
    state = steady_state(rectifier(kind, ratio, frequency, load), frequency, service=service)
    r_load = state.mean("n") / i
    expected = V_PEAK * math.cos(conduction_angle(ratio * R_L / r_load, kind))
    assert state.mean("n") == pytest.approx(expected, rel=5e-3)
