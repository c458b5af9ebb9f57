"""The E series against the published tables and against the package `eseries`."""

from __future__ import annotations

import itertools
import math

import eseries
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.preferred import (
    Series,
    is_preferred,
    is_round,
    is_usual,
    likely_meant,
    nearest,
    neighbours,
    parallel,
    series_for,
    values_between,
)
from netcheck.quantity import read

ANY_SERIES = st.sampled_from(Series)
VALUES = st.floats(1e-12, 1e12)


@pytest.mark.parametrize("series", Series)
def test_decade_equals_that_of_eseries(series: Series) -> None:
    theirs = eseries.series(eseries.ESeries[series.name])
    scale = 10 if series.value <= 24 else 1
    assert series.figures == tuple(scale * figure for figure in theirs)
    assert len(series.figures) == series.value
    assert list(series.figures) == sorted(set(series.figures))


def test_where_the_standard_leaves_the_formula() -> None:
    """IEC 60063: E192 has 920; E24 differs from it in eight places (from memory)."""
    assert 920 in Series.E192.figures
    assert 919 not in Series.E192.figures
    by_formula = [round(10 * 10 ** (i / 24)) for i in range(24)]
    differing = [
        n // 10 for n, f in zip(Series.E24.figures, by_formula, strict=True) if n != 10 * f
    ]
    assert differing == [27, 30, 33, 36, 39, 43, 47, 82]


@pytest.mark.parametrize(
    ("coarse", "fine"),
    [("E3", "E6"), ("E6", "E12"), ("E12", "E24"), ("E48", "E96"), ("E96", "E192")],
)
def test_each_series_holds_the_coarser_one(coarse: str, fine: str) -> None:
    assert set(Series[coarse].figures) < set(Series[fine].figures)


@pytest.mark.parametrize(
    ("tolerance", "series"),
    # IEC 60063 (from memory): E6 20 %, E12 10 %, E24 5 %, E48 2 %, E96 1 %, E192 0.5 %.
    [
        (0.2, "E6"),
        (0.1, "E12"),
        (0.05, "E24"),
        (0.02, "E48"),
        (0.01, "E96"),
        (0.005, "E192"),
        # In between and beyond.
        (0.5, "E3"),
        (0.3, "E6"),
        (0.15, "E12"),
        (0.03, "E48"),
        (0.001, "E192"),
        (0.0, "E192"),
        (None, "E24"),
    ],
)
def test_series_of_a_tolerance(tolerance: float | None, series: str) -> None:
    assert series_for(tolerance) is Series[series]


@pytest.mark.parametrize("series", [Series.E6, Series.E12, Series.E24])
def test_values_of_a_series_nearly_meet_at_its_tolerance(series: Series) -> None:
    """Why the series exists: each value's band reaches about the next value's band."""
    decade = values_between(1.0, 10.0, series)
    for low, high in itertools.pairwise(decade):
        gap = high * (1 - series.tolerance) / (low * (1 + series.tolerance)) - 1
        # Two-figure rounding leaves gaps and overlaps: 13 to 15 is one of 0.9 tolerances.
        assert abs(gap) < series.tolerance


@pytest.mark.parametrize(
    ("text", "series", "preferred"),
    [
        ("4k7", "E3", True),
        ("4k7", "E24", True),
        ("4k7", "E96", False),
        ("4k75", "E96", True),
        ("27k", "E12", True),
        ("27k", "E6", False),
        ("0R47", "E12", True),
        ("10M", "E3", True),
        ("74k", "E192", False),
        ("25k", "E24", False),
        ("920", "E192", True),
        ("919", "E192", False),
    ],
)
def test_is_preferred(text: str, series: str, preferred: bool) -> None:
    assert is_preferred(read(text).nominal, Series[series]) is preferred


def test_close_tolerance_parts_come_in_e24_values_too() -> None:
    assert is_usual(4700.0, 0.01)
    assert is_usual(4750.0, 0.01)
    assert not is_usual(4750.0, 0.05)
    assert not is_usual(27e3, 0.2)
    assert is_usual(27e3, None)


def test_round_values() -> None:
    assert all(is_round(v) for v in (10e3, 25e3, 50e3, 250e3, 500e3, 1e6, 8e-6, 16e-6, 50e-6))
    assert not any(is_round(v) for v in (22e3, 47e3, 74e3, 27e3, 9.1e3))
    # Values as they come out of arithmetic, a hair from the decade.
    assert is_round(1e6 * (1 - 1e-12))
    assert is_round(1e6 * (1 + 1e-12))


@pytest.mark.parametrize(
    ("value", "series", "expected"),
    [
        (4700.0, "E12", (3900.0, 5600.0)),
        (4800.0, "E12", (4700.0, 5600.0)),
        (1000.0, "E12", (820.0, 1200.0)),
        (9.5, "E6", (6.8, 10.0)),
        (1e6 * (1 + 1e-12), "E24", (910e3, 1.1e6)),
        (1e6 * (1 - 1e-12), "E24", (910e3, 1.1e6)),
    ],
)
def test_neighbours(value: float, series: str, expected: tuple[float, float]) -> None:
    assert neighbours(value, Series[series]) == expected


