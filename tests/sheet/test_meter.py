"""How far a meter may be off, against hand arithmetic in the manner of its data sheet."""

from __future__ import annotations

import math

import pytest

from netcheck.readings import (
    ASSUMED,
    Accuracy,
    Function,
    Kind,
    Meter,
    Range,
    dimension_of,
    function_of,
)

# A hand-held meter of 3 1/2 digits as such sheets are written: DC volts 0.5 % of reading and 2
# digits, ranges of 200 mV, 2 V, 20 V, 200 V and 1000 V with a display of 2000 counts.
VOLTS = Accuracy(
    0.005,
    2.0,
    (Range(0.2, 1e-4), Range(2.0, 1e-3), Range(20.0, 1e-2), Range(200.0, 0.1), Range(1000.0, 1.0)),
)
DMM = Meter("dmm", 10e6, accuracy={Function.DC_VOLTS: VOLTS})
POINTER = Meter("avo", ohm_per_volt=20e3, accuracy={
    Function.DC_VOLTS: Accuracy(0.03, 0.0, (Range(10.0), Range(50.0), Range(250.0)), True)})  # fmt: skip


def limit(meter: Meter, nominal: float, last_digit: float) -> float:
    off = meter.uncertainty(Function.DC_VOLTS, nominal, last_digit)
    return off.gain * abs(nominal) + off.floor


@pytest.mark.parametrize(
    ("nominal", "last_digit", "by_hand"),
    [
        # 61.2 V on the 200 V range: 0.5 % is 0.306 V; 2 digits of 0.1 V, and half a digit of
        # rounding beside them, sqrt(0.2^2 + 0.05^2) = 0.206 V.
        (-61.2, 0.1, 0.306 + 0.20616),
        (-12.34, 0.01, 0.0617 + 0.020616),  # on the 20 V range, whose digit is 10 mV
        (-199.9, 0.1, 0.9995 + 0.20616),
        # 402 V on the 1000 V range: 2.01 V, 2 digits of 1 V.
        (402.0, 1.0, 2.01 + 2.0616),
        # Written down to the volt only: half a volt of rounding, though the display had 0.1 V.
        (-61.0, 1.0, 0.305 + math.hypot(0.2, 0.5)),
        # A display of 0.0385 V on the 200 mV range.
        (0.0385, 1e-4, 0.0001925 + 0.00020616),
    ],
)
def test_percent_and_digits(nominal: float, last_digit: float, by_hand: float) -> None:
    # The hand figures have five digits.
    assert limit(DMM, nominal, last_digit) == pytest.approx(by_hand, rel=1e-4)


def test_a_pointer_is_off_by_its_share_of_full_scale_wherever_it_stands() -> None:
    # 3 % of 50 V is 1.5 V at 12 V as at 48 V; read to the volt, half a volt beside it.
    for nominal in (12.0, -48.0):
        off = POINTER.uncertainty(Function.DC_VOLTS, nominal, 1.0)
        assert off.gain == 0.0
        assert off.floor == pytest.approx(math.hypot(1.5, 0.5))


def test_input_resistance() -> None:
    assert DMM.resistance(Function.DC_VOLTS, 61.2) == 10e6
    # 20 kohm per volt on the 50 V range are 1 Mohm, whatever the pointer shows.
    assert POINTER.resistance(Function.DC_VOLTS, 12.0) == pytest.approx(1e6)
    assert POINTER.resistance(Function.DC_VOLTS, 9.0) == pytest.approx(200e3)
    assert POINTER.resistance(Function.DC_VOLTS, 999.0) == pytest.approx(5e6)  # off the scale
    # No range stated: that of the reading itself, and of a volt at least.
    assert Meter("x", ohm_per_volt=1e3).resistance(Function.DC_VOLTS, 30.0) == 30e3
    assert Meter("x", ohm_per_volt=1e3).resistance(Function.DC_VOLTS, 0.1) == 1e3


def test_the_range_is_the_smallest_that_holds_the_reading() -> None:
    for size, full in ((0.0, 0.2), (0.2, 0.2), (0.201, 2.0), (200.0, 200.0), (5000.0, 1000.0)):
        found = VOLTS.range_for(size)
        assert found is not None
        assert found.full == full
    assert Accuracy(0.01).range_for(1.0) is None


def test_what_is_not_stated_is_assumed() -> None:
    assert Meter("x").on(Function.OHMS) == ASSUMED[Function.OHMS]
    assert set(ASSUMED) == set(Function)
    # 1 % and 2 digits of 100 ohm: 312 ohm, and sqrt(200^2 + 50^2) = 206 ohm.
    off = Meter("x").uncertainty(Function.OHMS, 31.2e3, 100.0)
    assert off.gain * 31.2e3 + off.floor == pytest.approx(312.0 + 206.16, rel=1e-4)


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_of_reading_has_a_function_and_a_unit(kind: Kind) -> None:
    units = {Function.DC_VOLTS: {"V"}, Function.AC_VOLTS: {"V", "Vac", "Vpp"},
             Function.CURRENT: {"A"}, Function.OHMS: {"ohm"}, Function.CAPACITANCE: {"F"}}  # fmt: skip
    assert dimension_of(kind).symbol in units[function_of(kind)]
