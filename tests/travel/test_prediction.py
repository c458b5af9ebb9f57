"""Predictions against handbook arithmetic, theory and general-purpose libraries."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.model import audio_law
from netcheck.parse import parse_circuit
from netcheck.port import PortCurve
from netcheck.predictor import Predictor
from netcheck.source import Source
from netcheck.tolerance import BandFinder, half_width_95, tolerances
from netcheck.travel import predict

from ..rules.base import BASE, changed

SUPPLY = """\
supply S1 plus ground minus raw 60 V source 1 ohm
resistor R1 from raw to top 10k 10%
pot RV1 top top wiper arm bottom foot 10k 20% end 1 ohm clockwise bottom
resistor R3 from foot to ground 20k 5%
resistor R4 from arm to grid 220k
valve V1 EL34 grid grid
"""


def predictor(text: str, service: Service) -> Predictor:
    circuit, findings = parse_circuit(Source("x", text))
    assert circuit is not None, findings
    return Predictor(Section(circuit), service)


def test_a_divider_by_hand(service: Service) -> None:
    """Handbook arithmetic: -60 V times (20k + 5k) / (10k + 10k + 20k + 1 ohm) at mid-travel."""
    found = predict(predictor(SUPPLY, service), travel=[0.0, 0.5, 1.0])
    total = 40e3 + 1.0
    by_hand = [-60.0 * r / total for r in (30e3 - 1.0, 25e3, 20e3 + 1.0)]
    assert found.mean[:, 0] == pytest.approx(by_hand, rel=1e-6)


def test_meter_loading_by_hand(service: Service) -> None:
    """Handbook arithmetic: 10 Mohm behind 220k reads 2.15 % low, 1 Mohm 18.0 % low."""
    text = (
        "supply S1 plus ground minus raw 60 V source 1 ohm\n"
        "resistor R4 from raw to grid 220k\nvalve V1 EL34 grid grid\n"
    )
    for meter, low in ((10e6, 0.0215), (1e6, 0.180)):
        found = predict(predictor(text, service), meter=meter)
        assert 1.0 - found.mean[0, 0] / -60.0 == pytest.approx(low, abs=6e-4)


def test_a_strapped_resistor_is_the_parallel_value(service: Service) -> None:
    """Theory: 33k with 82k across it acts as 1/(1/33k + 1/82k)."""
    strapped = SUPPLY.replace("20k 5%", "33k 5%") + "resistor R9 from foot to ground 82k\n"
    single = SUPPLY.replace("20k 5%", f"{1 / (1 / 33e3 + 1 / 82e3):.10g} ohm 5%")
    one, other = (predict(predictor(t, service)).mean for t in (strapped, single))
    assert one == pytest.approx(other, abs=1e-6)


def test_names_and_order_of_lines_make_no_difference(service: Service) -> None:
    plain = predict(predictor(BASE, service), travel=[0.3]).mean
    renamed = BASE.replace("sweep", "x1").replace("head", "x2").replace("raw", "zz")
    shuffled = "\n".join(reversed(renamed.splitlines())) + "\n"
    # The search for a steady state ends within 0.1 mV + 1e-5 of a voltage.
    assert predict(predictor(shuffled, service), travel=[0.3]).mean == pytest.approx(
        plain, abs=2e-3
    )


@pytest.mark.parametrize(
    ("line", "sign"),
    [
        ("resistor R3 from foot to ground 18k", -1.0),  # more in the foot: more negative
        ("resistor R3 from foot to ground 12k", 1.0),
        ("resistor R2 from raw to head 47k", 1.0),  # more in series: less negative
        ("resistor R2 from raw to head 33k", -1.0),
    ],
)
def test_common_practice_directions(line: str, sign: float, service: Service) -> None:
    plain, other = (predict(predictor(t, service), travel=[0.5]).mean[0, 0]
                    for t in (BASE, changed([line])))  # fmt: skip
    assert sign * (other - plain) > 0.3


def test_two_rectifiers_feed_two_pots(service: Service) -> None:
    """Two supplies that meet at ground only are cut each for itself."""
    second = "\n".join(BASE.splitlines()[2:-1])
    for word in ("T1", "R1", "D1", "C1", "R2", "RV1", "R3", "R6", "C2", "R4", "R5", "V1"):
        second = second.replace(f" {word} ", f" b{word} ")
    for node in ("tap", "feed", "raw", "head", "sweep", "foot", "grid1", "grid2"):
        second = second.replace(f" {node} ", f" b{node} ")
    second = second.replace("39k", "27k")
    second = "\n".join(line for line in second.splitlines() if " bR5 " not in line)
    both = predictor(BASE + second + "\n", service)
    assert both.section.cut is not None
    assert len(both.section.cut.ports) == 2
    found = predict(both)
    assert set(found.swept) == {"RV1", "bRV1"}
    assert found.fast_gap is not None
    assert found.fast_gap < 20e-3
    alone = predict(predictor(BASE, service)).mean[:, 0]
    column = found.watched.index("grid1")
    # Each search for a steady state ends within 0.1 mV + 1e-5 of every voltage.
    assert found.mean[:, column] == pytest.approx(alone, abs=5e-3)


def test_audio_law_passes_its_points() -> None:
    """MIL-R-94 taper C (from memory): 10 % of the resistance at half rotation."""
    assert audio_law(np.array([0.0, 0.5, 1.0]), 0.10) == pytest.approx([0.0, 0.10, 1.0])
    assert audio_law(np.array([0.0, 0.5, 1.0]), 0.15) == pytest.approx([0.0, 0.15, 1.0])


def test_the_port_curve_against_scipy() -> None:
    """The same monotone cubic as scipy's, over the same axis."""
    i = -np.array([1e-4, 5e-4, 1e-3, 2e-3, 5e-3, 1e-2])
    v = np.array([-66.0, -64.0, -62.5, -60.0, -55.0, -48.0])
    curve = PortCurve(i, v)
    at = np.linspace(-9e-3, -2e-4, 50)
    x = np.sign(curve.i) * np.abs(curve.i) ** curve.power
    theirs = PchipInterpolator(x, curve.v)(np.sign(at) * np.abs(at) ** curve.power)
    assert curve.at(at)[0] == pytest.approx(theirs, rel=1e-9)


