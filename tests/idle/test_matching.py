"""Pairs, quads and larger sets."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.idle.matching import MOST_VALVES, Split, allowed_difference, exchanges, match

CURRENTS = st.floats(0.0, 0.2)


def milliamps(*values: float) -> list[float]:
    return [value * 1e-3 for value in values]


def sides(split: Split | None) -> tuple[tuple[int, ...], tuple[int, ...]]:
    assert split is not None
    return split.one, split.other


@pytest.mark.parametrize(
    ("pair", "matched"),
    [
        # Common practice: a few milliamps within a pair are acceptable.
        ((40.0, 42.0), True),
        ((44.0, 48.0), True),
        ((20.0, 22.9), True),  # 3 mA at any current
        ((20.0, 23.1), False),
        ((100.0, 109.0), True),  # a tenth of the mean
        ((40.0, 50.0), False),
        ((0.0, 40.0), False),
    ],
)
def test_a_few_milliamps_within_a_pair(pair: tuple[float, float], matched: bool) -> None:
    found = match(milliamps(*pair))
    assert found.matched is matched
    assert found.spread == pytest.approx(pair[1] * 1e-3 - pair[0] * 1e-3)
    assert found.splits == ()
    assert found.odd_ones == ()


def test_the_best_two_and_two_of_a_quad() -> None:
    # By hand: 36+44 against 38+46 differ by 4, 36+38 against 44+46 by 16, 36+46 against
    # 44+38 by 0.
    found = match(milliamps(36, 38, 44, 46))
    assert sides(found.best) == ((0, 3), (1, 2))
    assert found.best is not None
    assert found.best.difference == pytest.approx(0.0, abs=1e-12)
    assert [round(split.difference * 1e3, 6) for split in found.splits] == [0.0, 4.0, 16.0]
    assert found.present is found.splits[2]
    assert not found.present.balanced
    assert exchanges(found.present, found.best) == [(1, 3)]


def test_valves_that_stand_well_are_left_where_they_are() -> None:
    found = match(milliamps(40, 40, 40, 40))
    assert found.best is found.present
    assert found.best is not None
    assert exchanges(found.best, found.best) == []


def test_one_odd_valve_in_a_quad_is_named() -> None:
    # Without the third the others lie within 2 mA.
    assert match(milliamps(40, 42, 55, 41)).odd_ones == (2,)


def test_either_of_two_may_be_the_odd_one() -> None:
    # Without the first 40 to 44, without the last 36 to 41: both within 10 % or so.
    found = match(milliamps(36.5, 40, 40.2, 44))
    assert not found.matched
    assert set(found.odd_ones) == {0, 3}
    assert found.odd_ones[0] == 3  # 3.9 mA from the median, the first 3.6 mA


def test_no_single_valve_is_to_blame() -> None:
    assert match(milliamps(30, 30, 50, 50)).odd_ones == ()


def test_three_valves_have_no_sides() -> None:
    found = match(milliamps(40, 41, 52))
    assert found.splits == ()
    assert found.present is None
    assert found.odd_ones == (2,)


def test_one_valve_cannot_be_matched() -> None:
    with pytest.raises(ValueError, match="one valve"):
        match([0.04])


def test_of_six_valves_the_best_and_the_present_split_are_told() -> None:
    found = match(milliamps(36, 44, 43, 50, 37, 40))
    assert len(found.splits) == 10
    assert found.telling == (found.best, found.present)
    # 250 in all, and no three make 125: 44+43+37 = 124 against 126 is the best.
    assert found.best is not None
    assert found.best.difference == pytest.approx(2e-3)


@given(st.lists(CURRENTS, min_size=2, max_size=8), st.randoms(use_true_random=False))
def test_the_order_of_the_valves_does_not_change_the_match(
    currents: list[float], rng: object
) -> None:
    turned = list(reversed(currents))
    one, other = match(currents), match(turned)
    assert one.spread == pytest.approx(other.spread)
    assert one.allowed == pytest.approx(other.allowed)
    assert len(one.odd_ones) == len(other.odd_ones)
    if one.best is not None and other.best is not None:
        assert one.best.difference == pytest.approx(other.best.difference, abs=2e-9)


@given(
    st.integers(2, MOST_VALVES // 2).flatmap(
        lambda half: st.lists(CURRENTS, min_size=2 * half, max_size=2 * half)
    )
)
def test_the_exchanges_lead_to_the_best_split(currents: list[float]) -> None:
    found = match(currents)
    now, best = found.present, found.best
    assert now is not None
    assert best is not None
    assert best.difference <= now.difference + 2e-9
    moved = list(range(len(currents)))
    for a, b in exchanges(now, best):
        moved[a], moved[b] = moved[b], moved[a]
    half = len(moved) // 2
    assert {frozenset(moved[:half]), frozenset(moved[half:])} == {
        frozenset(best.one),
        frozenset(best.other),
    }
    assert len(exchanges(now, best)) <= half // 2


def test_every_valve_is_on_one_side_of_each_split() -> None:
    for split in match(milliamps(40, 41, 42, 43, 44, 45)).splits:
        assert sorted(split.one + split.other) == list(range(6))
        assert len(split.one) == len(split.other) == 3


def test_what_is_acceptable_never_falls_with_the_current() -> None:
    allowed = [allowed_difference(i * 1e-3) for i in range(0, 200, 5)]
    assert allowed == sorted(allowed)
    assert allowed[0] == pytest.approx(3e-3)
