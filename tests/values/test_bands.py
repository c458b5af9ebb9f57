"""Colour bands by IEC 60062 (from memory): figures, multipliers, tolerances."""

from __future__ import annotations

import itertools
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.bands import likely_turned, read_bands, write_bands
from netcheck.preferred import Series, values_between
from netcheck.quantity import ValueProblem

COLOURS = [
    *("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"),
    *("gold", "silver"),
]


@pytest.mark.parametrize(
    ("bands", "r", "tolerance"),
    [
        ("yellow violet red gold", "4700", 0.05),
        ("yellow violet red silver", "4700", 0.10),
        ("yellow violet red", "4700", 0.20),
        ("yellow violet red none", "4700", 0.20),
        ("red violet orange gold", "27000", 0.05),
        ("brown black black gold", "10", 0.05),
        ("yellow violet gold gold", "4.7", 0.05),
        ("yellow violet silver silver", "0.47", 0.10),
        ("brown black green brown", "1e6", 0.01),
        ("red red yellow red", "220e3", 0.02),
        ("yellow violet black brown brown", "4700", 0.01),
        ("yellow violet green brown brown", "4750", 0.01),
        ("brown black black black green", "100", 0.005),
        ("orange orange black silver brown", "3.30", 0.01),
        ("brown green black red blue", "15000", 0.0025),
        ("grey red black orange violet", "820e3", 0.001),
        ("brown black black red brown red", "10e3", 0.01),
        ("Yellow VIOLET Red Gold", "4700", 0.05),
        ("gray red red gold", "8200", 0.05),
        ("yellow purple red gold", "4700", 0.05),
    ],
)
def test_reads(bands: str, r: str, tolerance: float) -> None:
    marking = read_bands(bands.split())
    assert marking == (Decimal(r), tolerance)


def test_every_colour_in_every_place() -> None:
    """The whole of IEC 60062 for four bands, counted out independently of the tables."""
    tolerance = {"brown": 1, "red": 2, "green": 0.5, "blue": 0.25, "violet": 0.1}
    tolerance |= {"gold": 5, "silver": 10}
    count = 0
    for first, second, power, last in itertools.product(COLOURS, repeat=4):
        digits = COLOURS.index(first), COLOURS.index(second)
        if not 1 <= digits[0] <= 9 or digits[1] > 9 or last not in tolerance:
            with pytest.raises(ValueProblem):
                read_bands([first, second, power, last])
            continue
        count += 1
        exponent = COLOURS.index(power) if COLOURS.index(power) <= 9 else 9 - COLOURS.index(power)
        marking = read_bands([first, second, power, last])
        assert marking.r == Decimal(10 * digits[0] + digits[1]).scaleb(exponent)
        assert marking.tolerance == pytest.approx(tolerance[last] / 100, rel=1e-12)
    assert count == 9 * 10 * 12 * 7


