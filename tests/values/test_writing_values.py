"""Values written for people and for files."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest
import quantiphy
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.preferred import Series
from netcheck.quantity import (
    Dimension,
    ValueProblem,
    read,
    show,
    show_part,
    show_reading,
    write_exact,
)

DIMENSIONS = st.sampled_from(Dimension)
IN_RANGE = st.floats(1e-15, 1e15) | st.floats(-1e15, -1e-15) | st.sampled_from((0.0, -0.0))
# Decimal numbers such as people type.
TYPED = st.builds(
    lambda n, e: float(f"{n}e{e}"), st.integers(1, 99999), st.integers(min_value=-9, max_value=6)
)


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (470.0, Dimension.OHM, "470 ohm"),
        (0.47, Dimension.OHM, "0.47 ohm"),
        (4700.0, Dimension.OHM, "4k7"),
        (4750.0, Dimension.OHM, "4k75"),
        (27e3, Dimension.OHM, "27k"),
        (100e3, Dimension.OHM, "100k"),
        (1e6, Dimension.OHM, "1M"),
        (2.2e6, Dimension.OHM, "2M2"),
        (23512.0, Dimension.OHM, "23.512 kohm"),
        (1e15, Dimension.OHM, "1000T"),
        (0.0, Dimension.OHM, "0 ohm"),
        (47e-6, Dimension.FARAD, "47 uF"),
        (100e-9, Dimension.FARAD, "100 nF"),
        (4.7e-3, Dimension.FARAD, "4700 uF"),
        (33e-12, Dimension.FARAD, "33 pF"),
        (230.0, Dimension.VOLT, "230 V"),
        (-52.0, Dimension.VOLT, "-52 V"),
        (-0.0, Dimension.VOLT, "0 V"),
        (48.0, Dimension.VOLT_AC, "48 Vac"),
        (0.4, Dimension.VOLT_PP, "0.4 Vpp"),
        (50.0, Dimension.HERTZ, "50 Hz"),
        (0.1, Dimension.PERCENT, "10%"),
        (0.005, Dimension.PERCENT, "0.5%"),
        (0.5, Dimension.WATT, "0.5 W"),
        (0.02, Dimension.AMPERE, "20 mA"),
        (10.0, Dimension.SECOND, "10 s"),
        (25.0, Dimension.CELSIUS, "25 C"),
    ],
)
def test_canonical_spelling(value: float, dimension: Dimension, text: str) -> None:
    assert write_exact(value, dimension) == text


@settings(deadline=None, max_examples=1000)
@given(IN_RANGE | TYPED, DIMENSIONS)
def test_written_exactly(value: float, dimension: Dimension) -> None:
    text = write_exact(value, dimension)
    quantity = read(text)
    assert quantity.as_(dimension).nominal == value
    assert text.isascii()
    assert "e" not in text.lower()
    # Writing what was read changes nothing any more.
    assert write_exact(quantity.nominal, dimension) == text


@settings(deadline=None)
@given(st.integers(-99999, 99999), st.integers(-9, 6), DIMENSIONS)
def test_resolution_of_a_reading_survives(
    figures: int, exponent: int, dimension: Dimension
) -> None:
    largest = {Dimension.OHM: 6, Dimension.VOLT: 3, Dimension.VOLT_AC: 3, Dimension.VOLT_PP: 3}
    smallest = -6 if dimension is Dimension.OHM else -9
    places = max(smallest, min(exponent, largest.get(dimension, 0)))
    if dimension is Dimension.FARAD:
        places = min(places, -6)
    if dimension is Dimension.PERCENT:
        places = min(places, -2)
    last_digit = Decimal(f"1E{places}")
    value = float(figures * last_digit)
    quantity = read(write_exact(value, dimension, last_digit))
    assert quantity.as_(dimension).nominal == value
    assert quantity.last_digit == last_digit


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("-52.0 V", Dimension.VOLT),
        ("0.05 V", Dimension.VOLT),
        ("11.50 mA", Dimension.AMPERE),
        ("0.00 mA", Dimension.AMPERE),
        ("31k2", Dimension.OHM),
        ("0M47", Dimension.OHM),
        ("4.700 kohm", Dimension.OHM),
        ("0k0", Dimension.OHM),
        ("30%", Dimension.PERCENT),
    ],
)
def test_reading_is_written_as_it_was_typed(text: str, dimension: Dimension) -> None:
    quantity = read(text)
    assert write_exact(quantity.nominal, dimension, quantity.last_digit) == text


@pytest.mark.parametrize("value", [1e16, 9e-16, -1e16, math.inf, -math.inf, math.nan])
def test_out_of_range_is_not_written(value: float) -> None:
    with pytest.raises(ValueError, match="cannot be written"):
        write_exact(value, Dimension.OHM)


# ------------------------------------------------------------------------- for people


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (-52.34, Dimension.VOLT, "-52.3 V"),
        (402.4, Dimension.VOLT, "402 V"),
        (0.35, Dimension.VOLT_PP, "0.350 Vpp"),
        (0.0482, Dimension.AMPERE, "48.2 mA"),
        (2.5e-5, Dimension.AMPERE, "25.0 uA"),
        (0.35, Dimension.WATT, "0.350 W"),
        (0.012, Dimension.WATT, "12.0 mW"),
        (4700.0, Dimension.OHM, "4.70k"),
        (470.0, Dimension.OHM, "470 ohm"),
        (2.2e6, Dimension.OHM, "2.20M"),
        (4.7e-3, Dimension.FARAD, "4700 uF"),
        (0.0005, Dimension.PERCENT, "0.0500%"),
        (1.0, Dimension.PERCENT, "100%"),
        # Rounding up into the next prefix or another digit.
        (999.99, Dimension.VOLT, "1.00 kV"),
        (0.99999, Dimension.AMPERE, "1.00 A"),
        (0.099999, Dimension.VOLT, "0.100 V"),
        (9.999, Dimension.VOLT, "10.0 V"),
        # Half upwards, as people round; the float lies a little below.
        (1.005, Dimension.VOLT, "1.01 V"),
        # The noise of arithmetic.
        (-1e-17, Dimension.VOLT, "0 V"),
        (-0.0, Dimension.VOLT, "0 V"),
        (5e-324, Dimension.OHM, "0 ohm"),
        (math.inf, Dimension.OHM, "beyond 1000T"),
        (-1e300, Dimension.OHM, "beyond -1000T"),
    ],
)
def test_show(value: float, dimension: Dimension, text: str) -> None:
    assert show(value, dimension) == text


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (4700.0, Dimension.OHM, "4k7"),
        (470.0, Dimension.OHM, "470 ohm"),
        (2.2e6, Dimension.OHM, "2M2"),
        (23512.3, Dimension.OHM, "23.5k"),
        (30001.0, Dimension.OHM, "30.0k"),
        (999.7, Dimension.OHM, "1.00k"),
        (47e-6, Dimension.FARAD, "47 uF"),
        (100e-9, Dimension.FARAD, "100 nF"),
        (31.234e-6, Dimension.FARAD, "31.2 uF"),
        (0.5, Dimension.WATT, "0.5 W"),
        (0.0, Dimension.OHM, "0 ohm"),
        (math.inf, Dimension.OHM, "beyond 1000T"),
    ],
)
def test_show_part(value: float, dimension: Dimension, text: str) -> None:
    assert show_part(value, dimension) == text


def test_preferred_value_through_arithmetic_is_shown_as_marked() -> None:
    for figures in Series.E24.figures:
        nominal = figures * 1e2
        assert show_part(1 / (1 / nominal)) == write_exact(nominal, Dimension.OHM)
    assert show_part(0.1 * 3 * 1e5) == "30k"


@pytest.mark.parametrize(
    ("value", "dimension", "last_digit", "text"),
    [
        (-52.04, Dimension.VOLT, "0.1", "-52.0 V"),
        (-0.04, Dimension.VOLT, "0.1", "0.0 V"),
        (0.05, Dimension.VOLT, "0.01", "0.05 V"),
        (11.47e-3, Dimension.AMPERE, "1e-4", "11.5 mA"),
        (31234.0, Dimension.OHM, "1e2", "31.2k"),
        (999.96, Dimension.VOLT, "0.1", "1.0000 kV"),
    ],
)
def test_show_reading(value: float, dimension: Dimension, last_digit: str, text: str) -> None:
    assert show_reading(value, dimension, Decimal(last_digit)) == text


@pytest.mark.parametrize("shower", [show, show_part])
def test_not_a_number_is_not_shown(shower) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match="cannot be written"):
        shower(math.nan, Dimension.OHM)


@settings(deadline=None, max_examples=500)
@given(st.floats(-1e12, 1e12), DIMENSIONS, st.integers(2, 5))
def test_shown_value_is_near_and_plain(value: float, dimension: Dimension, digits: int) -> None:
    text = show(value, dimension, digits)
    assert re.fullmatch(r"-?[0-9]+(\.[0-9]+)?( ?[pnumkMGT]?)?(ohm|[A-Za-z]+|%)?", text)
    assert not re.match(r"-0(\.0*)?[^0-9.]", text)
    shown = read(text).as_(dimension).nominal
    # Half a unit of the last digit shown is at most 0.5 / 10**(digits - 1) of the value; the
    # smallest step shown at all is 1e-15 (pF), and 1e-12 covers the float arithmetic here.
    allowed = 0.5 * 10.0 ** (1 - digits) * (1 + 1e-12)
    assert shown == pytest.approx(value, rel=allowed, abs=1e-3 if abs(value) < 1e-3 else 0)


@settings(deadline=None)
@given(st.floats(1e-3, 9.99e5))
def test_volts_agree_with_quantiphy(v: float) -> None:
    """Where quantiphy writes millivolts above 100 mV we write volts; elsewhere they agree."""
    if 0.09 < v < 1.1:
        return
    theirs = quantiphy.Quantity(v, "V").render(form="si", prec=2, strip_zeros=False)
    ours = show(v, Dimension.VOLT)
    # Their half-way cases round by the binary value; neighbours in the last place are both right.
    difference = abs(read(ours).nominal - read(theirs).nominal)
    assert ours == theirs or difference <= 1.001 * float(read(ours).last_digit)
    assert ours == theirs or Decimal(repr(v)).as_tuple().digits[3:4] == (5,)


@settings(deadline=None)
@given(st.floats(1e-15, 1e15), DIMENSIONS)
def test_shown_part_can_be_typed_in_again(value: float, dimension: Dimension) -> None:
    text = show_part(value, dimension)
    try:
        again = read(text).as_(dimension).nominal
    except ValueProblem as problem:  # pragma: no cover - for the message
        pytest.fail(f"{text}: {problem}")
    assert again == 0 or again == pytest.approx(value, rel=0.0051)
