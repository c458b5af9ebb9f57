"""Switching on: what is simulated from discharged capacitors."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from netcheck.engine.elements import GROUND, Capacitance, DcSource, Element, Resistance, Waveforms
from netcheck.engine.service import Service
from netcheck.engine.steady import steady_state, stretches, transient
from netcheck.errors import EngineError

from .circuits import bridge, half_wave

TAU = 0.1
CHARGING: list[Element] = [
    DcSource("S", "a", GROUND, -60.0),
    Resistance("R", "a", "b", 10e3),
    Capacitance("C", GROUND, "b", TAU / 10e3),
]


def check_charging(waves: Waveforms, v_start: float = 0.0) -> None:
    assert np.all(np.diff(waves.t) > 0)
    expected = -60.0 + (60.0 + v_start) * np.exp(-waves.t / TAU)
    # The first point, which ngspice does not compute, is that a moment later.
    assert waves.v["b"] == pytest.approx(expected, abs=0.02)


def test_charging_through_a_resistor(service: Service) -> None:
    waves = transient(CHARGING, None, 0.5, service=service)
    assert waves.t[0] == 0.0
    assert waves.t[-1] == pytest.approx(0.5)
    check_charging(waves)


def test_from_a_charged_capacitor(service: Service) -> None:
    check_charging(transient(CHARGING, None, 0.5, service=service, start={"C": 20.0}), -20.0)


def test_pieces_fit_together(service: Service) -> None:
    """Joined pieces of a few periods against one run, with a last piece that is shorter."""
    elements, frequency = half_wave()
    pieces = list(stretches(elements, frequency, 0.33, service=service, cycles=4))
    assert len(pieces) == 5
    for before, after in pairwise(pieces):
        assert after.t[0] == pytest.approx(before.t[-1])
        for node, v in after.v.items():
            assert v[0] == before.v[node][-1]
    assert pieces[-1].t[-1] == pytest.approx(0.33)
    whole = transient(elements, frequency, 0.33, service=service)
    assert np.all(np.diff(whole.t) > 0)
    for node in ("n", "m", "w"):
        # Restarting a run changes the points of time, no more.
        assert pieces[-1].v[node][-1] == pytest.approx(whole.v[node][-1], abs=20e-3)


def test_nothing_is_simulated_beyond_what_is_asked_for(service: Service) -> None:
    pieces = stretches(*half_wave(), 1e6, service=service, cycles=2)
    assert next(pieces).t[-1] == pytest.approx(0.04)
    pieces.close()


def test_means_of_the_periods(service: Service) -> None:
    elements, frequency = bridge()
    waves = transient(elements, frequency, 60.5 / frequency, service=service, record="means")
    assert waves.t == pytest.approx((np.arange(60) + 0.5) / frequency)
    full = transient(elements, frequency, 60.5 / frequency, service=service)
    for k in (0, 7, 55):
        part = (full.t >= k / frequency - 1e-9) & (full.t <= (k + 1) / frequency + 1e-9)
        mean = Waveforms(full.t[part], {}).mean(full.v["n"][part])
        # Points of time need not fall on the edges of a period.
        assert waves.v["n"][k] == pytest.approx(mean, rel=0.02, abs=0.02)
    # It comes up to where the steady state is.
    final = steady_state(elements, frequency, service=service).mean("n")
    assert waves.v["n"][-1] == pytest.approx(final, rel=2e-3)
    assert np.all(np.diff(np.abs(waves.v["n"][:20])) > 0)


def test_last_period(service: Service) -> None:
    elements, frequency = half_wave()
    waves = transient(elements, frequency, 10 / frequency, service=service, record="last")
    assert waves.t[0] == pytest.approx(9 / frequency)
    assert waves.t[-1] == pytest.approx(10 / frequency)
    full = transient(elements, frequency, 10 / frequency, service=service)
    inside = full.t >= waves.t[0]
    mean = Waveforms(full.t[inside], {}).mean(full.v["n"][inside])
    assert waves.mean(waves.v["n"]) == pytest.approx(mean, abs=20e-3)
    assert waves.v["a"][0] == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("duration", [0.0, -1.0, math.nan, math.inf])
def test_impossible_duration(service: Service, duration: float) -> None:
    with pytest.raises(EngineError, match="time to simulate"):
        transient(CHARGING, None, duration, service=service)


def test_unknown_capacitor_to_start_from(service: Service) -> None:
    with pytest.raises(EngineError, match='"C9"'):
        transient(CHARGING, None, 1.0, service=service, start={"C9": 1.0})


def test_means_of_a_waveform_by_hand() -> None:
    waves = Waveforms(np.array([0.0, 1.0, 4.0]), {"a": np.array([0.0, 2.0, 2.0]), "b": np.ones(3)})
    assert waves.mean(waves.v["a"]) == pytest.approx((1.0 + 6.0) / 4)
    assert waves.mean(waves.across("a", "b")) == pytest.approx(3.0 / 4)
    assert waves.rms(waves.v["b"]) == pytest.approx(1.0)
