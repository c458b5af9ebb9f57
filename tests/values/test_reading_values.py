"""Values as typed: what is read, to the last digit.

The spellings are those of IEC 60062 (marking codes, from memory) and of the trade.
"""

from __future__ import annotations

import decimal
import subprocess
import sys
import time
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.quantity import LONGEST, Dimension, Quantity, ValueProblem, read

READ = [
    # text, exact value, dimension, worth of the last digit
    ("470", "470", None, "1"),
    ("0", "0", None, "1"),
    ("4k7", "4700", None, "100"),
    ("4K7", "4700", None, "100"),
    ("4.7k", "4700", None, "100"),
    ("47k3", "47300", None, "100"),
    ("4k75", "4750", None, "10"),
    ("2M2", "2200000", None, "1e5"),
    ("4M7", "4700000", None, "1e5"),
    ("1G", "1e9", None, "1e9"),
    ("1T", "1e12", None, "1e12"),
    ("R47", "0.47", None, "0.01"),
    ("0R47", "0.47", None, "0.01"),
    ("4R7", "4.7", None, "0.1"),
    ("4r7", "4.7", None, "0.1"),
    ("470R", "470", None, "1"),
    (".47", "0.47", None, "0.01"),
    ("1meg", "1e6", None, "1e6"),
    ("1Meg", "1e6", None, "1e6"),
    ("1MEG", "1e6", None, "1e6"),
    ("2.2 meg", "2.2e6", None, "1e5"),
    ("470 ohm", "470", Dimension.OHM, "1"),
    ("470ohms", "470", Dimension.OHM, "1"),
    ("470 OHM", "470", Dimension.OHM, "1"),
    ("470\N{GREEK CAPITAL LETTER OMEGA}", "470", Dimension.OHM, "1"),
    ("470\N{OHM SIGN}", "470", Dimension.OHM, "1"),
    ("4.7 k\N{OHM SIGN}", "4700", Dimension.OHM, "100"),
    ("4.7 kohm", "4700", Dimension.OHM, "100"),
    ("4.7 Kohm", "4700", Dimension.OHM, "100"),
    ("4.7k ohm", "4700", Dimension.OHM, "100"),
    ("4k7 ohm", "4700", Dimension.OHM, "100"),
    ("0.5 Mohm", "5e5", Dimension.OHM, "1e5"),
    ("1 megohm", "1e6", Dimension.OHM, "1e6"),
    ("4n7", "4.7e-9", None, "1e-10"),
    ("47u", "47e-6", None, "1e-6"),
    ("100n", "100e-9", None, "1e-9"),
    ("4u7", "4.7e-6", None, "1e-7"),
    ("4m7", "4.7e-3", None, "1e-4"),
    ("4F7", "4.7", None, "0.1"),
    ("p47", "0.47e-12", None, "1e-14"),
    ("47uF", "47e-6", Dimension.FARAD, "1e-6"),
    ("47 uF", "47e-6", Dimension.FARAD, "1e-6"),
    ("47 UF", "47e-6", Dimension.FARAD, "1e-6"),
    ("47u F", "47e-6", Dimension.FARAD, "1e-6"),
    ("47\N{MICRO SIGN}F", "47e-6", Dimension.FARAD, "1e-6"),
    ("47\N{GREEK SMALL LETTER MU}F", "47e-6", Dimension.FARAD, "1e-6"),
    ("4\N{MICRO SIGN}7", "4.7e-6", None, "1e-7"),
    ("4n7 F", "4.7e-9", Dimension.FARAD, "1e-10"),
    ("0.05 mfd", "0.05e-6", Dimension.FARAD, "1e-8"),
    ("50MFD", "50e-6", Dimension.FARAD, "1e-6"),
    ("250 mmf", "250e-12", Dimension.FARAD, "1e-12"),
    ("250 mmfd", "250e-12", Dimension.FARAD, "1e-12"),
    ("250 pF", "250e-12", Dimension.FARAD, "1e-12"),
    ("-52.0 V", "-52", Dimension.VOLT, "0.1"),
    ("\N{MINUS SIGN}52.0V", "-52", Dimension.VOLT, "0.1"),
    ("+48 V", "48", Dimension.VOLT, "1"),
    ("12.5 mV", "0.0125", Dimension.VOLT, "1e-4"),
    ("1.2kV", "1200", Dimension.VOLT, "100"),
    ("48Vac", "48", Dimension.VOLT_AC, "1"),
    ("48 vac", "48", Dimension.VOLT_AC, "1"),
    ("48V ac", "48", Dimension.VOLT_AC, "1"),
    ("48 Vrms", "48", Dimension.VOLT_AC, "1"),
    ("0.4 Vpp", "0.4", Dimension.VOLT_PP, "0.1"),
    ("350 mVpp", "0.35", Dimension.VOLT_PP, "0.001"),
    ("0.5 mA", "0.5e-3", Dimension.AMPERE, "1e-4"),
    ("35.0ma", "0.035", Dimension.AMPERE, "1e-4"),
    ("20 uA", "20e-6", Dimension.AMPERE, "1e-6"),
    ("1 W", "1", Dimension.WATT, "1"),
    ("250 mW", "0.25", Dimension.WATT, "0.001"),
    ("10%", "0.1", Dimension.PERCENT, "0.01"),
    ("0.5 %", "0.005", Dimension.PERCENT, "0.001"),
    ("50 Hz", "50", Dimension.HERTZ, "1"),
    ("15 s", "15", Dimension.SECOND, "1"),
    ("25 C", "25", Dimension.CELSIUS, "1"),
    ("25\N{DEGREE SIGN}C", "25", Dimension.CELSIUS, "1"),
]


