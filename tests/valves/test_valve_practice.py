"""Idle current arithmetic, by hand."""

from __future__ import annotations

import pytest

from netcheck.valves import ValveType, lookup
from netcheck.valves.practice import (
    cathode_current,
    plate_current_from_cathode,
    plate_window,
    screen_current,
    screen_share,
)


def known(name: str) -> ValveType:
    valve = lookup(name)
    assert valve is not None
    return valve


def test_window_by_hand() -> None:
    # 12 W: 60 % is 7.2 W, 70 % is 8.4 W; at 300 V that is 24 mA and 28 mA.
    assert plate_window(known("6V6GT"), 300.0) == pytest.approx((0.024, 0.028))


def test_share_is_the_median_of_the_rows() -> None:
    # KT88: 3/140 and 1.7/60; the median of two is their mean.
    low, high = 3 / 140, 1.7 / 60
    share = screen_share(known("KT88"))
    assert (share.low, share.nominal, share.high) == pytest.approx((low, (low + high) / 2, high))


def test_cathode_current_is_plate_and_screen_current() -> None:
    valve = known("EL34")
    total = cathode_current(valve, 0.040)
    assert total == pytest.approx(0.040 + screen_current(valve, 0.040))
    assert total > 0.044
    assert plate_current_from_cathode(valve, total) == pytest.approx(0.040)


def test_a_triode_has_no_screen_current() -> None:
    assert cathode_current(known("300B"), 0.060) == 0.060


def test_limits_without_rows_take_the_usual_share() -> None:
    assert known("KT120").screen_share is None
    assert screen_current(known("KT120"), 0.100) == pytest.approx(0.005)


def test_rows_lie_within_the_usual_share() -> None:
    for name in ("EL34", "6L6GC", "KT88", "EL84", "6V6GT", "7591", "6550"):
        share, usual = screen_share(known(name)), screen_share(known("KT120"))
        assert usual.low <= share.nominal <= usual.high
