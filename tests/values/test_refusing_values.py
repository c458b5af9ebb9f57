"""Texts that are refused, and the advice that is given."""

from __future__ import annotations

import pickle
import re
import traceback

import pytest

from netcheck.errors import NetcheckError
from netcheck.quantity import Dimension, ValueProblem, read

REFUSED = [
    # text, a piece of what is said, the fix
    ("4,7k", "has a comma", "write 4.7k or 4k7"),
    ("4,7", "has a comma", "write 4.7"),
    ("0,5 W", "has a comma", "write 0.5 W"),
    ("47,5 uF", "has a comma", "write 47.5 uF"),
    ("0,470", "has a comma", "write 0.470"),
    ("1,000", "has a comma", "write 1000 or 1.000, whichever is meant"),
    ("4,700k", "has a comma", "write 4700k or 4.700k, whichever is meant"),
    ("-1,000 V", "has a comma", "write -1000 V or -1.000 V, whichever is meant"),
    ("1,000,000", "has a comma", "write 1000000"),
    ("1,234.5", "has a comma", "write 1234.5"),
    ("4k,7", "has a comma", ""),
    ("1e3", "has a power of ten", "write 1k or 1R3, whichever is meant"),
    ("1E3", "has a power of ten", "write 1k or 1R3, whichever is meant"),
    ("4.7e3", "has a power of ten", "write 4k7"),
    ("1e-6F", "has a power of ten", "write 1 uF"),
    ("22e-6 F", "has a power of ten", "write 22 uF"),
    ("1e3 V", "has a power of ten", "write 1 kV"),
    ("1e99", "has a power of ten", ""),
    ("1e999999999", "has a power of ten", ""),
    ("1/2 W", "is a fraction", "write 0.5 W"),
    ("1/4W", "is a fraction", "write 0.25 W"),
    ("1/3", "is a fraction", ""),
    ("1/0", "is a fraction", ""),
    ("4.7.2", "decimal point out of place", ""),
    ("4..7", "decimal point out of place", ""),
    ("47.", "decimal point out of place", "write 47"),
    ("1.000.000", "decimal point out of place", ""),
    ("4.7k5", "decimal point out of place", ""),
    ("4k7.5", "decimal point out of place", ""),
    ("4k7M2", "decimal point out of place", ""),
    ("4k7k", "decimal point out of place", "write 4k7 or 4k7K for a tolerance of 10%"),
    ("4k7u", "decimal point out of place", "write 4k7"),
    ("1m", "may mean milli or mega", "write 1M for megohms, 0.001 ohm for milliohms"),
    ("1 mohm", "may mean milli or mega", "write 1M for megohms, 0.001 ohm for milliohms"),
    ("47mF", "may mean microfarads", "write 47 uF for microfarads, 47000 uF for millifarads"),
    ("47 MF", "may mean microfarads", "write 47 uF for microfarads"),
    ("2MF", "may mean microfarads", "write 2 uF for microfarads"),
    ("4n7F", "the F of 4n7F may mean farad or a tolerance", "write 4n7"),
    ("8p2J", "no percentage on less than 10 pF", "leave the letter out"),
    ("10kA", "not a tolerance", "the taper of a pot as a word"),
    ("10kB", "not a tolerance", "the taper of a pot as a word"),
    ("4k7B", "not a tolerance", "the taper of a pot as a word"),
    ("27kk", "letters of tolerance are F G J K M, in capitals", "a tolerance as a percentage"),
    ("50MA", "not a tolerance", "milliamperes as mA"),
    ("5MV", '"MV" in 5MV is not a unit', "did you mean 5 mV?"),
    ("470 khm", '"khm" in 470 khm is not a unit', "did you mean 470 kohm?"),
    ("470 oms", "is not a unit", "did you mean 470 ohm?"),
    ("48 Vca", "is not a unit", "did you mean 48 Vac?"),
    ("470 frogs", "the units are ohm kohm", ""),
    ("470J", '"J" in 470J is not a unit', ""),
    ("470 ohm ohm", "is not a unit", ""),
    ("470ohm ohm", "is not a unit", ""),
    ("470o hm", "is not a unit", ""),
    ("4k7o hm", "is not a unit", ""),
    ("12 Vpk", "is a peak voltage", "write Vac for rms, Vpp for peak to peak"),
    ("4k7 V", "V does not go with it", "write 4.7 kV"),
    ("4k7 kohm", "kohm does not go with it", "write 4k7"),
    ("4n7 ohm", "ohm does not go with it", "write 4n7"),
    ("10k10%", "% does not go with it", "write 10k 10%"),
    ("4\N{OHM SIGN}7", "unit in place of the point", "write 4R7"),
    ("5V1", "unit in place of the point", "if volts are meant, write 5.1 V"),
    ("50-0-50", "is the two halves of a winding", "write 50 Vac for one half"),
    ("1 000", "more than one number", "write 1000"),
    ("4 7k", "more than one number", ""),
    ("+-10%", "has two signs", "write 10%"),
    ("\N{PLUS-MINUS SIGN}10%", "has two signs", "write 10%"),
    ("\N{EN DASH}52 V", "begins with a dash", "write -52 V"),
    ("--5", "is not a value", ""),
    ("\N{ARABIC-INDIC DIGIT FOUR}7k", "figures other than 0 to 9", ""),
    ("4\N{FULLWIDTH DIGIT SEVEN}k", "figures other than 0 to 9", ""),
    ("\N{VULGAR FRACTION ONE HALF}W", "figures other than 0 to 9", ""),
    ("5000T", "too large for any part", ""),
    ("0.0001p", "too small for any part", ""),
    ("9" * 60, "too large for any part", ""),
    ("9" * 65, "too long for a value", ""),
    ("", "is not a value", ""),
    (" ", "is not a value", ""),
    (".", "is not a value", ""),
    ("-", "is not a value", ""),
    ("k", "is not a value", ""),
    ("nan", "is not a value", ""),
    ("inf", "is not a value", ""),
    ("-inf", "is not a value", ""),
    ("1_000", "is not a unit", ""),
    ("0x1F", "is not a unit", ""),
    ("4k7/1W", "is not a unit", ""),
    ("4k7;", "is not a unit", ""),
    ("4k7\x00", "is not a unit", ""),
]


