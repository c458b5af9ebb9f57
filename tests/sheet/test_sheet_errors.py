"""What is wrong with the text of a sheet: each mistake gives one finding, at its very spot.

In the texts below the spots are set between \u00ab and \u00bb, in the order of the findings.
"""

from __future__ import annotations

import pytest

from netcheck.finding import Finding
from netcheck.parse.sheet import parse_sheet
from netcheck.report.findings import render
from netcheck.source import NOWHERE, Source

from ..language.test_errors import expected_at

HEAD = "readings for x.bias\nmeter dmm 10 Mohm\n"
LIVE = HEAD + "as found\n"
DEAD = LIVE + "power off discharged\n"


def findings_of(text: str) -> list[Finding]:
    return parse_sheet(Source("case.readings", text))[1]


# Lines, slugs in reading order, and words that have to stand in the findings.
IN_HEAD: dict[str, tuple[str, str, str]] = {
    "second head": ("\u00abreadings\u00bb for y.bias", "doubled-line", "one circuit"),
    "stage": ("  \u00abraw\u00bb -61.2 V", "no-stage", 'add the line "as found" before it'),
    "stage for a setting": ("\u00abRV1\u00bb at middle\nraw -61.2 V", "no-stage", "as found"),
    "stage for power": ("\u00abpower\u00bb off\nR3 12k", "no-stage", "as found"),
    "word of a stage": ("as \u00abfund\u00bb\nraw -61.2 V", "unknown-word", 'did you mean "found"?'),
    "stage at all": ("as\u00ab \u00bb\nraw -61.2 V", "line-too-short", "found, left"),
    "kind": ("\u00abmetre\u00bb avo 20k per volt", "unknown-word", 'did you mean "meter"?'),
    # meters
    "name of a meter": ("meter\u00ab \u00bb", "line-too-short", "the name of a meter"),
    "input in volts": ("meter avo \u00ab10 V\u00bb", "wrong-unit", "input resistance (10 Mohm)"),
    "input too small": ("meter avo \u00ab10 ohm\u00bb", "absurd-value", "between 1k and 1T"),
    "input twice": ("meter avo 10M \u00ab20k\u00bb per volt", "doubled-field", "input resistance"),
    "input on two lines": ("meter avo 1M\nmeter avo \u00ab10M\u00bb", "doubled-field", "of avo is given twice"),
    "per volt with a stroke": ("meter avo \u00ab20k/V\u00bb", "unreadable-value", "write 20k per volt"),
    "per volt alone": ("meter avo \u00abper volt\u00bb", "value-missing", "20k per volt"),
    "accuracy without %": ("meter avo dcv \u00ab0.5\u00bb + 2 digits", "wrong-unit", "write 0.5%"),
    "accuracy in volts": ("meter avo dcv \u00ab0.5 V\u00bb", "wrong-unit", "accuracy (0.5%)"),
    "accuracy of a wreck": ("meter avo dcv \u00ab80%\u00bb", "absurd-value", "between 0% and 50%"),
    "accuracy in one word": ("meter avo dcv \u00ab0.5%+2\u00bb", "unreadable-value", "write 0.5% + 2 digits"),
    "no accuracy": ("meter avo dcv \u00abrange\u00bb 200 V", "value-missing", "a value is missing"),
    "function twice": ("meter avo dcv 1% \u00abdcv 2%\u00bb", "doubled-field", '"dcv" is given twice'),
    "function on two lines": ("meter avo dcv 1%\nmeter avo \u00abdcv 2%\u00bb", "doubled-field", '"dcv" of avo'),
    "accuracy without function": ("meter avo 20k per volt \u00ab3%\u00bb + 2 digits of full scale", "misplaced-word",
                                  "write, for instance, dcv 3%"),
    "accuracy of nothing": ("meter avo \u00ab0.5%\u00bb range 200 V", "misplaced-word", "dcv 0.5%"),
    "digits without function": ("meter avo \u00ab+ 2 digits\u00bb", "misplaced-word", "no function before"),
    "digits twice": ("meter avo dcv 1% + 2 digits \u00ab3 digits\u00bb", "doubled-field", "count of digits"),
    "digits that are none": ("meter avo dcv 1% \u00ab+ 2k digits\u00bb", "unreadable-value", "no count"),
    "full scale of nothing": ("meter avo \u00abof full scale\u00bb", "misplaced-word", "dcv 3% of full scale"),
    "range of nothing": ("meter avo \u00abrange 20 V\u00bb", "misplaced-word", "no function before this range"),
    "range twice": ("meter avo dcv 1% range 20 V range \u00ab20 V\u00bb", "doubled-field", "this range"),
    "range of another unit": ("meter avo dcv 1% range \u00ab20k\u00bb", "wrong-unit", "a voltage is wanted"),
    "range without unit": ("meter avo dcv 1% range \u00ab200\u00bb", "wrong-unit", "such as 200 V"),
    "resolution of nothing": ("meter avo dcv 1% \u00abresolution 1 V\u00bb", "misplaced-word", "in front of it"),
    "resolution twice": ("meter avo dcv 1% range 2 V resolution 1 mV \u00abresolution 1 mV\u00bb", "misplaced-word",
                         "in front of it"),
    "resolution too coarse": ("meter avo dcv 1% range 2 V resolution \u00ab1 V\u00bb", "absurd-value", "2 V"),
    "test twice": ("meter avo test 1 V \u00abtest 2 V\u00bb", "doubled-field", '"test" is given twice'),
    "test in ohms": ("meter avo test \u00ab1k\u00bb", "wrong-unit", "such as 48 V"),
}  # fmt: skip
IN_LIVE: dict[str, tuple[str, str, str]] = {
    "late head": ("\u00abreadings\u00bb for y.bias", "doubled-line", "keep the right one"),
    "meter": ("raw -61.2 V with \u00abdvm\u00bb", "unknown-meter", 'did you mean "dmm"?'),
    "meter from here on": ("with \u00abscope\u00bb\nraw -1 V", "unknown-meter", "meter scope 10 Mohm"),
    # values
    "no unit": ("raw \u00ab-61.2\u00bb", "wrong-unit", "write -61.2 V"),
    "no unit of mains": ("mains \u00ab236\u00bb", "wrong-unit", "write 236 V"),
    "no unit of current": ("V1 cathode \u00ab11.5\u00bb", "wrong-unit", "write 11.5 mA"),
    "no unit of ripple": ("raw ripple \u00ab0.4\u00bb", "wrong-unit", "write 0.4 Vpp"),
    "plain volts of ripple": ("raw ripple \u00ab0.4 V\u00bb", "unclear-value", "Vpp, or as Vac"),
    "nothing at all": ("raw\u00ab \u00bb", "line-too-short", "a value"),
    "nothing but a note": ('\u00abraw\u00bb note "x"', "missing-field", "such as -52.0 V"),
    "nothing of the mains": ("\u00abmains\u00bb", "missing-field", "such as 236 V"),
    "direct mains": ("mains \u00ab236 Vdc\u00bb", "wrong-unit", "alternating"),
    "ohms of the mains": ("mains \u00ab236 ohm\u00bb", "wrong-unit", "mains voltage (236 V)"),
    "alternating plate": ("V1 plate \u00ab402 Vac\u00bb", "wrong-unit", "plate voltage (402 V)"),
    "negative plate": ("V1 plate \u00ab-402 V\u00bb", "absurd-value", "between 0 V and 2 kV"),
    "negative alternating": ("tap \u00ab-50 Vac\u00bb", "absurd-value", "between 0 Vac and 2 kVac"),
    "far too much": ("raw \u00ab-61.2 kV\u00bb", "absurd-value", "between -2 kV and 2 kV"),
    "amperes at a node": ("raw \u00ab3 mA\u00bb", "wrong-unit", "direct voltage"),
    "decimal comma": ("raw \u00ab-61,2 V\u00bb", "unreadable-value", "-61.2"),
    "twice": ("raw -61.2 V \u00ab-61.3 V\u00bb", "doubled-field", "takes a line each time"),
    "word twice": ("V1 plate 402 V \u00abplate 403 V\u00bb", "doubled-field", '"plate" is given twice'),
    # power
    "ohms": ("R3 \u00ab31.2k\u00bb\nR4 470 ohm\nC1 lifted 1 uF", "power-is-on", 'the line "power off"'),
    "lifted": ("R3 lifted \u00ab31.2k\u00bb", "power-is-on", "power off"),
    "esr": ("C1 esr \u00ab2 ohm\u00bb", "power-is-on", "power off"),
    "overload": ("R3 \u00abOL\u00bb", "power-is-on", "power off"),
    "a diode test": ("D1 forward \u00ab0.55 V\u00bb", "power-is-on", 'the line "power off"'),
    "a diode test beyond its range": ("D1 reverse \u00abOL\u00bb", "power-is-on", "power off"),
    "overload, lifted": ("R3 lifted \u00abopen\u00bb", "power-is-on", "power off"),
    "farads in circuit": ("C1 \u00ab41 uF\u00bb", "wrong-unit", "write C1 lifted 41 uF"),
    # positions
    "off the track": ("RV1 at \u00ab130%\u00bb", "absurd-value", "between 0% and 100%"),
    "negative position": ("RV1 at \u00ab-3%\u00bb", "absurd-value", "between 0% and 100%"),
    "position without %": ("RV1 at \u00ab30\u00bb", "wrong-unit", "write 30%"),
    "position in ohms": ("RV1 at \u00ab3k\u00bb", "wrong-unit", "percentage is wanted"),
    "position misspelt": ("RV1 at \u00abclokwise\u00bb", "unknown-word", 'did you mean "clockwise"?'),
    "no position": ("RV1 at\u00ab \u00bb", "line-too-short", "clockwise"),
    "pot twice": ("RV1 at middle \u00abRV1\u00bb at clockwise", "doubled-field", "the position of RV1"),
    # words
    "word for a word": ("V1 \u00abcathod\u00bb 11.5 mA \u00abplat\u00bb 402 V", "unknown-word unknown-word", "plate"),
    "two readings in a line": ("raw -61.2 V \u00abgrid1\u00bb -44 V", "two-in-a-line", "begin a new line"),
    "mains in a line": ("raw -61.2 V \u00abmains\u00bb 230 V", "two-in-a-line", "begin a new line"),
    "no word": ("raw -61.2 V \u00abfoo\u00bb", "unknown-word", "expected here"),
    "first word": ("\u00abform\u00bb raw to head 3 V", "unknown-word", 'did you mean "from"?'),
    "one lead": ("from raw \u00ab-3\u00bb V", "unknown-word", "expected here: to"),
    "name of a part": ("across\u00ab \u00bb", "line-too-short", "the name of a part"),
    "grid of a node": ("node raw \u00abgrid -3 V\u00bb", "misplaced-word", 'such as "V1 grid"'),
    "meter's name": ('raw -3 V with \u00abnote\u00bb "x"', "name-missing", "the name of a meter"),
    "power": ("power \u00aboff-\u00bb\nR3 31.2k", "unknown-word", 'did you mean "off"?'),
    "power misspelt": ("\u00abpowr\u00bb off\nR3 31.2k\nR3 470", "unknown-word", 'did you mean "power"?'),
    "valves": ("valves\u00ab \u00bb", "line-too-short", "in, out"),
    "open quote": ("raw -3 V note \u00ab\"\u00bbx", "open-quote", "end of the text"),
    "comma": ("raw -3 V\u00ab,\u00bb", "stray-sign", "blank"),
}  # fmt: skip
IN_DEAD: dict[str, tuple[str, str, str]] = {
    "volts": ("raw \u00ab-61.2 V\u00bb\nhead -3 V", "power-is-off", 'the line "power on"'),
    "a diode test without a word": ("D1 \u00ab0.55 V\u00bb", "power-is-off", "D1 forward 0.55 V"),
    "a diode test in ohms": ("D1 forward \u00ab470k\u00bb", "wrong-unit", "such as 0.56 V"),
    "a diode test without unit": ("D1 forward \u00ab0.55\u00bb", "wrong-unit", "write 0.55 V"),
    "volts by other means": ("D1 forward \u00ab55 V\u00bb", "absurd-value", "between 0 V and 10 V"),
    "current": ("V1 cathode \u00ab11 mA\u00bb", "power-is-off", "power on"),
    "mains off": ("mains \u00ab230 V\u00bb", "power-is-off", "power on"),
    "volts of a lifted leg": ("C1 lifted \u00ab41 V\u00bb", "wrong-unit", "capacitance (41 uF)"),
    "farads in circuit": ("C1 \u00ab41 uF\u00bb", "wrong-unit", "lift one leg"),
    "farads by a letter": ("C1 \u00ab100n\u00bb", "wrong-unit", "write C1 lifted 100n"),
    "negative ohms": ("R3 \u00ab-470\u00bb", "absurd-value", "between 0 ohm and 1G"),
    "two nodes without from": ("tap \u00abto\u00bb ground OL", "misplaced-word", "from tap to ground OL"),
    "lifted node": ("node foot \u00ablifted 3k\u00bb", "misplaced-word", 'such as "R3 lifted"'),
    "lifted leads": ("from a to b \u00ablifted 3k\u00bb", "misplaced-word", "here nodes are named"),
    "discharged": ("power off \u00abdischargd\u00bb\nR3 12k", "unknown-word", 'did you mean "discharged"?'),
    "nothing": ('\u00abR3\u00bb note "x"', "missing-field", "such as 31.2k"),
}  # fmt: skip
CASES = [
    *((HEAD, key, case) for key, case in IN_HEAD.items()),
    *((LIVE, key, case) for key, case in IN_LIVE.items()),
    *((DEAD, key, case) for key, case in IN_DEAD.items()),
]