@settings(deadline=None)
@given(VALUES, ANY_SERIES)
def test_nearest_is_the_nearest_by_ratio(value: float, series: Series) -> None:
    found = nearest(value, series)
    candidates = values_between(value / 3, value * 3, series)
    best = min(abs(math.log(c / value)) for c in candidates)
    # 1e-9: two candidates equally far are told apart by rounding only.
    assert abs(math.log(found / value)) <= best + 1e-9
    assert is_preferred(found, series)
    below, above = neighbours(value, series)
    assert below < value < above
    assert values_between(below, above, series)[0] == below
    assert values_between(below, above, series)[-1] == above
    assert len(values_between(below, above, series)) == 2 + is_preferred(value, series)


@settings(deadline=None)
@given(VALUES.filter(lambda v: 1e-9 < v < 1e9), ANY_SERIES)
def test_nearest_agrees_with_eseries_away_from_the_middle(value: float, series: Series) -> None:
    theirs = eseries.find_nearest(eseries.ESeries[series.name], value)
    ours = nearest(value, series)
    # They measure by difference, we by ratio: that may differ between the geometric and the
    # arithmetic mean of two neighbours.
    below, above = sorted((ours, theirs))
    is_between_means = (
        math.sqrt(below * above) <= value * 1.000001 <= (below + above) / 2 * 1.000002
    )
    assert ours == pytest.approx(theirs, rel=1e-9) or is_between_means


@pytest.mark.parametrize("series", Series)
def test_values_are_the_floats_that_are_read(series: Series) -> None:
    for value in values_between(1.0, 9.99, series):
        assert value == float(f"{value:.3g}")
    assert read("4k7").nominal in values_between(1e3, 1e4, Series.E12)
    assert read("47u").nominal in values_between(1e-5, 1e-4, Series.E12)


def test_values_between_includes_both_ends() -> None:
    assert values_between(820.0, 1800.0, Series.E12) == (820.0, 1e3, 1.2e3, 1.5e3, 1.8e3)
    assert values_between(821.0, 1799.0, Series.E12) == (1e3, 1.2e3, 1.5e3)
    assert values_between(1800.0, 820.0, Series.E12) == ()
    assert len(values_between(1.0, 1e6, Series.E24)) == 6 * 24 + 1


@pytest.mark.parametrize("value", [0.0, -4700.0, math.inf, math.nan, 1e-40, 1e40])
def test_no_value_of_a_part(value: float) -> None:
    for function in (is_preferred, neighbours, nearest, likely_meant):
        with pytest.raises(ValueError, match="not the value of a part"):
            function(value, Series.E12)


# ------------------------------------------------------------------------ in parallel


def test_two_in_parallel() -> None:
    assert parallel(33e3, 82e3) == pytest.approx(2706e6 / 115e3, rel=1e-15)


# ------------------------------------------------------------------------- misreadings


def test_swapped_figures_come_first() -> None:
    assert likely_meant(74e3, Series.E12) == [
        (47e3, "two figures swapped"),
        (68e3, "the nearest of E12"),
    ]
    assert likely_meant(4570.0, Series.E96)[0] == (4750.0, "two figures swapped")
    assert likely_meant(7.4e-6, Series.E6)[0] == (4.7e-6, "two figures swapped")


def test_only_the_nearest_where_swapping_does_not_help() -> None:
    assert likely_meant(50e3, Series.E24) == [(51e3, "the nearest of E24")]
    assert likely_meant(47123.0, Series.E24) == [(47e3, "the nearest of E24")]
    # A value does not begin with 0: 407 may be 470, but not 047.
    assert likely_meant(407.0, Series.E12) == [
        (470.0, "two figures swapped"),
        (390.0, "the nearest of E12"),
    ]
    # 21 the wrong way round is 12, and 12k is of E12; nearest to 21k is 22k.
    assert likely_meant(21e3, Series.E12) == [
        (12e3, "two figures swapped"),
        (22e3, "the nearest of E12"),
    ]


def test_nothing_is_meant_but_the_preferred_value_itself() -> None:
    assert likely_meant(47e3, Series.E12) == []
    assert likely_meant(1e3, Series.E3) == []


@settings(deadline=None)
@given(st.integers(1, 999), st.integers(-12, 9), ANY_SERIES)
def test_everything_meant_is_of_the_series(figures: int, power: int, series: Series) -> None:
    value = float(f"{figures}e{power}")
    meant = likely_meant(value, series)
    assert bool(meant) is not is_preferred(value, series)
    assert all(is_preferred(other, series) and other != value for other, _ in meant)
    assert len({other for other, _ in meant}) == len(meant)
