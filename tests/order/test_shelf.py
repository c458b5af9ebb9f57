"""Usual values and ratings, held against the E series and each other."""

from __future__ import annotations

import eseries
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.order import shelf
from netcheck.order.purchase import Purchase


@pytest.mark.parametrize(
    ("drawn", "bought"),
    [  # values of old parts and what takes their place at the counter
        (8e-6, 10e-6), (10e-6, 10e-6), (16e-6, 22e-6), (20e-6, 22e-6), (25e-6, 33e-6),
        (32e-6, 33e-6), (40e-6, 47e-6), (47e-6, 47e-6), (50e-6, 47e-6), (60e-6, 100e-6),
        (80e-6, 100e-6), (100e-6, 100e-6), (120e-6, 220e-6), (220e-6, 220e-6), (1e-6, 1e-6),
    ],
)  # fmt: skip
def test_the_same_or_somewhat_more(drawn: float, bought: float) -> None:
    assert shelf.electrolytic(drawn) == pytest.approx(bought, rel=1e-12)


def test_values_are_of_the_e6_series() -> None:
    """IEC 60063 by the package eseries."""
    known = set(eseries.series(eseries.E6))
    assert {round(10 * figure) for figure in shelf.FIGURES} <= {round(v) for v in known}


@given(st.floats(0.5e-6, 2000e-6))
def test_never_much_less_and_never_far_more(c: float) -> None:
    bought = shelf.electrolytic(c)
    assert 0.9 * c <= bought * (1.0 + 1e-9)
    # The widest gap, 4.7 to 10, and a tenth below.
    assert bought <= 10.0 / 4.7 * c / 0.9
    assert shelf.electrolytic(bought) == bought


@pytest.mark.parametrize(
    ("least", "bought"),
    [(24.0, 25.0), (25.0, 25.0), (25.1, 35.0), (81.6, 100.0), (100.01, 160.0), (401.0, 450.0)],
)
def test_the_next_usual_rating(least: float, bought: float) -> None:
    assert shelf.rating(shelf.ELECTROLYTIC_VOLTS, least) == bought


def test_no_electrolytic_stands_more_than_500_volts() -> None:
    assert shelf.rating(shelf.ELECTROLYTIC_VOLTS, 501.0) is None


@pytest.mark.parametrize("usual", [shelf.ELECTROLYTIC_VOLTS, shelf.FILM_VOLTS, shelf.ZENER_POWERS])
def test_ratings_rise(usual: tuple[float, ...]) -> None:
    assert list(usual) == sorted(set(usual))


def test_colours_by_which_to_find_a_resistor() -> None:
    """IEC 60062, from memory."""
    assert Purchase("resistor", 4700.0, 0.5, tolerance=0.05).bands == (
        "yellow",
        "violet",
        "red",
        "gold",
    )
    assert Purchase("resistor", 75e3, 0.25, tolerance=0.01).bands == (
        "violet",
        "green",
        "black",
        "red",
        "brown",
    )
    printed = Purchase("resistor", 4700.0, 5.0, tolerance=0.05)
    odd = Purchase("resistor", 47.123e3, 0.5, tolerance=0.05)
    pot = Purchase("pot", 10e3, 0.5, tolerance=0.2)
    assert [one.bands for one in (printed, odd, pot)] == [(), (), ()]