@pytest.mark.parametrize(
    ("head", "case"), [case[::2] for case in CASES], ids=[case[1] for case in CASES]
)
def test_one_mistake_gives_one_finding_at_its_spot(head: str, case: tuple[str, str, str]) -> None:
    marked, slugs, words = case
    text, spots = expected_at(head + marked)
    found = findings_of(text)
    assert [f.slug for f in found] == slugs.split(), render(found)
    assert [(f.span.line, f.span.column, f.span.end) for f in found] == spots, render(found)
    assert words in " ".join(f"{f.what} {f.why} {f.fix}" for f in found)
    for finding in found:
        tells = finding.fix or finding.why.startswith("expected here")
        assert tells or finding.slug == "value-missing", render(found)


@pytest.mark.parametrize("text", ["", "\n", "# nothing\n#\n", " \t\n"])
def test_an_empty_file(text: str) -> None:
    (finding,) = findings_of(text)
    assert (finding.slug, finding.span) == ("empty-file", NOWHERE)
    assert "readings for FILE" in finding.fix


def test_a_sheet_without_its_head() -> None:
    (finding,) = findings_of("as found\nraw -3 V")
    assert (finding.slug, finding.span) == ("missing-line", NOWHERE)
    assert "readings for FILE" in finding.fix


def test_a_head_that_comes_too_late() -> None:
    (finding,) = findings_of("as found\nraw -3 V\nreadings for x.bias")
    assert finding.slug == "misplaced-line"


