"""The search for the steady state, with other engines in the place of ngspice."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest

from netcheck.engine import shooting
from netcheck.engine.elements import (
    GROUND,
    Capacitance,
    Element,
    Floats,
    Resistance,
    SineSource,
    Slope,
    SteadyState,
    Waveforms,
)
from netcheck.engine.shooting import find

from . import ode
from .circuits import half_wave

R, C, F, V_PEAK = 10e3, 1e-6, 50.0, 100.0
"""A sine through a resistor into a capacitor, as a circuit that can be solved by hand."""

LOW_PASS: list[Element] = [
    SineSource("W", "a", GROUND, V_PEAK),
    Resistance("R", "a", "b", R),
    Capacitance("C", "b", GROUND, C),
]


class LowPass:
    """The exact solution of `LOW_PASS` from any initial voltage.

    `leak` and `jitter` spoil it: volts added in each period, and an error that changes its
    sign from run to run.
    """

    def __init__(self, leak: float = 0.0, jitter: float = 0.0, tau: float = R * C) -> None:
        self._leak, self._jitter, self._tau = leak, jitter, tau
        self.runs = 0

    def transient(
        self,
        start: Mapping[str, float],
        nodes: Mapping[str, float],
        duration: float,
        step: float,
        begin: float = 0.0,
    ) -> Waveforms:
        self.runs += 1
        w = 2 * math.pi * F
        amplitude = V_PEAK / math.hypot(1.0, w * self._tau)
        phase = -math.atan(w * self._tau)
        t: Floats = np.arange(1.0, round(duration / step) + 1) * step
        free = (start["C"] - amplitude * math.sin(phase)) * np.exp(-t / self._tau)
        v = amplitude * np.sin(w * t + phase) + free + self._leak * t * F
        v = v + self._jitter * (-1) ** self.runs
        return Waveforms(t, {"a": V_PEAK * np.sin(w * t), "b": v, GROUND: np.zeros_like(t)})

    def operating_point(self) -> Waveforms:
        raise AssertionError("this circuit alternates")


def low_pass_start(tau: float = R * C) -> float:
    """Voltage of the capacitor at phase zero, by phasors."""
    w = 2 * math.pi * F
    return -V_PEAK * w * tau / (1 + (w * tau) ** 2)


def search(engine: LowPass, start: Mapping[str, float] | None = None) -> SteadyState:
    return find(engine, LOW_PASS, F, start or {}, 200)


def test_linear_circuit_takes_one_newton_step() -> None:
    engine = LowPass()
    state = search(engine)
    assert state.converged
    # One run from zero, one for the slope, one at the root.
    assert state.cycles == engine.runs == 3
    assert state.start["C"] == pytest.approx(low_pass_start(), abs=1e-9)


def test_slow_circuit_is_not_taken_for_settled() -> None:
    """100 s of time constant: the change over a period says nothing, the slope does."""
    tau = 100.0
    state = find(LowPass(tau=tau), LOW_PASS, F, {"C": 0.05}, 200)
    assert state.converged
    assert state.start["C"] == pytest.approx(low_pass_start(tau), abs=3e-3)


def test_period_is_closed() -> None:
    """The point at time zero, which the engine does not compute, is that at the end."""
    waves = search(LowPass()).waves
    assert waves.t[0] == 0.0
    assert waves.t[-1] == pytest.approx(1 / F)
    assert waves.v["b"][0] == waves.v["b"][-1]
    assert waves.mean(waves.v["b"]) == pytest.approx(0.0, abs=1e-6)


def test_good_start_is_used() -> None:
    state = search(LowPass(), {"C": low_pass_start()})
    assert state.cycles == 2


def low_pass_slope(tau: float = R * C) -> Slope:
    return Slope(("C",), np.array([[math.expm1(-1.0 / F / tau)]]))


def test_slope_that_was_asked_for_is_that_of_the_exponential() -> None:
    state = find(LowPass(), LOW_PASS, F, {}, 200, slope_wanted=True)
    assert state.slope is not None
    assert state.slope.names == ("C",)
    assert state.slope.matrix == pytest.approx(low_pass_slope().matrix, rel=1e-6)


def test_slope_that_is_given_need_not_be_found_out() -> None:
    start = {"C": low_pass_start() + 5.0}
    state = find(LowPass(), LOW_PASS, F, start, 200, slope=low_pass_slope())
    # One run from there and one at the root.
    assert state.cycles == 2
    assert state.start["C"] == pytest.approx(low_pass_start(), abs=1e-9)


@pytest.mark.parametrize("off", [0.01, 0.5, 3.0, 1e4])
@pytest.mark.parametrize("tau", [0.01, 1.0, 100.0])
@pytest.mark.parametrize("away", [1e-4, 0.05, 20.0])
def test_slope_of_another_circuit_does_not_lead_astray(off: float, tau: float,
                                                       away: float) -> None:  # fmt: skip
    """A slope that is too steep sees the end in any small change: here it has to be proved."""
    root = low_pass_start(tau)
    state = find(LowPass(tau=tau), LOW_PASS, F, {"C": root + away}, 200,
                 slope=low_pass_slope(tau / off))  # fmt: skip
    assert state.converged
    assert state.start["C"] == pytest.approx(root, abs=3e-3)


def test_slope_of_other_capacitors_is_not_used() -> None:
    slope = Slope(("C9",), np.array([[-1e-9]]))
    state = find(LowPass(), LOW_PASS, F, {}, 200, slope=slope)
    assert state.start["C"] == pytest.approx(low_pass_start(), abs=1e-6)


def test_what_never_settles_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    """Errors larger than the tolerance, different in every run: no root to find."""
    monkeypatch.setattr(shooting, "MOST_CYCLES", 20)
    monkeypatch.setattr(shooting, "WAIT", (3, 4))
    state = search(LowPass(jitter=1.0))
    assert not state.converged
    assert state.residual > 0.1
    # The search, then four waits of three periods, each with one more period to look at.
    assert 20 + 4 * 3 <= state.cycles <= 22 + 4 * 4


def test_waiting_settles_where_the_search_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shooting, "MOST_CYCLES", 1)
    monkeypatch.setattr(shooting, "WAIT", (5, 20))
    state = search(LowPass())
    assert state.converged
    assert state.start["C"] == pytest.approx(low_pass_start(), abs=1e-3)


def test_state_of_rest_without_a_sine() -> None:
    class AtRest(LowPass):
        def operating_point(self) -> Waveforms:
            t = np.array([0.0, 1.0])
            return Waveforms(t, {"b": np.array([-5.0, -5.0]), GROUND: np.zeros(2)})

    elements: list[Element] = [Resistance("R", "b", GROUND, R), Capacitance("C", GROUND, "b", C)]
    state = find(AtRest(), elements, None, {}, 200)
    assert state.converged
    assert state.start == {"C": 5.0}
    assert state.mean("b") == -5.0
    assert state.ripple("b") == 0.0


def test_rectifier_by_another_engine() -> None:
    """The search finds what SciPy's root finder finds for the same differential equation."""
    rectifier = ode.half_wave(c1=22e-6)
    elements, frequency = half_wave(c1=22e-6)
    engine = ode.OdeEngine(rectifier)
    state = find(engine, elements, frequency, {}, 200)
    assert state.converged
    assert engine.runs < 20
    guess = np.array([state.start["C1"], state.start["C2"]])
    expected = rectifier.steady_means(guess + 1.0)
    # Two millivolts of tolerance in the search, and the trapezoid rule on 200 points.
    assert state.mean(GROUND, "n") == pytest.approx(expected[0], abs=5e-3)
    assert state.mean(GROUND, "m") == pytest.approx(expected[1], abs=5e-3)