@pytest.mark.parametrize(
    ("bands", "said", "fix"),
    [
        (
            "gold red violet yellow",
            "gold cannot be band 1 of 4",
            "yellow violet red gold is 4k7 5%",
        ),
        (
            "silver orange red red",
            "silver cannot be band 1 of 4",
            "red red orange silver is 22k 10%",
        ),
        ("gold red violet", "gold cannot be band 1 of 3", "violet red gold is 7.2 ohm 20%"),
        ("brown black black orange yellow", "yellow cannot be band 5 of 5", "is 430 ohm 1%"),
        ("brown black green yellow", "yellow cannot be band 4 of 4", "is 45 ohm 1%"),
        ("black brown red gold", "black cannot be band 1 of 4", ""),
        ("yellow violet red black", "black cannot be band 4 of 4; this band is the tolerance", ""),
        ("yellow gold red gold", "gold cannot be band 2 of 4; this band is a figure", ""),
        ("yellow violet gold red brown", "gold cannot be band 3 of 5", ""),
        ("brown black black red brown gold", "band is the temperature coefficient", ""),
        ("yelow violet red gold", '"yelow" is not a colour of the code', "did you mean yellow?"),
        ("yellow violet pink gold", '"pink" is not a colour of the code', ""),
        ("none violet red gold", '"none" is not a colour', "did you mean"),
        ("yellow violet", "2 bands cannot be read; a resistor has three to six", ""),
        ("brown " * 7, "7 bands cannot be read", ""),
        ("black", "1 band cannot be read", "one black band marks a wire link"),
        ("", "0 bands cannot be read", ""),
    ],
)
def test_refuses(bands: str, said: str, fix: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        read_bands(bands.split())
    assert said in str(caught.value)
    assert fix in caught.value.fix
    if not fix:
        assert not caught.value.fix


def test_likely_turned() -> None:
    # 117 x 10^4 is no value of E96 or E24; from the other end 147 x 10 is one of E96.
    turned = likely_turned(["brown", "brown", "violet", "yellow", "brown"])
    assert turned == (Decimal(1470), 0.01)
    # 4k7 is made; whatever the other end says does not matter.
    assert likely_turned(["yellow", "violet", "red", "gold"]) is None
    assert likely_turned(["brown", "black", "black", "red", "brown"]) is None
    # Neither end gives a value that is made.
    assert likely_turned(["brown", "brown", "white", "brown", "brown"]) is None
    with pytest.raises(ValueProblem):
        likely_turned(["gold", "red", "violet", "yellow"])


@pytest.mark.parametrize(
    ("r", "tolerance", "bands"),
    [
        (4700.0, 0.05, "yellow violet red gold"),
        (4700.0, 0.10, "yellow violet red silver"),
        (4700.0, 0.20, "yellow violet red"),
        (4700.0, 0.01, "yellow violet black brown brown"),
        (4750.0, 0.05, "yellow violet green brown gold"),
        (10.0, 0.05, "brown black black gold"),
        (1e6, 0.10, "brown black green silver"),
        (4.7, 0.05, "yellow violet gold gold"),
        (0.47, 0.05, "yellow violet silver gold"),
        (100.0, 0.005, "brown black black black green"),
    ],
)
def test_writes(r: float, tolerance: float, bands: str) -> None:
    assert write_bands(r, tolerance) == tuple(bands.split())


@settings(deadline=None)
@given(
    st.sampled_from(Series).flatmap(
        lambda series: st.tuples(
            # Gold and silver reach down to 1.00 ohm with three figures, to 0.10 with two.
            st.sampled_from(values_between(1.0, 99e6, series)),
            st.sampled_from(
                (0.2, 0.1, 0.05) if series.value <= 24 else (0.05, 0.02, 0.01, 0.005, 0.0025, 0.001)
            ),
        )
    )
)
def test_round_trip(part: tuple[float, float]) -> None:
    r, tolerance = part
    bands = write_bands(r, tolerance)
    marking = read_bands(bands)
    assert float(marking.r) == r
    assert marking.tolerance == tolerance


@pytest.mark.parametrize(
    ("r", "tolerance", "said"),
    [
        (4700.0, 0.03, "no colour for a tolerance of 3%"),
        (47123.0, 0.01, "no colour bands for 47.123 kohm 1%"),
        # Three figures without a fourth band would be read as two and a tolerance.
        (4750.0, 0.2, "no colour bands for 4k75 20%"),
        (0.475, 0.05, "no colour bands for 0.475 ohm 5%"),
        (0.0, 0.05, "from 0.1 ohm to 999 Gohm only"),
        (-4700.0, 0.05, "from 0.1 ohm"),
        (float("inf"), 0.05, "from 0.1 ohm"),
        (float("nan"), 0.05, "from 0.1 ohm"),
    ],
)
def test_does_not_write(r: float, tolerance: float, said: str) -> None:
    with pytest.raises(ValueProblem, match=said):
        write_bands(r, tolerance)


@settings(deadline=None)
@given(st.lists(st.sampled_from([*COLOURS, "gray", "none", "", "x" * 1000, "\x00"]), max_size=8))
def test_any_bands_are_read_or_refused(bands: list[str]) -> None:
    try:
        marking = read_bands(bands)
    except ValueProblem:
        return
    assert marking.r > 0
    assert 0.001 <= marking.tolerance <= 0.2
