"""The current model: what physics and calculus demand of it, apart from published figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from netcheck.errors import InputError
from netcheck.valves import ValveType, lookup, read_types, shipped_types
from netcheck.valves.curve import Curve
from netcheck.valves.model import (
    curve_of,
    grid_voltage,
    plate_current,
    row_errors,
    transconductance,
)

from .own_types import OWN, source

TYPES = st.sampled_from([valve for valve in shipped_types() if valve.rows])
V_PLATE = st.floats(50.0, 800.0)
V_SCREEN = st.floats(50.0, 500.0)
V_GRID = st.floats(-100.0, 0.0)
I_PLATE = st.floats(1e-4, 0.3)


def known(name: str) -> ValveType:
    valve = lookup(name)
    assert valve is not None
    return valve


def test_by_hand() -> None:
    """The formula worked with a pocket calculator, one step a line."""
    curve = Curve(perveance=1e-3, mu=10.0, plate_share=0.05, sharpness=8.0)
    cutoff = (250.0 + 0.05 * 400.0) / 10.0
    assert cutoff == 27.0
    drive = 27.0 / 8.0 * math.log(1.0 + math.exp(8.0 * (1.0 - 18.0 / 27.0)))
    assert drive == pytest.approx(9.2267, abs=1e-4)
    knee = math.tanh(400.0 / (0.15 * 250.0))
    assert knee == pytest.approx(1.0, abs=1e-8)
    current = curve.plate_current(400.0, 250.0, -18.0)
    assert float(current) == pytest.approx(28.026e-3, abs=1e-6)


@settings(deadline=None)
@given(TYPES, V_PLATE, V_SCREEN, V_GRID, st.floats(0.1, 50.0))
def test_more_negative_grid_less_current(
    valve: ValveType, v_plate: float, v_screen: float, v_grid: float, step: float
) -> None:
    more = float(plate_current(valve, v_plate, v_screen, v_grid))
    less = float(plate_current(valve, v_plate, v_screen, v_grid - step))
    assert 0.0 <= less < more


@settings(deadline=None)
@given(TYPES, V_PLATE, V_SCREEN, st.floats(-30.0, 0.0), st.floats(1.0, 100.0))
def test_more_plate_volts_more_current(
    valve: ValveType, v_plate: float, v_screen: float, v_grid: float, step: float
) -> None:
    less = float(plate_current(valve, v_plate, v_screen, v_grid))
    assert float(plate_current(valve, v_plate + step, v_screen, v_grid)) > less


@settings(deadline=None)
@given(TYPES, st.floats(200.0, 800.0), st.floats(50.0, 400.0), V_GRID, st.floats(1.0, 50.0))
def test_more_screen_volts_more_current(
    valve: ValveType, v_plate: float, v_screen: float, v_grid: float, step: float
) -> None:
    """Away from the knee; a triode has no screen, and its current stays the same."""
    v_plate = max(v_plate, v_screen + step)
    less = float(plate_current(valve, v_plate, v_screen, v_grid))
    more = float(plate_current(valve, v_plate, v_screen + step, v_grid))
    assert more == less if valve.limits.v_screen is None else more > less


@settings(deadline=None)
@given(TYPES, V_PLATE, V_SCREEN, I_PLATE)
def test_grid_voltage_and_back(
    valve: ValveType, v_plate: float, v_screen: float, i_plate: float
) -> None:
    v_grid = grid_voltage(valve, v_plate, v_screen, i_plate)
    # Both ways are closed formulas; only rounding is left, and it is largest near cut-off.
    assert float(plate_current(valve, v_plate, v_screen, v_grid)) == pytest.approx(
        i_plate, rel=1e-9
    )


@settings(deadline=None)
@given(TYPES, V_PLATE, V_SCREEN, st.floats(1e-3, 0.1))
def test_grid_voltage_against_a_root_search(
    valve: ValveType, v_plate: float, v_screen: float, i_plate: float
) -> None:
    def excess(v_grid: float) -> float:
        return float(plate_current(valve, v_plate, v_screen, v_grid)) - i_plate

    found = brentq(excess, -1000.0, 1000.0, xtol=1e-9)
    assert float(grid_voltage(valve, v_plate, v_screen, i_plate)) == pytest.approx(found, abs=1e-6)


@settings(deadline=None)
@given(TYPES, V_PLATE, V_SCREEN, V_GRID)
def test_transconductance_is_the_slope(
    valve: ValveType, v_plate: float, v_screen: float, v_grid: float
) -> None:
    step = 1e-3
    up, down = (plate_current(valve, v_plate, v_screen, v_grid + dv) for dv in (step, -step))
    slope = float(up - down) / (2.0 * step)
    # A difference over 2 mV is right to one in a million; the rest is rounding.
    found = float(transconductance(valve, v_plate, v_screen, v_grid))
    assert found == pytest.approx(slope, rel=1e-4, abs=1e-12)


@settings(deadline=None)
@given(TYPES, V_PLATE, V_SCREEN, V_GRID, st.floats(0.3, 3.0))
def test_childs_law(
    valve: ValveType, v_plate: float, v_screen: float, v_grid: float, factor: float
) -> None:
    """All voltages together k times as high: k^1.5 times the current, whatever the electrodes.

    Child 1911; the conversion factors in tube manuals are the same law.
    """
    current = plate_current(valve, v_plate, v_screen, v_grid)
    scaled = plate_current(valve, factor * v_plate, factor * v_screen, factor * v_grid)
    assert float(scaled) == pytest.approx(float(current) * factor**1.5, rel=1e-9)


def test_arrays_broadcast() -> None:
    valve = known("EL84")
    v_plate, v_grid = np.array([[250.0], [300.0]]), np.array([-7.3, -9.0, -11.6])
    table = plate_current(valve, v_plate, 250.0, v_grid)
    assert table.shape == (2, 3)
    assert table[1, 2] == plate_current(valve, 300.0, 250.0, -11.6)
    assert grid_voltage(valve, v_plate, 250.0, np.full(3, 0.04)).shape == (2, 3)
    assert transconductance(valve, v_plate, 250.0, v_grid).shape == (2, 3)


def test_no_current_without_volts() -> None:
    """A search for the high tension under load may try zero and negative volts on its way."""
    valve = known("6L6GC")
    for v_plate in (0.0, -50.0):
        assert plate_current(valve, v_plate, 300.0, -20.0) == 0.0
        assert transconductance(valve, v_plate, 300.0, -20.0) == 0.0
    assert plate_current(valve, 0.0, 0.0, -20.0) == 0.0
    assert plate_current(known("300B"), 0.0, None, -20.0) == 0.0


def test_far_beyond_cutoff_nothing_overflows() -> None:
    valve = known("EL34")
    assert plate_current(valve, 400.0, 400.0, -1e6) == 0.0
    assert transconductance(valve, 400.0, 400.0, -1e6) == 0.0
    assert np.isfinite(plate_current(valve, 400.0, 400.0, 1e6))
    assert np.isfinite(grid_voltage(valve, 400.0, 400.0, 1e3))
    assert grid_voltage(valve, 400.0, 400.0, 1e-30) < -45.0


@pytest.mark.parametrize(("v_plate", "i_plate"), [(400.0, 0.0), (400.0, -0.01), (0.0, 0.01)])
def test_no_grid_voltage_gives_that(v_plate: float, i_plate: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        grid_voltage(known("EL34"), v_plate, 400.0, i_plate)


def test_a_lacking_screen_voltage_is_refused() -> None:
    with pytest.raises(ValueError, match="screen voltage"):
        plate_current(known("EL34"), 400.0, None, -36.0)


def test_a_type_without_rows_has_no_curve() -> None:
    with pytest.raises(InputError, match="KT120"):
        plate_current(known("KT120"), 400.0, 300.0, -30.0)
    assert row_errors(known("KT120")) == []


def test_a_users_own_type_is_fitted() -> None:
    (valve,), _ = read_types(source(OWN))
    assert curve_of(valve) not in [curve_of(each) for each in shipped_types() if each.rows]
    # The same demand as on built-in types.
    assert max(abs(error) for error in row_errors(valve)) < 1.5


def test_a_changed_type_does_not_get_the_stored_curve() -> None:
    text = OWN.replace("MY-34", "EL34").replace("plate_mA = 30", "plate_mA = 40")
    (valve,), _ = read_types(source(text))
    assert curve_of(valve) != curve_of(known("EL34"))
