"""What the lines of a sheet say, and which conditions each reading was taken under."""

from __future__ import annotations

import re

import pytest

from netcheck.parse.lines import line_parser
from netcheck.parse.sheet import parse_sheet, read_sheet
from netcheck.parse.words import WORDING
from netcheck.readings import (
    OVERLOAD,
    UNSTATED,
    Accuracy,
    Function,
    Kind,
    Meter,
    Position,
    Range,
    Reading,
    Sheet,
    State,
)
from netcheck.report.findings import render
from netcheck.resources import folder
from netcheck.source import Source, Span

# The example by which the language was designed.
EXAMPLE = """\
readings for two-6v6gt-foot.bias

meter dmm   10 Mohm   dcv 0.5% + 2 digits   range 200 V resolution 0.1 V   ohms 0.8% + 1 digit

as found
  mains 236 V
  tap 50.1 Vac
  RV1 at clockwise            # or at anticlockwise, at middle, at 30%
    raw    -61.2 V
    grid1  -44.0 V
    V1     cathode 11.5 mA   plate 402 V
    V2     cathode 13.0 mA   plate 402 V
  RV1 at anticlockwise
    grid1  -52.7 V
  raw ripple 0.4 Vpp
  power off
    R3   31.2k              # across the part, still soldered in

as left
  raw -61.0 V
"""


def read(text: str) -> Sheet:
    sheet, findings = parse_sheet(Source("case.readings", text))
    assert sheet is not None, render(findings)
    return sheet


def taken(lines: str) -> tuple[Reading, ...]:
    return read(f"readings for x.bias\nas found\n{lines}").readings


def one(line: str) -> Reading:
    (reading,) = taken(line)
    return reading


def test_the_example() -> None:
    sheet = read(EXAMPLE)
    dmm = Meter(
        "dmm",
        10e6,
        accuracy={
            Function.DC_VOLTS: Accuracy(0.005, 2.0, (Range(200.0, 0.1),)),
            Function.OHMS: Accuracy(0.008, 1.0),
        },
    )
    assert sheet.circuit == "two-6v6gt-foot.bias"
    assert sheet.meters == (dmm,)
    first, second = {"RV1": Position(1.0, turn=1)}, {"RV1": Position(0.0, turn=2)}
    before, cw = State(), State(pots=first, turn=1)
    ccw = State(pots=second, turn=2)
    assert sheet.readings == (
        Reading(Kind.MAINS, 236.0, 1.0, before, dmm),
        Reading(Kind.AC, 50.1, 0.1, before, dmm, "tap", "ground"),
        Reading(Kind.DC, -61.2, 0.1, cw, dmm, "raw", "ground"),
        Reading(Kind.DC, -44.0, 0.1, cw, dmm, "grid1", "ground"),
        Reading(Kind.CURRENT, 0.0115, 0.0001, cw, dmm, part="V1"),
        Reading(Kind.PLATE, 402.0, 1.0, cw, dmm, part="V1"),
        Reading(Kind.CURRENT, 0.013, 0.0001, cw, dmm, part="V2"),
        Reading(Kind.PLATE, 402.0, 1.0, cw, dmm, part="V2"),
        Reading(Kind.DC, -52.7, 0.1, ccw, dmm, "grid1", "ground"),
        Reading(Kind.RIPPLE, 0.4, 0.1, ccw, dmm, "raw", "ground"),
        Reading(Kind.OHMS, 31200.0, 100.0, State(live=False, pots=second, turn=2), dmm,
                minus="ground", part="R3"),
        Reading(Kind.DC, -61.0, 0.1, State("as left"), dmm, "raw", "ground"),
    )  # fmt: skip
    assert sheet.stages == ("as found", "as left")
    assert [(r.span, r.nominal) for r in sheet.readings][4] == (Span(11, 20, 27), 0.0115)


