"""Idle currents against arithmetic by hand, and what must hold for any figures."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.idle import Spread, Stage, Verdict, expected, judge, target
from netcheck.idle.samples import SAMPLES, average_current
from netcheck.valves import known_types

from .calls import known

NAMES = st.sampled_from(known_types())
PLATE_VOLTS = st.floats(150.0, 1000.0)
WINDOWS = st.tuples(st.integers(10, 95), st.integers(1, 60)).map(
    lambda ends: (ends[0] / 100, min(100, ends[0] + ends[1]) / 100)
)


def test_dissipation_is_plate_volts_times_plate_current() -> None:
    # 6V6GT: of the shares in the published rows (3/29, 4.5/45, 2.2/34 and 2.5/35 in the AWV sheet
    # of 1944, read, and a smaller one) 2.5/35 = 1/14 is the median. So 27 mA of cathode current
    # are 27/(1 + 1/14) = 25.2 mA on the plate; at 300 V that is 7.56 W, 63 % of 12 W.
    judged = judge(Stage(known("6V6GT"), 300.0), "V1", 0.027)
    assert judged.i_plate.nominal == pytest.approx(0.0252)
    assert judged.p_plate.nominal == pytest.approx(7.56)
    assert judged.of_limit.nominal == pytest.approx(0.63)
    assert judged.verdict is Verdict.FINE


def test_screen_dissipation_is_screen_volts_times_what_the_plate_leaves() -> None:
    # The same valve: 27 - 25.2 = 1.8 mA at 285 V is 0.513 W, of 2 W that is 25.65 %.
    judged = judge(Stage(known("6V6GT"), 300.0, 285.0), "V1", 0.027)
    assert judged.i_screen.nominal == pytest.approx(0.0018)
    assert judged.p_screen is not None
    assert judged.screen_of_limit is not None
    assert judged.p_screen.nominal == pytest.approx(0.513)
    assert judged.screen_of_limit.nominal == pytest.approx(0.2565)


def test_the_window_of_an_el84_by_hand() -> None:
    # 12 W (Philips data sheet EL84, read): 60 % is 7.2 W, at 300 V 24 mA on the plate.
    found = target(Stage(known("EL84"), 300.0), 0.6)
    assert found.i_plate == pytest.approx((0.024, 0.024, 0.024))
    share = Stage(known("EL84"), 300.0).share
    assert found.i_cathode == pytest.approx(tuple(0.024 * (1.0 + s) for s in share))


def test_a_cathode_resistor_takes_its_drop_off() -> None:
    # 300B: 60 mA through 1 kohm lift the cathode by 60 V; of 410 V the plate keeps 350 V, 21 W.
    stage = Stage(known("300B"), 410.0, r_cathode=1000.0)
    assert judge(stage, "V1", 0.060).p_plate == pytest.approx((21.0, 21.0, 21.0))
    # And back: (410 - 1000 i) i = 21 has the roots 60 mA and 350 mA; the smaller one is meant.
    assert target(stage, 21.0 / 40.0).i_plate == pytest.approx((0.060, 0.060, 0.060))


def test_the_screen_too_counts_from_the_cathode() -> None:
    bare = judge(Stage(known("EL84"), 300.0, 290.0), "V1", 0.030)
    lifted = judge(Stage(known("EL84"), 309.0, 299.0, r_cathode=300.0), "V1", 0.030)
    assert lifted.p_screen == pytest.approx(bare.p_screen)
    assert lifted.p_plate == pytest.approx(bare.p_plate)


def test_what_a_resistor_of_too_many_ohms_makes_impossible_is_said() -> None:
    # Half of 400 V across 2 kohm are 100 mA: 20 W is the most that a plate can get.
    stage = Stage(known("300B"), 400.0, r_cathode=2000.0)
    assert stage.highest_dissipation == pytest.approx(20.0)
    with pytest.raises(ValueError, match="too few volts"):
        target(stage, 0.6)


def test_percent_counts_from_the_design_limit_unless_asked() -> None:
    # KT88: 35 W design, 42 W absolute (M-O Valve data sheet KT88, from memory).
    design = Stage(known("KT88"), 500.0)
    absolute = replace(design, absolute=True)
    ratio = judge(design, "V1", 0.045).of_limit.nominal / judge(absolute, "V1", 0.045).of_limit[0]
    assert ratio == pytest.approx(42 / 35)


@pytest.mark.parametrize("i_cathode", [0.045, 0.050])
def test_what_the_trade_sets_a_30_w_beam_tetrode_to_is_accepted(i_cathode: float) -> None:
    # Common practice: 30 W, about 400 V, about 45-50 mA of cathode current.
    judged = judge(Stage(known("6L6GC"), 400.0), "V1", i_cathode)
    assert judged.verdict in (Verdict.FINE, Verdict.USUAL)


@pytest.mark.parametrize(
    ("share", "verdict"),
    [
        (0.0, Verdict.COLD),
        (0.494, Verdict.COLD),
        (0.496, Verdict.USUAL),
        (0.594, Verdict.USUAL),
        (0.596, Verdict.FINE),
        (0.704, Verdict.FINE),
        (0.706, Verdict.HOT),
        (1.004, Verdict.HOT),
        (1.006, Verdict.BEYOND),
    ],
)
def test_verdicts_go_by_the_nearest_percent(share: float, verdict: Verdict) -> None:
    stage = Stage(known("300B"), 400.0)
    assert judge(stage, "V1", share * 40.0 / 400.0).verdict is verdict


def test_a_window_of_ones_own_counts_alone() -> None:
    stage = Stage(known("300B"), 400.0, window=(0.85, 1.0))
    shares = {0.6: Verdict.USUAL, 0.8: Verdict.COLD, 0.9: Verdict.FINE, 1.0: Verdict.FINE}
    for share, verdict in shares.items():
        assert judge(stage, "V1", share * 40.0 / 400.0).verdict is verdict


@given(name=NAMES, v_plate=PLATE_VOLTS, window=WINDOWS, r=st.sampled_from([0.0, 1.0, 10.0]))
def test_the_ends_of_the_window_come_back_as_fine(
    name: str, v_plate: float, window: tuple[float, float], r: float
) -> None:
    stage = Stage(known(name), v_plate, r_cathode=r, window=window)
    for share in window:
        judged = judge(stage, "V1", target(stage, share).i_cathode.nominal)
        # The two ways round differ by the rounding of a few operations only.
        assert judged.of_limit.nominal == pytest.approx(share, rel=1e-9)
        assert judged.verdict is Verdict.FINE


@given(
    name=NAMES,
    v_plate=PLATE_VOLTS,
    currents=st.tuples(st.floats(0.0, 0.2), st.floats(0.0, 0.2)).map(sorted),
)
def test_more_current_never_means_fewer_watts(
    name: str, v_plate: float, currents: list[float]
) -> None:
    stage = Stage(known(name), v_plate)
    less, more = (judge(stage, "V1", i) for i in currents)
    assert less.p_plate.nominal <= more.p_plate.nominal
    assert less.p_plate.high <= more.p_plate.high


@given(name=NAMES, i_cathode=st.floats(1e-3, 0.3))
def test_plate_and_screen_current_make_the_cathode_current(name: str, i_cathode: float) -> None:
    judged = judge(Stage(known(name), 400.0), "V1", i_cathode)
    for plate, screen in (
        (judged.i_plate.nominal, judged.i_screen.nominal),
        (judged.i_plate.low, judged.i_screen.high),
        (judged.i_plate.high, judged.i_screen.low),
    ):
        assert plate + screen == pytest.approx(i_cathode)
    for spread in (judged.i_plate, judged.i_screen, judged.p_plate, judged.of_limit):
        assert spread.low <= spread.nominal <= spread.high


def test_a_falling_function_keeps_low_below_high() -> None:
    assert Spread(2.0, 1.0, 4.0).mapped(lambda x: 1.0 / x) == (0.5, 0.25, 1.0)


# ------------------------------------------------------------------- the grid voltage


@pytest.mark.parametrize(
    ("name", "v_plate", "v_screen", "v_grid", "i_plate"),
    [
        ("EL34", 420.0, 416.0, -38.0, 0.030),  # Philips data sheet EL34, 1959, read
        ("EL84", 250.0, 250.0, -7.3, 0.048),  # Philips data sheet EL84, read
        ("6V6GT", 250.0, 250.0, -12.5, 0.045),  # AWV data sheet 6V6GT, 1944, read
        ("7591", 350.0, 350.0, -15.5, 0.046),  # Sylvania data sheet 7591, 1961, read
        ("6L6GC", 450.0, 400.0, -37.0, 0.058),  # RCA Receiving Tube Manual, from memory
        ("KT88", 553.0, 300.0, -34.0, 0.060),  # M-O Valve data sheet KT88, from memory
    ],
)
def test_grid_volts_are_those_of_the_sheet(
    name: str, v_plate: float, v_screen: float, v_grid: float, i_plate: float
) -> None:
    stage = Stage(known(name), v_plate, v_screen)
    found = target(stage, v_plate * i_plate / stage.limits.p_plate).v_grid
    assert found is not None
    # A curve within 1.5 V of the published grid voltage is as good as the valves themselves.
    assert found.nominal == pytest.approx(v_grid, abs=1.5)
    assert found.low < v_grid < found.high


def test_a_stronger_sample_wants_a_more_negative_grid() -> None:
    stage = Stage(known("EL34"), 400.0, 390.0)
    found = target(stage, 0.65)
    assert found.v_grid is not None
    # At the most negative volts of the band the average valve draws 1/1.54 of the current: a
    # sample that draws exp(1.96 x 0.22) = 1.54 times as much is right there.
    average = average_current(stage, found.v_grid.low, 0.0)
    assert found.i_plate.nominal / average == pytest.approx(1.54, abs=0.005)


def test_the_drop_moves_the_grid_against_ground() -> None:
    bare = target(Stage(known("EL34"), 400.0, 390.0), 0.65)
    drop = bare.i_cathode.nominal * 100.0
    lifted = target(Stage(known("EL34"), 400.0 + drop, 390.0 + drop, r_cathode=100.0), 0.65)
    assert bare.v_grid is not None
    assert lifted.v_grid is not None
    # Equal volts against the cathode, so the grid moves by the drop and by nothing else.
    assert lifted.v_grid.nominal == pytest.approx(bare.v_grid.nominal + drop, rel=1e-9)


@pytest.mark.parametrize("r", [0.0, 10.0, 500.0])
def test_grid_volts_and_expected_current_are_each_others_inverse(r: float) -> None:
    stage = Stage(known("6L6GC"), 420.0, 410.0, r_cathode=r)
    wanted = target(stage, 0.65)
    assert wanted.v_grid is not None
    found = expected(replace(stage, v_grid=wanted.v_grid.nominal))
    assert found is not None
    # Halved 60 times, the search for the settled current ends at rounding.
    assert found.i_plate.nominal == pytest.approx(wanted.i_plate.nominal, rel=1e-6)
    assert found.of_limit.nominal == pytest.approx(0.65, rel=1e-6)
    assert found.verdict is Verdict.FINE


def test_a_cathode_resistor_evens_samples_out() -> None:
    bare = expected(Stage(known("EL34"), 400.0, 390.0, -34.0))
    lifted = expected(Stage(known("EL34"), 400.0, 390.0, -10.0, r_cathode=470.0))
    assert bare is not None
    assert lifted is not None
    assert bare.i_plate.high / bare.i_plate.nominal == pytest.approx(SAMPLES.high)
    assert lifted.i_plate.high / lifted.i_plate.nominal < 1.2


def test_against_the_average_valve() -> None:
    stage = Stage(known("EL34"), 400.0, 390.0, -34.0)
    average = expected(stage)
    assert average is not None
    judged = judge(stage, "V1", 1.25 * average.i_cathode.nominal)
    assert judged.against_average == pytest.approx(1.25)


@pytest.mark.parametrize("v_grid", [None, -34.0])
def test_the_change_of_grid_volts_leads_into_the_middle(v_grid: float | None) -> None:
    stage = Stage(known("EL34"), 400.0, 390.0, v_grid)
    judged = judge(stage, "V1", 0.060)
    assert judged.v_grid_change is not None
    assert judged.v_grid_change < 0.0
    factor = judged.against_average or 1.0
    wanted = target(stage, 0.65).i_plate.nominal
    # This very valve, which draws `factor` times the average, from where its grid must be now.
    low, high = -80.0, 0.0
    for _ in range(60):
        middle = (low + high) / 2.0
        if factor * average_current(stage, middle, 0.0) < judged.i_plate.nominal:
            low = middle
        else:
            high = middle
    moved = factor * average_current(stage, low + judged.v_grid_change, 0.0)
    assert moved == pytest.approx(wanted, rel=1e-6)


def test_no_grid_volts_without_rows_or_with_screens_that_cannot_bear_the_plate_volts() -> None:
    assert target(Stage(known("KT120"), 500.0, 490.0), 0.6).v_grid is None
    # 6550: 600 V on the plate and 400 V on the screen are its limits; taken to be alike they
    # would be at 550 V.
    assert target(Stage(known("6550"), 550.0), 0.6).v_grid is None
    assert target(Stage(known("6550"), 550.0, 300.0), 0.6).v_grid is not None
    assert target(Stage(known("EL34"), 400.0), 0.6).v_grid is not None


def test_no_change_of_grid_volts_for_a_dead_valve() -> None:
    assert judge(Stage(known("EL34"), 400.0, 390.0), "V1", 0.0).v_grid_change is None