def test_meeting_the_curve_against_a_root_finder() -> None:
    i = -np.array([1e-4, 1e-3, 5e-3, 1e-2])
    curve = PortCurve(i, np.array([-66.0, -62.0, -55.0, -48.0]))
    for g in (2e-6, 3e-5, 1.5e-4):
        v, _ = curve.meet(np.array([0.0]), np.array([g]))
        root = brentq(lambda u, g=g: u - float(curve.at(np.array([g * u]))[0][0]), -70.0, -1.0)
        assert v[0] == pytest.approx(root, abs=1e-6)


def test_the_band_against_monte_carlo(service: Service) -> None:
    """20,000 seeded chassis over the fast path: the analytic band within sampling error."""
    drawn = predictor(SUPPLY, service)
    settings = {"RV1.travel": np.array([0.5])}
    band = BandFinder(drawn, settings, ["grid"]).find()
    random, n = np.random.default_rng(1), 20_000
    values = dict(drawn.values())
    for name, tolerance in tolerances(drawn.section, ()).items():
        values[name] = values[name] * (1.0 + tolerance * random.uniform(-1.0, 1.0, n))
    sampled = drawn.means(values, n).at("grid")
    low, high = np.quantile(sampled, [0.025, 0.975])
    # A quantile of so many samples is known to some 1 % of the band; that the divider bends
    # over 20 % of the pot's tolerance, which the linear band leaves out, is another 3 %.
    width = high - low
    assert band.low_95[0, 0] == pytest.approx(low, abs=0.05 * width)
    assert band.high_95[0, 0] == pytest.approx(high, abs=0.05 * width)
    assert sampled.min() >= band.low[0, 0] - 1e-9
    assert sampled.max() <= band.high[0, 0] + 1e-9


def test_the_worst_case_is_the_worst_corner(service: Service) -> None:
    """All corners of a small circuit, tried one by one."""
    drawn = predictor(SUPPLY, service)
    band = BandFinder(drawn, {"RV1.travel": np.array([0.5])}, ["grid"]).find()
    limits = tolerances(drawn.section, ())
    corners = []
    for signs in itertools.product((-1.0, 1.0), repeat=len(limits)):
        values = dict(drawn.values())
        for (name, tolerance), sign in zip(limits.items(), signs, strict=True):
            values[name] = values[name] * (1.0 + sign * tolerance)
        corners.append(float(drawn.means(values).at("grid")[0]))
    assert band.low[0, 0] == pytest.approx(min(corners), abs=1e-6)
    assert band.high[0, 0] == pytest.approx(max(corners), abs=1e-6)


def test_the_half_width_of_known_sums() -> None:
    """One even spread: 95 % of it. Many equal ones: the normal law (central limit theorem)."""
    assert half_width_95(np.array([[1.0]]))[0] == pytest.approx(0.95)
    assert half_width_95(np.ones((100, 1)))[0] == pytest.approx(1.96 * np.sqrt(100 / 3), rel=0.01)


def test_dissipation_by_hand(service: Service) -> None:
    """P = I^2 R: 60 V across 40,001 ohm is 1.5 mA."""
    found = predict(predictor(SUPPLY, service), travel=[0.5])
    i = 60.0 / (40e3 + 1.0)
    assert found.work["R3"].power == pytest.approx(i * i * 20e3, rel=1e-6)
    assert found.work["RV1"].power == pytest.approx(i * i * 10e3, rel=1e-6)
    assert abs(found.work["R1"].i_mean) == pytest.approx(i, rel=1e-6)


def test_the_mean_current_of_the_rectifier_is_that_of_the_load(service: Service) -> None:
    """Over a period no mean current flows into a capacitor."""
    found = predict(predictor(BASE, service), travel=[0.5])
    assert found.work["D1"].i_mean == pytest.approx(abs(found.work["R2"].i_mean), rel=2e-3)


def test_the_bias_comes_up_with_its_time_constant(service: Service) -> None:
    """90 % of an exponential are reached after ln(10) time constants (theory)."""
    slow = changed(["capacitor C2 plus ground minus sweep 100 uF 63 V"])
    quick = predict(predictor(BASE, service)).start
    late = predict(predictor(slow, service)).start
    assert quick is not None
    assert late is not None
    assert quick.times["grid1"] is not None
    assert late.times["grid1"] is not None
    # Thevenin at the wiper, by hand: (39k + 5k) parallel (15k + 5k), with 220k from the head
    # hardly counting: some 13.5k; 2.3 R C of 100 uF are 3.1 s.
    assert late.times["grid1"] == pytest.approx(2.303 * 13.5e3 * 100e-6, rel=0.15)
    assert quick.times["grid1"] < 0.3 * late.times["grid1"]