DC, AC, OHMS = Kind.DC, Kind.AC, Kind.OHMS
# Line, kind, value, last digit, plus, minus, part.
LINES: list[tuple[str, Kind, float, float, str, str, str]] = [
    ("raw -61.2 V", DC, -61.2, 0.1, "raw", "ground", ""),
    ("raw \u221261.20 Vdc", DC, -61.2, 0.01, "raw", "ground", ""),
    ("raw -850 mV", DC, -0.85, 0.001, "raw", "ground", ""),
    ("node mains -3 V", DC, -3.0, 1.0, "mains", "ground", ""),
    ("FROM raw TO head -15.2 V", DC, -15.2, 0.1, "raw", "head", ""),
    ("across R2 15.2 V", DC, 15.2, 0.1, "", "", "R2"),
    ("resistor R2 15.2 V", DC, 15.2, 0.1, "", "", "R2"),
    ("V1 grid -44.0 V", DC, -44.0, 0.1, "", "ground", "V1"),
    ("tap 50.1 Vac", AC, 50.1, 0.1, "tap", "ground", ""),
    ("tap 50.1 V ac", AC, 50.1, 0.1, "tap", "ground", ""),
    ("across R1 1.2 Vac", AC, 1.2, 0.1, "", "", "R1"),
    ("raw ripple 0.14 Vac", AC, 0.14, 0.01, "raw", "ground", ""),
    ("raw ripple 0.4 Vpp", Kind.RIPPLE, 0.4, 0.1, "raw", "ground", ""),
    ("from raw to head ripple 40 mVpp", Kind.RIPPLE, 0.04, 0.001, "raw", "head", ""),
    ("mains 236 V", Kind.MAINS, 236.0, 1.0, "", "", ""),
    ("Mains 236.4 Vac", Kind.MAINS, 236.4, 0.1, "", "", ""),
    ("V1 cathode 11.5 mA", Kind.CURRENT, 0.0115, 0.0001, "", "", "V1"),
    ("V1 cathode 11.5 mV", Kind.CATHODE, 0.0115, 0.0001, "", "", "V1"),
    ("tube V1 anode 402 V", Kind.PLATE, 402.0, 1.0, "", "", "V1"),
    ("V1 SCREEN 398 V", Kind.SCREEN, 398.0, 1.0, "", "", "V1"),
]
DEAD: list[tuple[str, Kind, float, float, str, str, str]] = [
    ("R3 31.2k", OHMS, 31200.0, 100.0, "", "ground", "R3"),
    ("R3 31k2", OHMS, 31200.0, 100.0, "", "ground", "R3"),
    ("R3 470", OHMS, 470.0, 1.0, "", "ground", "R3"),
    ("across R3 31.2 kohm", OHMS, 31200.0, 100.0, "", "", "R3"),
    ("part with 31.2 kohm", OHMS, 31200.0, 100.0, "", "", "with"),
    ("node foot 26.8k", OHMS, 26800.0, 100.0, "foot", "ground", ""),
    ("from head to ground 45k", OHMS, 45000.0, 1000.0, "head", "ground", ""),
    ("R3 OL", OHMS, OVERLOAD, 0.0, "", "ground", "R3"),
    ("from a to b open", OHMS, OVERLOAD, 0.0, "a", "b", ""),
    ("R3 lifted 33.1k", Kind.LIFTED, 33100.0, 100.0, "", "", "R3"),
    ("R3 lifted overload", Kind.LIFTED, OVERLOAD, 0.0, "", "", "R3"),
    ("C1 lifted 2M2", Kind.LIFTED, 2.2e6, 1e5, "", "", "C1"),
    ("C1 lifted 41 uF", Kind.CAPACITANCE, 41e-6, 1e-6, "", "", "C1"),
    ("C1 lifted 100n", Kind.CAPACITANCE, 100e-9, 1e-9, "", "", "C1"),
    ("D1 forward 0.562 V", Kind.FORWARD, 0.562, 0.001, "", "", "D1"),
    ("diode D1 FORWARD 562 mV", Kind.FORWARD, 0.562, 0.001, "", "", "D1"),
    ("D1 reverse OL", Kind.REVERSE, OVERLOAD, 0.0, "", "", "D1"),
    ("C1 esr 2.2 ohm", Kind.ESR, 2.2, 0.1, "", "", "C1"),
    ("R3 0 ohm", OHMS, 0.0, 1.0, "", "ground", "R3"),
]


