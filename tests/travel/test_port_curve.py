"""The curve of a port: monotone, through its points, and met by lines where it should be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from netcheck.engine.elements import Floats
from netcheck.port import PortCurve, moved

STEEP_END = PortCurve(np.array([-0.00602344, -0.00502344, -0.00402344, -0.00302344, -0.003]),
                      np.array([-97.0, -97.0, -97.0, -97.0, -100.0]))  # fmt: skip
"""Continued as steeply as it ends, it is met at four times its volts; that was once cut off."""


@st.composite
def curves(draw: st.DrawFn) -> PortCurve:
    """A negative supply: the more current it gives, the less negative it is."""
    count = draw(st.integers(2, 12))
    steps = st.floats(0.02, 3.0)
    i = np.cumsum([draw(steps) for _ in range(count)]) * 1e-3
    falls = np.cumsum([draw(st.floats(0.0, 8.0)) for _ in range(count)])
    return PortCurve(-i, -100.0 + falls, draw(st.sampled_from([2.0 / 3.0, 1.0])))


def stretched(curve: PortCurve, i: Floats) -> Floats:
    return np.sign(i) * np.abs(i) ** curve.power


@settings(deadline=None, derandomize=True)
@given(curve=curves())
def test_it_is_the_monotone_cubic_of_scipy(curve: PortCurve) -> None:
    i = np.linspace(*curve.reach, 200)
    v, dv_di = curve.at(i)
    theirs = PchipInterpolator(stretched(curve, curve.i), curve.v)
    assert v == pytest.approx(theirs(stretched(curve, i)), abs=1e-9)
    slope = theirs(stretched(curve, i), 1) * curve.power * np.abs(i) ** (curve.power - 1.0)
    assert dv_di == pytest.approx(slope, rel=1e-6, abs=1e-6)
    assert np.all(np.diff(v) <= 1e-9)
    assert curve.at(curve.i)[0] == pytest.approx(curve.v, abs=1e-9)


@settings(deadline=None, derandomize=True)
@given(curve=curves(), a=st.floats(-5e-3, 5e-3), log_r=st.floats(1.0, 7.0))
@example(STEEP_END, 0.0, 6.0)
@example(STEEP_END, 0.0, 7.0)
def test_it_is_met_where_a_root_finder_meets_it(curve: PortCurve, a: float, log_r: float) -> None:
    """Also where it is only continued, at currents that were not simulated."""
    b = 10.0**-log_r
    v, i = curve.meet(np.array([a]), np.array([b]))

    def excess(u: float) -> float:
        return u - float(curve.at(np.array([a + b * u]))[0][0])

    reach = 1e5 + abs(a) / b
    root = brentq(excess, -reach, reach, xtol=1e-9, rtol=1e-14)
    assert v[0] == pytest.approx(root, rel=1e-7, abs=1e-6)
    assert i[0] == pytest.approx(a + b * v[0])


def test_a_batch_is_met_as_its_members_are() -> None:
    curve = PortCurve(np.array([-3e-3, -1e-3, 0.0]), np.array([-50.0, -58.0, -65.0]))
    a, b = np.array([0.0, 1e-3, -2e-3, 0.0]), np.array([1e-5, 1e-4, 1e-6, 0.0])
    together = curve.meet(a, b)[0]
    alone = [float(curve.meet(a[k : k + 1], b[k : k + 1])[0][0]) for k in range(a.size)]
    assert together == pytest.approx(alone, abs=1e-6)


def test_a_rectifier_takes_no_current_back() -> None:
    """A network that is pulled beyond the open-circuit voltage stays where it is pulled."""
    curve = PortCurve(np.array([-3e-3, -1e-3, 0.0]), np.array([-50.0, -58.0, -65.0]))
    # -90 V through 10k, and nothing else: 9 mA at 0 V.
    v, i = curve.meet(np.array([9e-3]), np.array([1e-4]))
    assert v[0] == pytest.approx(-90.0, abs=1e-3)
    assert abs(i[0]) < 1e-6


def test_a_port_that_never_gave_current_is_none() -> None:
    nothing = PortCurve(np.zeros(1), np.array([-72.0]))
    v, i = nothing.meet(np.array([9e-3]), np.array([1e-4]))
    assert v[0] == pytest.approx(-90.0, abs=1e-3)
    assert abs(i[0]) < 1e-6


def test_a_moved_curve_goes_through_the_points_it_was_moved_to() -> None:
    """A tenth more at every load, as a higher mains makes it, from two of them."""
    i = np.array([-9e-3, -5e-3, -2e-3, -1e-3, -1e-4, 0.0])
    base = PortCurve(i, np.array([-40.0, -48.0, -55.0, -58.0, -63.0, -65.0]))
    few = PortCurve(1.1 * i[1:4:2], 1.1 * base.v[1:4:2])
    assert moved(base, few).i == pytest.approx(1.1 * base.i, rel=1e-6)
    assert moved(base, few).v == pytest.approx(1.1 * base.v, rel=1e-6)


def test_a_driven_curve_is_moved_by_the_difference() -> None:
    """A zener that takes current from a supply: no resistance stands for the load."""
    i = np.array([1e-4, 1e-3, 3e-3, 1e-2])
    base = PortCurve(i, np.array([-46.5, -47.0, -47.2, -47.6]))
    few = PortCurve(i[1:3], base.v[1:3] - 2.0)
    assert moved(base, few).i == pytest.approx(base.i)
    assert moved(base, few).v == pytest.approx(base.v - 2.0)