@pytest.mark.parametrize(("text", "exact", "dimension", "last_digit"), READ)
def test_reads(text: str, exact: str, dimension: Dimension | None, last_digit: str) -> None:
    quantity = read(text)
    assert quantity.exact == Decimal(exact)
    assert quantity.nominal == float(exact)
    assert quantity.dimension is dimension
    assert quantity.last_digit == Decimal(last_digit)
    assert quantity.tolerance is None
    assert quantity.text == text


@pytest.mark.parametrize("text", [text for text, *_ in READ if " " in text])
def test_unit_may_come_as_a_word_of_its_own(text: str) -> None:
    number, unit = text.split()
    assert read(number, unit) == read(text)


@pytest.mark.parametrize(
    ("letter", "tolerance"),
    # IEC 60062, letters of tolerance (from memory).
    [("F", 0.01), ("G", 0.02), ("J", 0.05), ("K", 0.10), ("M", 0.20)],
)
@pytest.mark.parametrize("number", ["4K7", "27K", "27k", "470R", "R47", "2M2"])
def test_letter_of_tolerance(number: str, letter: str, tolerance: float) -> None:
    quantity = read(number + letter)
    assert quantity.exact == read(number).exact
    assert quantity.tolerance == tolerance
    assert quantity.as_(Dimension.OHM).tolerance == tolerance


def test_letter_of_tolerance_on_capacitors() -> None:
    assert read("4n7K").tolerance == 0.1
    assert read("47uM").tolerance == 0.2
    assert read("100nJ").as_(Dimension.FARAD).nominal == 100e-9


@pytest.mark.parametrize(
    ("text", "exact", "misreading"),
    # What general-purpose parsers and simulators were seen to make of them.
    [("4k7", 4700.0, 4000.0), ("1meg", 1e6, 1e-3), ("2M2", 2.2e6, 2e-3), ("4R7", 4.7, 4.0)],
)
def test_known_misreadings(text: str, exact: float, misreading: float) -> None:
    assert read(text).as_(Dimension.OHM).nominal == exact != misreading


def test_no_negative_zero() -> None:
    quantity = read("-0.0 V")
    assert str(quantity.nominal) == "0.0"
    assert quantity.last_digit == Decimal("0.1")


def test_every_digit_counts() -> None:
    # One third to 30 digits: more than a float holds, so the nearest float is wanted.
    text = "0." + "3" * 30
    assert read(text).exact == Decimal(text)
    assert read(text).nominal == float(text)


def test_precision_of_the_decimal_context_does_not_matter() -> None:
    with decimal.localcontext() as context:
        context.prec = 2
        assert read("1234.5678k").exact == Decimal("1234567.8")


def test_quantity_is_a_value() -> None:
    assert read("4k7") == read("4k7")
    assert len({read("4k7"), read("4k7")}) == 1
    with pytest.raises(AttributeError):
        read("4k7").prefix = "M"  # type: ignore[misc]


# ------------------------------------------------------------------ the field decides


@pytest.mark.parametrize("text", ["470", "4k7", "2M2", "0R47", "1G", "1meg", "470 ohm"])
def test_resistance_needs_no_unit(text: str) -> None:
    quantity = read(text).as_(Dimension.OHM)
    assert quantity.dimension is Dimension.OHM
    assert quantity.exact == read(text).exact


@pytest.mark.parametrize("text", ["4n7", "47u", "100n", "33p", "4m7", "47 uF"])
def test_capacitance_needs_its_letter(text: str) -> None:
    assert read(text).as_(Dimension.FARAD).dimension is Dimension.FARAD


def test_plain_volts_serve_for_alternating_ones() -> None:
    assert read("230 V").as_(Dimension.VOLT_AC).dimension is Dimension.VOLT_AC
    assert read("230 V").as_(Dimension.VOLT).dimension is Dimension.VOLT