@pytest.mark.parametrize("case", LINES, ids=lambda case: case[0])
def test_a_reading_with_the_power_on(case: tuple[str, Kind, float, float, str, str, str]) -> None:
    line, *said = case
    r = one(line)
    assert [r.kind, r.nominal, r.last_digit, r.plus, r.minus, r.part] == pytest.approx(said)
    assert r.state == State()
    assert r.meter == UNSTATED


@pytest.mark.parametrize("case", DEAD, ids=lambda case: case[0])
def test_a_reading_with_the_power_off(case: tuple[str, Kind, float, float, str, str, str]) -> None:
    line, *said = case
    r = one(f"power off\n{line}")
    assert [r.kind, r.nominal, r.last_digit, r.plus, r.minus, r.part] == pytest.approx(said)
    assert r.state == State(live=False)


def test_several_readings_on_a_line_share_its_meter_and_note() -> None:
    found = read(
        "readings for x\nmeter a 10M\nmeter b 1M\nas found\nV1 cathode 38.5 mA plate 402 V "
        'screen 398 V grid -36 V with b note "warm"'
    ).readings
    assert [r.kind for r in found] == [Kind.CURRENT, Kind.PLATE, Kind.SCREEN, Kind.DC]
    assert {(r.meter.name, r.note, r.part) for r in found} == {("b", "warm", "V1")}


POSITIONS = [
    ("clockwise", 1.0, False), ("CW", 1.0, False), ("anticlockwise", 0.0, False),
    ("counterclockwise", 0.0, False), ("ccw", 0.0, False), ("acw", 0.0, False), ("middle", 0.5, True),
    ("centre", 0.5, True), ("30%", 0.3, True), ("30 %", 0.3, True), ("0.5%", 0.005, True),
    # At a stop there is nothing to judge by eye, whatever it is called.
    ("0%", 0.0, False), ("100 %", 1.0, False),
]  # fmt: skip


@pytest.mark.parametrize(("words", "travel", "by_eye"), POSITIONS)
def test_positions(words: str, travel: float, by_eye: bool) -> None:
    r = one(f"RV1 at {words}\nraw -3 V")
    assert r.state.pots == {"RV1": Position(travel, by_eye)}


def test_pots_that_are_not_named_stay_where_they_were() -> None:
    found = taken(
        "raw -1 V\n"
        "RV1 at middle\nRV2 at clockwise RV3 at 20%\nraw -2 V\nhead -2 V\n"
        "RV2 at anticlockwise\nraw -3 V\n"
        "RV1 at middle\nraw -4 V"
    )
    assert [r.state.turn for r in found] == [0, 1, 1, 2, 3]
    rv1 = [r.state.pots.get("RV1") for r in found]
    # Not touched in turn 2, so off by the same error by eye; set anew in turn 3.
    assert rv1 == [None, *[Position(0.5, True, 1)] * 3, Position(0.5, True, 3)]
    assert found[3].state.pots == {
        "RV1": Position(0.5, True, 1),
        "RV2": Position(0.0, turn=2),
        "RV3": Position(0.2, True, 1),
    }


def test_settings_before_the_first_reading_are_turn_0() -> None:
    found = taken("RV1 at middle\nRV1 at clockwise\nraw -1 V\nRV1 at middle\nraw -1 V")
    assert [(r.state.turn, r.state.pots["RV1"]) for r in found] == [
        (0, Position(1.0)),
        (1, Position(0.5, True, 1)),
    ]


def test_power_and_valves_hold_until_they_are_said_again() -> None:
    found = taken(
        "valves out\npower off discharged\nR3 1k\npower off\nR3 1k\ntubes in\nR3 1k\npower on\nraw -1 V"
    )
    held = [(r.state.live, r.state.discharged, r.state.valves_out) for r in found]
    assert held == [(False, True, True), (False, False, True), (False, False, False),
                    (True, False, False)]  # fmt: skip


