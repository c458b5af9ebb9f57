"""The screen's share of the current."""

from __future__ import annotations

import pytest

from netcheck.valves import ValveType, lookup
from netcheck.valves.practice import screen_share


def known(name: str) -> ValveType:
    valve = lookup(name)
    assert valve is not None
    return valve


def test_share_is_the_median_of_the_rows() -> None:
    # KT88: 3/140 and 1.7/60; the median of two is their mean.
    low, high = 3 / 140, 1.7 / 60
    share = screen_share(known("KT88"))
    assert (share.low, share.nominal, share.high) == pytest.approx((low, (low + high) / 2, high))


def test_limits_without_rows_take_the_usual_share() -> None:
    assert known("KT120").screen_share is None
    assert screen_share(known("KT120")).nominal == 0.05  # common practice


def test_rows_lie_within_the_usual_share() -> None:
    for name in ("EL34", "6L6GC", "KT88", "EL84", "6V6GT", "7591", "6550"):
        share, usual = screen_share(known(name)), screen_share(known("KT120"))
        assert usual.low <= share.nominal <= usual.high