@pytest.mark.parametrize(("text", "said", "fix"), REFUSED)
def test_refuses(text: str, said: str, fix: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        read(text)
    assert said in str(caught.value)
    if fix:
        assert fix in caught.value.fix
    else:
        assert not caught.value.fix.startswith("write ")


@pytest.mark.parametrize("text", [text for text, *_ in REFUSED])
def test_what_is_advised_can_be_read(text: str) -> None:
    with pytest.raises(ValueProblem) as caught:
        read(text)
    number = r"(-?[0-9][0-9.]*(?:[kMRun][0-9]*)?(?: ?(?:ohm|uF|W|kV|V|mV|%))?)"
    advice = re.fullmatch(rf"(?:write|did you mean) {number}(?: or {number})?.*", caught.value.fix)
    for spelling in filter(None, advice.groups() if advice else ()):
        assert read(spelling)


def test_what_is_said_is_printable_and_short() -> None:
    for text in ("4k7\x1b[31m", "4.7 \x07\ud800", "5\x00 V"):
        with pytest.raises(ValueProblem) as caught:
            read(text)
        assert str(caught.value).isprintable()
        str(caught.value).encode()
    with pytest.raises(ValueProblem) as caught:
        read("x" * 100_000)
    assert len(str(caught.value)) < 200


def test_problem_is_frozen_and_can_be_passed_on() -> None:
    problem = ValueProblem("1 ohm too many", "none expected", "take it out")
    assert (problem.what, problem.expected, problem.fix) == problem.args
    assert str(problem) == "1 ohm too many; none expected; take it out"
    assert isinstance(problem, ValueError)
    assert isinstance(problem, NetcheckError)
    with pytest.raises(AttributeError):
        problem.fix = "leave it"  # type: ignore[misc]
    assert pickle.loads(pickle.dumps(problem)).args == problem.args
    assert "1 ohm too many" in "".join(traceback.format_exception(problem))


def test_example_of_every_dimension_is_one() -> None:
    for dimension in Dimension:
        assert read(dimension.example).as_(dimension).dimension is dimension
