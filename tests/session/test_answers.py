"""What an answer at a prompt is taken for."""

from __future__ import annotations

import pytest

from netcheck.graph import Section
from netcheck.quantity import ValueProblem
from netcheck.readings import OVERLOAD, UNSTATED, Kind, Reading, State
from netcheck.session.answers import Word, answered, is_value, mistyped, unit_asked, word

OFF = State(live=False, discharged=True)
GRID = Reading(Kind.DC, 0.0, 0.0, State(), UNSTATED, "grid1", "ground")
RAW = Reading(Kind.AC, 0.0, 0.0, State(), UNSTATED, "raw", "ground")
TAP = Reading(Kind.AC, 0.0, 0.0, State(), UNSTATED, "tap", "ground")
R3 = Reading(Kind.OHMS, 0.0, 0.0, OFF, UNSTATED, "foot", "ground", "R3")
V1 = Reading(Kind.CURRENT, 0.0, 0.0, State(), UNSTATED, part="V1")
C1 = Reading(Kind.CAPACITANCE, 0.0, 0.0, OFF, UNSTATED, part="C1")
D1 = Reading(Kind.FORWARD, 0.0, 0.0, OFF, UNSTATED, "raw", "feed", "D1")
MAINS = Reading(Kind.MAINS, 0.0, 0.0, State(), UNSTATED)


@pytest.mark.parametrize(
    ("asked", "typed", "nominal", "last_digit"),
    [
        (GRID, "-44.0", -44.0, 0.1),
        (GRID, "-44.0 V", -44.0, 0.1),
        (GRID, "-44.0V", -44.0, 0.1),
        (GRID, "\u221244 Vdc", -44.0, 1.0),
        (GRID, "-830 mV", -0.83, 1e-3),
        (RAW, "0.12", 0.12, 0.01),
        (RAW, "120 mVac", 0.12, 1e-3),
        (MAINS, "236", 236.0, 1.0),
        (MAINS, "236 Vac", 236.0, 1.0),
        (R3, "26.8k", 26800.0, 100.0),
        (R3, "26k8", 26800.0, 100.0),
        (R3, "470", 470.0, 1.0),
        (R3, "OL", OVERLOAD, 0.0),
        (R3, "open", OVERLOAD, 0.0),
        (D1, "0.562", 0.562, 1e-3),
        (D1, "562 mV", 0.562, 1e-3),
        (D1, "OL", OVERLOAD, 0.0),
        (V1, "35.2 mA", 0.0352, 1e-4),
        (C1, "41 uF", 41e-6, 1e-6),
    ],
)
def test_values_as_on_a_meter(
    section: Section, asked: Reading, typed: str, nominal: float, last_digit: float
) -> None:
    assert is_value(typed)
    reading = answered(typed, asked, section)
    assert (reading.kind, reading.plus, reading.part) == (asked.kind, asked.plus, asked.part)
    assert reading.nominal == pytest.approx(nominal, rel=1e-12)
    assert reading.last_digit == pytest.approx(last_digit, rel=1e-12)


@pytest.mark.parametrize(
    ("asked", "typed", "said"),
    [
        (GRID, "-44.0 k", "resistance"),
        (GRID, "44 Vac", "an alternating voltage"),
        (GRID, "27k", "resistance"),
        (GRID, "OL", "larger range"),
        (GRID, "4,7", ""),
        (GRID, "12..5", ""),
        (R3, "44 V", "voltage"),
        (R3, "-5", "negative"),
        (D1, "47k", "resistance"),
        (D1, "-0.5", "negative"),
        (V1, "35.2", "no unit"),
        (C1, "41", "no unit"),
        (C1, "41 V", "voltage"),
        (TAP, "136 Vpp", "peak-to-peak"),
        (GRID, "1e400", ""),
        (GRID, "9" * 200, ""),
    ],
)
def test_what_is_no_such_value_is_refused(
    section: Section, asked: Reading, typed: str, said: str
) -> None:
    with pytest.raises(ValueProblem) as raised:
        answered(typed, asked, section)
    assert said in str(raised.value)


def test_the_same_thing_read_in_another_way(section: Section) -> None:
    assert answered("35.2 mV", V1, section).kind is Kind.CATHODE
    assert answered("0.4 Vpp", RAW, section).kind is Kind.RIPPLE
    assert "across its resistor" in unit_asked(V1, section)


def test_a_remark_goes_with_the_value(section: Section) -> None:
    assert answered('-44.0 V note "jumps"', GRID, section).note == "jumps"


def test_words_for_the_program() -> None:
    assert word(" Skip ") is Word.SKIP
    assert word("?") is Word.HELP
    assert word("grid1 -44 V") is None
    assert word("list -44 V") is None


def test_a_mistyped_word_is_met_with_the_nearest() -> None:
    assert '"skip"' in str(mistyped("skpi"))
    assert '"help"' in str(mistyped("banana"))
    assert mistyped("OL") is None
    assert mistyped("grid1 -44 V") is None
    assert mistyped("-44") is None
