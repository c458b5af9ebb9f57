"""Whole bias sections against differential equations, and against rules of the trade."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.source import Source
from netcheck.travel import predict

from ..engine.ode import V_T, Rectifier

HALF_WAVE = """\
mains 230 V 50 Hz
winding T1 from ground to tap 48 Vac source 60 ohm
resistor R1 from tap to feed 470
diode D1 anode raw cathode feed 1000 V drop 0.7 V resistance 0.05 ohm
capacitor C1 plus ground minus raw 47 uF
"""
FULL_WAVE = """\
mains 120 V 60 Hz
winding T1 from ac1 centre ground to ac2 48-0-48 Vac source 60 ohm
diode D1 anode raw cathode ac1 1000 V drop 0.7 V resistance 0.05 ohm
diode D2 anode raw cathode ac2 1000 V drop 0.7 V resistance 0.05 ohm
capacitor C1 plus ground minus raw 22 uF
"""
BEHIND = """\
resistor R2 from raw to head 4k7
capacitor C2 plus ground minus head 10 uF
pot RV1 top head wiper sweep bottom foot 10k end 100 ohm clockwise bottom
resistor R3 from foot to ground 27k
resistor R6 from head to sweep 220k
resistor R4 from sweep to grid1 220k
valve V1 6V6GT grid grid1
"""


def predictor_of(text: str, service: Service) -> Predictor:
    circuit, findings = parse_circuit(Source("circuit", text))
    assert circuit is not None, findings
    return Predictor(Section(circuit), service)


@pytest.mark.parametrize("kind", ["half-wave", "full-wave"])
def test_whole_sections_as_differential_equations(kind: str, service: Service) -> None:
    """scipy's solve_ivp, the diode's law by the Wright omega function: no code in common.

    Within 0.1 %: the largest time step of a simulation, a 200th of the period, allows for 0.03 %.
    """
    full = kind == "full-wave"
    predictor = predictor_of((FULL_WAVE if full else HALF_WAVE) + BEHIND, service)
    # 0.7 V at 10 mA with an emission coefficient of 1.8.
    n, v_drop, i_drop = 1.8, 0.7, 10e-3
    for travel in (0.0, 0.3, 1.0):
        # Clockwise is the bottom: travel 0 leaves the wiper at the top.
        upper, lower = 100.0 + 9800.0 * travel, 100.0 + 9800.0 * (1.0 - travel) + 27e3
        upper = 1.0 / (1.0 / upper + 1.0 / 220e3)
        rectifier = Rectifier(
            v_peak=48.0 * math.sqrt(2.0), frequency=60.0 if full else 50.0, full=full,
            r=60.05 if full else 530.05, c1=22e-6 if full else 47e-6, c2=10e-6,
            i_s=i_drop / math.exp(v_drop / (n * V_T)), n=n, r_series=4.7e3, r_rest=upper + lower,
        )  # fmt: skip
        v_raw, v_head = rectifier.steady_means(np.array([60.0, 55.0]))
        whole = predictor.whole(predictor.values(travel))
        assert whole.mean["raw"] == pytest.approx(-v_raw, rel=1e-3)
        assert whole.mean["grid1"] == pytest.approx(-v_head * lower / (upper + lower), rel=1e-3)


def test_two_resistors_in_series_are_their_sum(service: Service) -> None:
    """Theory. In two steady states each within 0.1 mV + 1e-5 of every voltage."""
    split = BEHIND.replace("R3 from foot to ground 27k", "R3 from foot to mid 12k")
    split += "resistor R9 from mid to ground 15k\n"
    one, two = (predict(predictor_of(HALF_WAVE + text, service), with_start=False)
                for text in (BEHIND, split))  # fmt: skip
    assert two.mean == pytest.approx(one.mean, abs=3e-3)


def test_a_box_stepped_down_across_the_foot(service: Service) -> None:
    """Common practice: it only ever makes the grid less negative, little at first, then much."""
    predictor = predictor_of(HALF_WAVE + BEHIND + "resistor R9 from foot to ground 1M\n", service)
    box = np.array([1e6, 330e3, 100e3, 33e3, 10e3, 3.3e3])
    grid = predictor.means(predictor.values() | {"R9": box}).at("grid1")
    steps = np.diff(grid)
    assert np.all(steps > 0)
    assert np.all(np.diff(steps[:-1]) > 0)
    assert steps[-2] > 10.0 * steps[0]


def test_a_lifting_wiper_drives_the_grid_more_negative(service: Service) -> None:
    """Common practice: a resistor from the head to the wiper sees to it."""
    sound = predict(predictor_of(HALF_WAVE + BEHIND, service), with_start=False)
    lifted = BEHIND.replace("wiper sweep", "wiper loose") + "elsewhere loose\n"
    predictor = predictor_of(HALF_WAVE + lifted, service)
    worn = predictor.whole(predictor.values()).mean["grid1"]
    # No current flows in the safety resistor then: all of the head's volts, with nothing taken.
    assert worn < float(sound.mean.min()) - 0.05
    assert worn == pytest.approx(predictor.whole(predictor.values()).mean["head"], rel=1e-3)


@pytest.mark.parametrize(
    ("taper", "clockwise", "share"),
    [
        ("linear", "top", 0.25),
        ("linear", "bottom", 0.75),
        # The exponential through 0, 10 % at half rotation, and 1: (81^t - 1)/80 (MIL-R-94, C).
        ("audio", "top", (3.0 - 1.0) / 80.0),
        ("audio", "bottom", 1.0 - (3.0 - 1.0) / 80.0),
        ("reverse audio", "top", 1.0 - (81.0**0.75 - 1.0) / 80.0),
        ("reverse audio", "bottom", (81.0**0.75 - 1.0) / 80.0),
    ],
)
def test_tapers_at_a_quarter_of_the_rotation(
    taper: str, clockwise: str, share: float, service: Service
) -> None:
    """A pot across 100 V: the wiper's share of the track by hand."""
    text = (
        "supply S1 plus ground minus raw 100 V\n"
        f"pot RV1 top raw wiper arm bottom ground 10k {taper} clockwise {clockwise} end 1 ohm\n"
        "resistor R4 from arm to grid1 220k\nvalve V1 EL34 grid grid1\n"
    )
    found = predict(predictor_of(text, service), travel=[0.25]).mean[0, 0]
    # 1 ohm of 10k is left at either end, and a supply has 1 mohm at least.
    assert found == pytest.approx(-100.0 * (1.0 + share * 9998.0) / 10e3, rel=1e-6)
