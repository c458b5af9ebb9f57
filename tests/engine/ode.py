"""The same rectifiers as ordinary differential equations, integrated by SciPy.

Shares no code with ngspice nor with ours: the diode's exponential law is solved together
with the resistance in series by the Wright omega function, i + i_s = (n V_T / R)
omega(ln(i_s R / (n V_T)) + (e + i_s R) / (n V_T)), and the capacitor voltages are
integrated by the Radau method to nine digits.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import root
from scipy.special import wrightomega

from netcheck.engine.elements import GROUND, Floats, Waveforms

V_T = 1.380649e-23 * 300.15 / 1.602176634e-19
"""Thermal voltage at 27 degrees Celsius. [V]"""


@dataclass(frozen=True)
class Rectifier:
    """A capacitor-input rectifier with smoothing, as in `circuits.half_wave`.

    `r` is the whole resistance in series with each diode, `r_rest` that from the smoothing
    capacitor to ground; the two states are the voltages of C1 and C2.
    """

    v_peak: float
    frequency: float
    r: float
    c1: float
    c2: float
    full: bool = False
    i_s: float = 5e-9
    n: float = 1.9
    r_series: float = 4.7e3
    r_rest: float = 10e3 + 1 / (1 / 37e3 + 1 / 10.22e6)

    def diode_current(self, e: float) -> float:
        """Current of a diode and its resistance with `e` across both. [A]"""
        nvt = self.n * V_T
        shifted = math.log(self.i_s * self.r / nvt) + (e + self.i_s * self.r) / nvt
        return nvt / self.r * float(wrightomega(shifted)) - self.i_s

    def slope(self, t: float, v: Floats) -> list[float]:
        sine = self.v_peak * math.sin(2 * math.pi * self.frequency * t)
        i = self.diode_current(-sine - v[0])
        if self.full:
            i += self.diode_current(sine - v[0])
        i_series = (v[0] - v[1]) / self.r_series
        return [(i - i_series) / self.c1, (i_series - v[1] / self.r_rest) / self.c2, v[0], v[1]]

    def period(self, v: Floats, points: int = 2) -> tuple[Floats, Floats]:
        """Times, and the voltages with their integrals from time zero at these times."""
        end = 1 / self.frequency
        found = solve_ivp(
            self.slope,
            (0.0, end),
            [*v, 0.0, 0.0],
            method="Radau",
            t_eval=np.linspace(0.0, end, points),
            rtol=1e-9,
            atol=1e-9,
            max_step=end / 100,
        )
        return found.t, found.y

    def steady_means(self, guess: Floats) -> Floats:
        """Mean voltages of C1 and C2 in the periodic steady state. [V]"""

        def change(v: Floats) -> Floats:
            moved: Floats = self.period(v)[1][:2, -1] - v
            return moved

        found = root(change, guess, tol=1e-8)
        assert found.success
        means: Floats = self.period(found.x)[1][2:, -1] * self.frequency
        return means


class OdeEngine:
    """Such a rectifier in the place of ngspice, for the search of the steady state."""

    def __init__(self, rectifier: Rectifier) -> None:
        self._rectifier = rectifier
        self.runs = 0

    def transient(
        self,
        start: Mapping[str, float],
        nodes: Mapping[str, float],
        duration: float,
        step: float,
        begin: float = 0.0,
    ) -> Waveforms:
        assert duration == 1 / self._rectifier.frequency
        self.runs += 1
        t, y = self._rectifier.period(np.array([start["C1"], start["C2"]]), points=200)
        # Like ngspice, without the point at time zero.
        return Waveforms(t[1:], {"n": -y[0, 1:], "m": -y[1, 1:], GROUND: np.zeros(t.size - 1)})

    def operating_point(self) -> Waveforms:
        raise AssertionError("this circuit alternates")


half_wave = partial(Rectifier, v_peak=50 * math.sqrt(2), frequency=50.0, r=100.05, c2=10e-6)
full_wave = partial(
    Rectifier, v_peak=50 * math.sqrt(2), frequency=60.0, r=60.05, c2=10e-6, full=True
)