@pytest.mark.parametrize(
    "head", ["redings for x.bias", "readings fro x.bias", "readings x.bias", "readings for"]
)
def test_a_broken_head_is_not_missed_as_well(head: str) -> None:
    (finding,) = findings_of(f"{head}\nas found\nraw -3 V")
    assert finding.span.line == 1


def test_a_circuit_file_is_told_from_a_sheet() -> None:
    text = 'circuit "x"\nmains 230 V 50 Hz\nresistor R1 from a to ground 1k\npot RV1 top a wiper a bottom a 1k'
    (finding,) = findings_of(text)
    assert (finding.slug, finding.span) == ("not-a-sheet", NOWHERE)
    assert finding.fix


def test_a_meter_in_a_broken_line_is_not_called_unknown() -> None:
    (finding,) = findings_of("readings for x\nmetre dmm 10M\nas found\nraw -3 V with dmm")
    assert finding.span.line == 2


def test_all_errors_of_a_sheet_come_in_one_run() -> None:
    text = """\
readings for x.bias
meter dmm 10 V dcv 0.5 + 2 digits
  tap 50 Vac
as found
  raw -61,2 V
  raw ripple 0.4 V with scope
  RV1 at clokwise
    grid1 -44
  R3 31.2k
  R4 12k
  power off
    R3 31k2
    head -3 V
as lft
  raw -3 V
"""
    assert [(f.span.line, f.slug) for f in findings_of(text)] == [
        (2, "wrong-unit"),
        (2, "wrong-unit"),
        (3, "no-stage"),
        (5, "unreadable-value"),
        (6, "unclear-value"),
        (7, "unknown-word"),
        (8, "wrong-unit"),
        (9, "power-is-on"),
        (13, "power-is-off"),
        (14, "unknown-word"),
    ]


def test_messages_in_full() -> None:
    text = LIVE + "  raw   -61.2\n  R3    31.2k\n  RV1 at clockwise  RV1 at 30%\n"
    assert (
        render(findings_of(text))
        == """\
case.readings:4:9: error: -61.2 has no unit  [wrong-unit]
  4 |   raw   -61.2
    |         ^^^^^
  expected: direct voltage, such as -52.0 V
  write -61.2 V

case.readings:5:9: error: 31.2k is read with the power off  [power-is-on]
  5 |   R3    31.2k
    |         ^^^^^
  here the power is on: no line says that it was switched off
  put the line "power off" before it, or correct the unit

case.readings:6:21: error: the position of RV1 is given twice  [doubled-field]
  6 |   RV1 at clockwise  RV1 at 30%
    |                     ^^^
  one of the two is wrong
  keep the right one
  case.readings:6:3: it was given here first
  6 |   RV1 at clockwise  RV1 at 30%
    |   ^^^"""
    )