@pytest.mark.parametrize(
    ("text", "wanted", "message"),
    [
        ("47uF", Dimension.OHM, "47uF is a capacitance; here a resistance is wanted"),
        ("47 uF", Dimension.OHM, "47 uF is a capacitance"),
        ("47u", Dimension.OHM, "47u is written as a capacitance"),
        ("4k7", Dimension.FARAD, "4k7 is written as a resistance; here a capacitance"),
        ("4k7", Dimension.VOLT, "4k7 is written as a resistance; here a voltage"),
        ("48", Dimension.VOLT, "48 has no unit; here a voltage is wanted, such as 48 V"),
        ("48", Dimension.VOLT_AC, "48 has no unit"),
        ("47", Dimension.FARAD, "47 has no unit; here a capacitance"),
        ("10", Dimension.PERCENT, "10 has no unit; here a percentage is wanted, such as 10%"),
        ("20", Dimension.AMPERE, "20 has no unit"),
        ("20u", Dimension.AMPERE, "written as a capacitance; here a current"),
        ("0.5", Dimension.WATT, "0.5 has no unit"),
        ("50", Dimension.HERTZ, "50 has no unit"),
        ("48 Vac", Dimension.VOLT, "48 Vac is an alternating voltage"),
        ("48 Vdc", Dimension.VOLT_AC, "48 Vdc is a voltage; here an alternating voltage"),
        ("0.4 V", Dimension.VOLT_PP, "here a peak-to-peak voltage is wanted"),
        ("0.4 Vpp", Dimension.VOLT_AC, "0.4 Vpp is a peak-to-peak voltage"),
        ("4m7", Dimension.OHM, "if megohms are meant, write 4M7"),
        # Markings on capacitors: two figures and the number of noughts, in picofarads.
        ("104K", Dimension.FARAD, "if that is the marking on a capacitor, write 100 nF"),
        ("473", Dimension.FARAD, "if that is the marking on a capacitor, write 47 nF"),
    ],
)
def test_wrong_dimension(text: str, wanted: Dimension, message: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        read(text).as_(wanted)
    assert message in str(caught.value)


# --------------------------------------------------------------------------- any text


def outcome(text: str, unit: str | None = None) -> Quantity | ValueProblem:
    try:
        return read(text, unit)
    except ValueProblem as problem:
        return problem


def fitted(quantity: Quantity, dimension: Dimension) -> bool:
    try:
        return quantity.as_(dimension).dimension is dimension
    except ValueProblem:
        return False


@settings(deadline=None)
@given(st.text(), st.none() | st.text())
def test_any_text_is_read_or_refused(text: str, unit: str | None) -> None:
    assert isinstance(outcome(text, unit), Quantity | ValueProblem)


@settings(deadline=None, max_examples=500)
@given(
    st.text("0123456789.,+-/eEkKmMRGTpnuFVacdpsohmWHz%AJ \N{MICRO SIGN}\N{OHM SIGN}\N{MINUS SIGN}")
)
def test_near_values_are_read_or_refused(text: str) -> None:
    found = outcome(text)
    if isinstance(found, Quantity):
        assert any(c in "0123456789" for c in text)
        fits = [dimension for dimension in Dimension if fitted(found, dimension)]
        assert fits
        assert found.dimension is None or found.dimension in fits
    else:
        assert found.what
        assert not found.what.endswith(".")


@pytest.mark.parametrize(
    "piece", ["9", "k", "1/", "1,000", "1e", "-", "\N{MICRO SIGN}", "4k7 ", " ", ".", "1-0-1"]
)
def test_junk_is_refused_at_once(piece: str) -> None:
    junk = piece * 10_000
    start = time.perf_counter()
    with pytest.raises(ValueProblem):
        read(junk)
    with pytest.raises(ValueProblem):
        read("4.7", junk)
    # A busy machine may stall for a tenth of a second; quadratic work would take far more.
    assert time.perf_counter() - start < 0.5


def test_length_limit() -> None:
    assert read("1." + "0" * (LONGEST - 2)).nominal == 1.0
    with pytest.raises(ValueProblem, match="too long"):
        read("1." + "0" * (LONGEST - 1))


def test_import_stays_light() -> None:
    code = (
        "import sys, netcheck; before = set(sys.modules)\n"
        "import netcheck.quantity, netcheck.preferred, netcheck.bands\n"
        "print(*(set(sys.modules) - before))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    added = run.stdout.split()
    assert "netcheck.quantity.reading" in added
    heavy = {"numpy", "scipy", "lark", "networkx", "quantiphy", "difflib", "fractions"}
    assert heavy.isdisjoint(added)
