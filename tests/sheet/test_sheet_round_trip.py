"""What is written of a sheet reads back as the same, whole or one reading at a time."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings

from netcheck.parse.sheet import SheetText, read_sheet
from netcheck.readings import Kind, Meter, Position, Reading, Sheet, State
from netcheck.report.findings import render
from netcheck.resources import folder
from netcheck.sheetlayout import append_reading, format_sheet, format_sheet_lines
from netcheck.source import Source

from .strategies import sheets

SHIPPED = sorted(folder("circuits").glob("**/*.readings"))
QUICK = settings(max_examples=40, deadline=None, derandomize=True)
HEAD = "readings for x.bias\n"


def read_back(text: str) -> SheetText:
    found = read_sheet(Source("written", text))
    assert not found.findings, render(found.findings) + "\n" + text
    return found


@QUICK
@given(sheets())
def test_a_sheet_reads_back_as_it_was_written(sheet: Sheet) -> None:
    text = format_sheet(sheet)
    assert read_back(text).sheet == sheet
    assert max(map(len, text.split("\n"))) < 500  # the longest line that is parsed


@QUICK
@given(sheets())
def test_the_canonical_form_stays_as_it_is(sheet: Sheet) -> None:
    text = format_sheet(sheet)
    assert format_sheet_lines(read_back(text).lines) == text


@QUICK
@given(sheets())
def test_readings_added_one_by_one_give_the_sheet(sheet: Sheet) -> None:
    text = format_sheet(replace(sheet, readings=()))
    for count, reading in enumerate(sheet.readings, start=1):
        before = text
        text = append_reading(text, reading)
        assert text.startswith(before)
        found = read_back(text).sheet
        assert found.readings == sheet.readings[:count]
    assert read_back(text).sheet == sheet


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_sheets_read_back_with_their_comments(path: Path) -> None:
    found = read_back(path.read_text(encoding="utf-8"))
    again = read_back(format_sheet_lines(found.lines))
    kept = [line for line in found.lines if line.entry or line.comment is not None]
    assert [line for line in again.lines if line.entry or line.comment is not None] == kept
    assert read_back(format_sheet(found.sheet)).sheet == found.sheet


@pytest.mark.parametrize(
    "name", ["a\x86.bias", "\U000e0827\u00d0", "x\ufffc", "two words", "\u00e4.bias"]
)
def test_a_name_in_quotes_keeps_what_cannot_be_seen(name: str) -> None:
    written = format_sheet_lines(read_back(f'readings for "{name}"\n').lines)
    assert read_back(written).sheet.circuit == name
    assert ('"' in written) is (name != "\u00e4.bias")


UNTIDY = """\
# why
READINGS for a.bias
meter dmm 10 Mohm ohms 0.8% + 1 digit dcv 0.5 % + 2 counts range 200V resolution .1 V  #mine
As Found
mains 236 Vac


rv1 at CCW RV2 at 30 %
raw \u221261.20V with dmm
from raw to head -15.2 V
power off discharged
R3 31k2 # in place
c1 lifted 41 mfd esr 2.2
valves OUT
node foot OL
"""
TIDY = """\
# why
readings for a.bias
meter dmm  10M  dcv 0.5% + 2 digits  range 200 V resolution 0.1 V  ohms 0.8% + 1 digit  # mine
as found
  mains  236 V

  rv1 at anticlockwise  RV2 at 30%
    raw               -61.20 V  with dmm
    from raw to head  -15.2 V
  power off  discharged
    R3  31.2k  # in place
    c1  lifted 41 uF  esr 2.2 ohm
  valves out
    node foot  OL
"""


def test_the_canonical_form() -> None:
    assert format_sheet_lines(read_back(UNTIDY).lines) == TIDY


def test_a_new_reading_disturbs_nothing_and_brings_its_headings() -> None:
    text = HEAD + "# x\nas found\n  RV1 at middle\n    raw -61.2 V   # mine"
    dmm = read_back(text).sheet.meters[0]
    state = State(pots={"RV1": Position(1.0, turn=1)}, turn=1)
    text = append_reading(text, Reading(Kind.DC, -44.0, 0.1, state, dmm, "grid1", "ground"))
    assert text == HEAD + (
        "# x\nas found\n  RV1 at middle\n    raw -61.2 V   # mine\n"
        "  RV1 at clockwise\n    grid1  -44.0 V\n"
    )  # fmt: skip
    off = replace(state, live=False, discharged=True, valves_out=True)
    text = append_reading(
        text, Reading(Kind.OHMS, 31200.0, 100.0, off, dmm, "foot", "ground", "R3")
    )
    assert text.endswith("  valves out\n  power off  discharged\n    across R3  31.2k\n")
    left = State("as left")
    text = append_reading(text, Reading(Kind.DC, -52.0, 0.1, left, dmm, "raw", "ground", note="ok"))
    assert text.endswith('31.2k\n\nas left\n  raw  -52.0 V  note "ok"\n')
    stages = [r.state.stage for r in read_back(text).sheet.readings]
    assert stages == ["as found"] * 3 + ["as left"]


def test_a_pot_set_again_by_eye_is_named_again() -> None:
    text = HEAD + "as found\n  RV1 at middle\n    raw -61.2 V\n"
    dmm = read_back(text).sheet.meters[0]
    middle = Position(0.5, by_eye=True)
    untouched = State(pots={"RV1": middle}, turn=0)
    again = State(pots={"RV1": replace(middle, turn=1)}, turn=1)
    reading = Reading(Kind.DC, -44.0, 0.1, untouched, dmm, "grid1", "ground")
    assert append_reading(text, reading) == text + "    grid1  -44.0 V\n"
    text = append_reading(text, replace(reading, state=again))
    assert text.endswith("  RV1 at middle\n    grid1  -44.0 V\n")
    assert read_back(text).sheet.readings[-1].state == again


def test_a_state_without_numbers_of_turns_names_pots_only_where_they_stand_elsewhere() -> None:
    """A caller that does not count turns gets a setting for each position that is new."""
    text = HEAD
    dmm = Meter("meter")
    for travel in (1.0, 1.0, 0.0, 0.0):
        state = State(pots={"RV1": Position(travel)})
        text = append_reading(text, Reading(Kind.DC, -44.0, 0.1, state, dmm, "grid1", "ground"))
    assert re.findall("RV1 at .*", text) == ["RV1 at clockwise", "RV1 at anticlockwise"]
    assert [r.state.turn for r in read_back(text).sheet.readings] == [0, 0, 1, 1]


@pytest.mark.parametrize(
    "change",
    [
        {"meter": Meter("other")},
        {"plus": "two words"},
        {"plus": "a,b"},
        {"plus": ""},
        {"note": '6" long'},
        {"note": "a\nb"},
    ],
)
def test_what_cannot_be_written_is_refused(change: dict[str, object]) -> None:
    reading = Reading(Kind.DC, -44.0, 0.1, State(), Meter("meter"), "grid1", "ground")
    broken = replace(reading, **change)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"sheet|quotation"):
        append_reading(HEAD, broken)


def test_nothing_is_added_to_a_sheet_with_an_error_in_it() -> None:
    reading = Reading(Kind.DC, -44.0, 0.1, State(), Meter("meter"), "grid1", "ground")
    with pytest.raises(ValueError, match="has no unit"):
        append_reading(HEAD + "as found\nraw -3\n", reading)
