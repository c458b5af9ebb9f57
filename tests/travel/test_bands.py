"""Bands where parts in front of the port count too, against whole simulations of chassis."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from netcheck.engine.elements import Floats
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.model import Value
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.resources import folder
from netcheck.source import Source
from netcheck.tolerance import Band, BandFinder, tolerances

from .test_tracing import HALF_WAVE, LADDER, ZENER


def predictor_of(text: str, service: Service) -> Predictor:
    circuit, findings = parse_circuit(Source("circuit", text))
    assert circuit is not None, findings
    return Predictor(Section(circuit), service)


def band_of(predictor: Predictor, travel: Floats) -> Band:
    settings = {f"{pot.name}.travel": travel for pot in predictor.pots()}
    return BandFinder(predictor, settings, ["grid1"]).find()


def shifted(predictor: Predictor, travel: float, shifts: dict[str, float]) -> dict[str, Value]:
    values = predictor.values(travel)
    for name, shift in shifts.items():
        values[name] = values.get(name, 1.0) * (1.0 + shift)
    return values


def simulated(predictor: Predictor, states: list[dict[str, Value]]) -> Floats:
    return np.array([op.mean["grid1"] for op in predictor.wholes([(v, ()) for v in states])])


@pytest.mark.parametrize("name", ["two-6l6gc-selenium", "two-el34-coupled"])
def test_against_chassis_simulated_whole(name: str, service: Service) -> None:
    """300 seeded chassis each, every part anywhere within its tolerance.

    Of so many, 95 % are known to 1.3 %; the 95 % band must hold 95 % within four of these.
    """
    predictor = predictor_of((folder("circuits") / f"{name}.bias").read_text("utf-8"), service)
    band = band_of(predictor, np.array([0.5]))
    limits = tolerances(predictor.section, ())
    random = np.random.default_rng(3)
    states: list[dict[str, Value]] = []
    wild: list[dict[str, Value]] = []
    for k in range(300):
        shifts = {part: t * random.uniform(-1.0, 1.0) for part, t in limits.items()}
        (wild if k < 100 else states).append(shifted(predictor, 0.5, shifts))
        if k >= 100:
            states[-1]["mains"] = predictor.values()["mains"]
    settled = simulated(predictor, states)
    inside = (settled > band.low_95[0, 0]) & (settled < band.high_95[0, 0])
    assert np.mean(inside) == pytest.approx(0.95, abs=4.0 * np.sqrt(0.95 * 0.05 / 200))
    everything = np.concatenate([settled, simulated(predictor, wild)])
    assert everything.min() >= band.low[0, 0]
    assert everything.max() <= band.high[0, 0]


def test_the_worst_corner_of_all_simulated_whole(service: Service) -> None:
    """All 256 corners of mains, winding, diode, reservoir, resistors, pot: tried one by one."""
    predictor = predictor_of(HALF_WAVE + LADDER, service)
    band = band_of(predictor, np.array([0.3]))
    limits = tolerances(predictor.section, ())
    names = [name for name in limits if name in band.effects]
    assert len(names) == 8, names
    corners = simulated(predictor, [
        shifted(predictor, 0.3, {n: s * limits[n] for n, s in zip(names, signs, strict=True)})
        for signs in itertools.product((-1.0, 1.0), repeat=len(names))
    ])  # fmt: skip
    # The fast path may err by 0.1 % or 20 mV.
    assert band.low[0, 0] == pytest.approx(corners.min(), rel=1e-3)
    assert band.high[0, 0] == pytest.approx(corners.max(), rel=1e-3)


NEARLY_DIRECT = """\
pot RV1 top raw wiper arm bottom open 4k7 linear
resistor R3 from arm to ground 18k
capacitor C3 plus ground minus arm 10 uF
resistor R4 from arm to grid1 270k
valve V1 EL34 grid grid1
"""


@pytest.mark.parametrize(
    ("text", "off"),
    [
        (HALF_WAVE + ZENER, 1e-3),
        # What parts in front add is traced with the pot in the middle; at one end of this one
        # the smoothing capacitor becomes part of the reservoir, whose tolerance then adds less.
        (HALF_WAVE.replace("47 uF", "8 uF") + NEARLY_DIRECT, 8e-3),
    ],
    ids=["zener-near-its-knee", "smoothing-near-the-reservoir"],
)
def test_corners_where_curves_bend(text: str, off: float, service: Service) -> None:
    predictor = predictor_of(text, service)
    travel = np.array([0.0, 0.5, 1.0])
    band, limits = band_of(predictor, travel), tolerances(predictor.section, ())
    for side, edge in ((-1.0, band.low), (1.0, band.high)):
        corners = simulated(predictor, [
            shifted(predictor, float(at), {name: side * float(np.sign(effect[k, 0])) * limits[name]
                                           for name, effect in band.effects.items()})
            for k, at in enumerate(travel)
        ])  # fmt: skip
        assert edge[:, 0] == pytest.approx(corners, rel=off)


def test_a_section_that_cannot_be_cut_has_the_same_band(service: Service) -> None:
    """A clamp diode at the grid that never conducts changes the way, not the answer.

    Away from the positions that are simulated what a part adds is interpolated: some 30 mV.
    """
    plain = predictor_of(HALF_WAVE + LADDER, service)
    clamp = "diode D9 anode grid1 cathode ground 1000 V\n"
    clamped = predictor_of(HALF_WAVE + LADDER + clamp, service)
    assert plain.network is not None
    assert clamped.network is None
    travel = np.linspace(0.0, 1.0, 6)
    one, other = band_of(plain, travel), band_of(clamped, travel)
    for edge in ("low", "high"):
        assert getattr(other, edge) == pytest.approx(getattr(one, edge), abs=0.05)
    # One-sided shifts there, to save simulations: the 95 % band is less exact.
    for edge in ("low_95", "high_95"):
        assert getattr(other, edge) == pytest.approx(getattr(one, edge), abs=0.3)


def test_an_effect_is_what_one_part_alone_does(service: Service) -> None:
    """Each part shifted by itself, in a state of its own, does what it does among the others."""
    predictor = predictor_of(HALF_WAVE + LADDER, service)
    travel = np.array([0.0, 0.4, 1.0])
    band, limits = band_of(predictor, travel), tolerances(predictor.section, ())
    for name in ("R2", "RV1", "R3"):
        for k, at in enumerate(travel):
            means = [predictor.means(shifted(predictor, float(at), {name: shift}))
                     for shift in (0.0, limits[name])]  # fmt: skip
            drawn, alone = (float(mean.at("grid1")[0]) for mean in means)
            # Where the crossing with the curve is sought no further: some 1e-10 of the volts.
            assert band.effects[name][k, 0] == pytest.approx(alone - drawn, abs=1e-6)


def test_what_carries_no_current_has_no_effect(service: Service) -> None:
    """Not even that of being rounded in another batch: a grid stopper is not listed."""
    predictor = predictor_of((folder("circuits") / "two-6v6gt-foot.bias").read_text("utf-8"),
                             service)  # fmt: skip
    band = band_of(predictor, np.linspace(0.0, 1.0, 11))
    assert {"R4", "R5"} <= set(tolerances(predictor.section, ()))
    assert not {"R4", "R5"} & set(band.effects)


def test_a_mains_voltage_given_by_hand_counts_as_measured(service: Service) -> None:
    circuit, _ = parse_circuit(Source("circuit", HALF_WAVE + LADDER))
    assert circuit is not None
    assert tolerances(Section(circuit), ())["mains"] == pytest.approx(0.10)
    assert tolerances(Section(circuit), ("mains",))["mains"] == pytest.approx(0.01)
    measured = band_of(Predictor(Section(circuit), service, {"mains": 1.0}), np.array([0.5]))
    unknown = band_of(Predictor(Section(circuit), service), np.array([0.5]))
    assert measured.low_95 == pytest.approx(unknown.low_95, rel=1e-4)
    assert measured.low[0, 0] > unknown.low[0, 0] + 1.0