def test_a_stage_begins_with_power_on_valves_in_and_pots_anywhere() -> None:
    found = taken(
        "RV1 at clockwise\nvalves out\npower off discharged\nR3 1k\n"
        "as left\nraw -1 V\nRV1 at middle\nraw -1 V\n"
        "as found\nraw -2 V\nRV1 at middle\nraw -2 V"
    )
    assert [r.state for r in found] == [
        State("as found", False, {"RV1": Position(1.0)}, True, True, 0),
        State("as left"),
        State("as left", pots={"RV1": Position(0.5, True, 1)}, turn=1),
        State("as found", turn=1),
        State("as found", pots={"RV1": Position(0.5, True, 2)}, turn=2),
    ]


def test_which_meter_a_reading_was_taken_with() -> None:
    sheet = read(
        "readings for x\nas found\nraw -1 V\nwith SCOPE\nraw -1 V\nraw -1 V with dmm\nraw -1 V\n"
        "as left\nraw -1 V\nmeter dmm 10M\nmeter scope 1M"
    )
    assert [r.meter.name for r in sheet.readings] == ["dmm", "scope", "dmm", "scope", "scope"]
    assert [m.name for m in sheet.meters] == ["dmm", "scope"]


def test_a_meter_line_of_the_same_name_adds_functions() -> None:
    sheet = read(
        "readings for x\nmeter avo 20 kohm per volt dcv 3% of full scale range 250 V range 10 V\n"
        "meter AVO ohms 5% test 1.5 V"
    )
    (avo,) = sheet.meters
    assert avo.ohm_per_volt == 20e3
    assert avo.v_test == 1.5
    assert avo.accuracy == {
        Function.DC_VOLTS: Accuracy(0.03, 0.0, (Range(10.0), Range(250.0)), of_full_scale=True),
        Function.OHMS: Accuracy(0.05),
    }


def test_every_function_of_a_meter() -> None:
    line = (
        "meter dmm 10M ohms 0.8% + 1 digit range 20k ohms resolution 10 ohms dcv 0.5% + 2 digits "
        "acv 1% +3 digits range 200 V amps 1.5% 3 counts range 200 mA resolution 0.1 mA "
        "capacitance 4% + 5 digits range 200 uF"
    )
    (dmm,) = read(f"readings for x\n{line}").meters
    assert dmm.accuracy == {
        Function.OHMS: Accuracy(0.008, 1.0, (Range(20e3, 10.0),)),
        Function.DC_VOLTS: Accuracy(0.005, 2.0),
        Function.AC_VOLTS: Accuracy(0.01, 3.0, (Range(200.0),)),
        Function.CURRENT: Accuracy(0.015, 3.0, (Range(0.2, 0.0001),)),
        Function.CAPACITANCE: Accuracy(0.04, 5.0, (Range(200e-6),)),
    }


def test_notes_of_the_job_and_a_file_name_with_blanks() -> None:
    sheet = read('note "a # b"\nreadings for "my amp.bias"\nNOTE "c"\nas left')
    assert (sheet.circuit, sheet.notes, sheet.readings) == ("my amp.bias", ("a # b", "c"), ())
    assert sheet.span == Span(2, 14, 27)


def test_lines_keep_their_comments() -> None:
    lines = read_sheet(Source("x", EXAMPLE)).lines
    assert [line.comment for line in lines if line.comment] == [
        "or at anticlockwise, at middle, at 30%",
        "across the part, still soldered in",
    ]


def test_the_words_that_lines_begin_with_are_those_of_the_grammar() -> None:
    """Names that are one of these need "node" or "part" in front."""
    assert line_parser("readings.lark").first_words == {
        *("readings", "note", "meter", "with", "as", "power", "valves", "tubes", "mains"),
        *("node", "across", "from"),
        *("part", "resistor", "capacitor", "diode", "pot", "valve", "tube"),
    }


def test_each_grammar_has_its_wording() -> None:
    grammars = {path.name for path in folder("grammars").glob("*.lark")} - {"common.lark"}
    assert set(WORDING) == grammars


def test_the_example_in_the_grammar_reads() -> None:
    """The grammar line is the documentation."""
    text = (folder("grammars") / "readings.lark").read_text(encoding="utf-8")
    head = re.split("\n(?!//)", text)[0]
    lines = re.findall("^//     (.*)$", head, re.M)
    example = "\n".join(line.split(" // ")[0] for line in lines)
    assert len(read(example).readings) == 12
