"""Sheets held against their circuits."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from netcheck.commands.common import load
from netcheck.crosscheck import cross_check
from netcheck.finding import Finding, Severity
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.parse.sheet import read_sheet
from netcheck.readings import Kind, Reading, Sheet
from netcheck.report.findings import render
from netcheck.resources import folder
from netcheck.sheetlayout import format_sheet
from netcheck.source import Source

FOLDER = folder("circuits")
FAULTY = sorted((FOLDER / "faulty").glob("*.readings"))
SOUND = sorted(FOLDER.glob("*.readings"))
SECTION = Section(load("two-6v6gt-foot"))


def read(text: str) -> Sheet:
    found = read_sheet(Source("case.readings", text))
    assert not found.findings, render(found.findings)
    return found.sheet


def found(lines: str, section: Section = SECTION) -> tuple[tuple[Reading, ...], list[Finding]]:
    sheet, findings = cross_check(
        read(f"readings for two-6v6gt-foot.bias\nas found\n{lines}"), section
    )
    return sheet.readings, findings


def slugs(lines: str, section: Section = SECTION) -> list[str]:
    return [f.slug for f in found(lines, section)[1]]


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_a_faulty_sheet_gives_just_what_its_comments_say(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    expected = {
        (number, slug)
        for number, line in enumerate(text.splitlines(), start=1)
        for marked in re.findall(r"# finding: (.+)$", line)
        for slug in marked.split(", ")
    }
    assert expected
    _, findings = cross_check(read(text), SECTION)
    assert {(f.span.line, f.slug) for f in findings} == expected, render(findings)
    for finding in findings:
        assert finding.what
        assert finding.fix
        assert not finding.what.endswith(".")


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_an_example_sheet_has_nothing_above_a_note(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "invented" in text
    sheet = read(text)
    checked, findings = cross_check(sheet, Section(load(sheet.circuit)))
    assert [f for f in findings if f.severity is not Severity.NOTE] == []
    assert len(checked.readings) == len(sheet.readings) >= 10


def test_there_is_a_sound_example_and_one_with_a_fault() -> None:
    texts = [path.read_text(encoding="utf-8") for path in SOUND]
    assert any("with a fault in it" in text for text in texts)
    assert any("nothing wrong in it" in text for text in texts)
    assert any("as left" in text for text in texts)


# Lines, and the nodes and part that the reading has once the circuit is known.
NAMES = [
    ("across R2 -23.5 V", ("raw", "head", "R2")),
    ("across RV1 -12 V", ("head", "foot", "RV1")),  # top and bottom
    ("across D1 -61 V", ("raw", "feed", "D1")),  # anode and cathode
    ("across C1 61 V", ("ground", "raw", "C1")),  # plus and minus
    ("across T1 49 Vac", ("ground", "tap", "T1")),
    ("V1 grid -38 V", ("grid1", "ground", "")),
    ("raw ripple 0.4 Vpp", ("raw", "ground", "")),
    ("from raw to head -23.5 V", ("raw", "head", "")),
    ("V2 cathode 12 mV", ("", "", "V2")),
    ("power off discharged\nR3 20.2k", ("foot", "ground", "R3")),
    ("power off discharged\nRV1 9.6k", ("head", "foot", "RV1")),
    ("power off discharged\nfoot 20.2k", ("foot", "ground", "")),
    ("power off discharged\nnode foot 20.2k", ("foot", "ground", "")),
    ("power off discharged\nR3 lifted 20.2k", ("", "", "R3")),
    ("power off discharged\nC1 lifted 41 uF", ("", "", "C1")),
    ("power off discharged\nC1 esr 2 ohm", ("", "", "C1")),
    ("power off discharged\nD1 forward 0.58 V", ("raw", "feed", "D1")),  # anode and cathode
    ("power off discharged\nD1 reverse OL", ("feed", "raw", "D1")),
    ("power off discharged\nT1 60 ohm", ("ground", "tap", "T1")),
]


@pytest.mark.parametrize(("lines", "names"), NAMES, ids=[lines for lines, _ in NAMES])
def test_names_get_their_nodes(lines: str, names: tuple[str, str, str]) -> None:
    (reading,), findings = found(lines)
    assert findings == []
    assert (reading.plus, reading.minus, reading.part) == names


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_a_checked_sheet_is_written_and_checked_again_as_the_same(path: Path) -> None:
    sheet = read(path.read_text(encoding="utf-8"))
    section = Section(load(sheet.circuit))
    checked, _ = cross_check(sheet, section)
    assert cross_check(checked, section)[0] == checked
    again, _ = cross_check(read(format_sheet(checked)), section)
    assert again == checked


ODD = """\
mains 230 V 50 Hz
winding T1 from ground to tap 48 Vac source 60 ohm
diode D1 anode raw cathode tap 1000 V
capacitor C1 plus ground minus raw 47 uF 100 V
pot RV1 top raw wiper line bottom open 10k
link W1 from line to bias
resistor bias from bias to ground 47k
capacitor C2 plus ground minus bias 10 uF 100 V
resistor R4 from bias to grid1 68k
valve V1 6V6GT grid grid1 plate 390 V
"""


def odd() -> Section:
    circuit, findings = parse_circuit(Source("two-6v6gt-foot.bias", ODD))
    assert circuit is not None, findings
    return Section(circuit)


@pytest.mark.parametrize(
    ("lines", "slug", "words"),
    [
        ("across RV1 -3 V", "free-end", '"from raw to line"'),
        ("power off discharged\nRV1 9.6k", "free-end", '"RV1 lifted"'),
        ("V1 cathode 12 mV", "no-cathode-resistor", "cathode 1 ohm"),
        ("power off discharged\nbias 25k", "two-meanings", '"node bias"'),
    ],
)
def test_what_a_circuit_can_make_of_a_name(lines: str, slug: str, words: str) -> None:
    readings, (finding,) = found(lines, odd())
    assert finding.slug == slug
    assert words in f"{finding.what} {finding.why} {finding.fix}"
    assert bool(readings) == (finding.severity is not Severity.ERROR)


@pytest.mark.parametrize(
    "lines",
    [
        "power off discharged\nRV1 lifted 9.6k\nacross bias 25k\nnode bias 25k",
        "V1 cathode 12 mA",
        "line -30 V\nbias -30 V\nfrom line to bias 0 V",  # a link joins the two
        "power off discharged\nvalves out\nfrom raw to bias 5k\nvalves in\nfrom raw to bias 5k",
    ],
)
def test_what_is_fine(lines: str) -> None:
    assert slugs(lines, odd()) == []


def test_a_name_shared_by_a_part_and_a_node_means_the_part() -> None:
    (reading,), _ = found("power off discharged\nbias 25k", odd())
    assert (reading.part, reading.plus, reading.minus) == ("bias", "bias", "ground")
    (reading,), _ = found("power off discharged\nnode bias 25k", odd())
    assert reading.part == ""


# The sign that a voltage must have is known from the wiring alone.
@pytest.mark.parametrize(
    ("lines", "wrong"),
    [
        ("raw 61.2 V", True),
        ("raw -61.2 V", False),
        ("grid1 38 V", True),
        ("V1 grid 38 V", True),
        ("across C1 -61 V", True),
        ("across C1 61 V", False),
        ("from ground to raw -61 V", True),
        ("from head to raw 23 V", False),
        ("from head to raw -23 V", True),
        ("raw 0.3 V", False),  # a dead supply, and the last digits of a meter
        ("tap 0.9 V", False),  # a winding has no mean voltage to speak of
        ("feed -0.7 V", False),  # near ground, where a fault may turn it
        ("raw 61.2 Vac", False),
        ("V1 plate 402 V", False),
    ],
)
def test_swapped_leads(lines: str, wrong: bool) -> None:
    readings, findings = found(lines)
    assert [f.slug for f in findings] == (["wrong-sign"] if wrong else [])
    assert len(readings) == 1  # it stays: what it means is weighed elsewhere
    assert all(f.severity is Severity.WARNING and "leads swapped?" in f.what for f in findings)


# Assumed accuracy: 0.5 % and 2 digits either time, and 1 % for what the mains does meanwhile.
# For 60 V read to 0.1 V that is 2 * (0.3 + 0.206) + 0.6 = 1.6 V.
@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("raw -60.0 V\nraw -61.5 V", False),
        ("raw -60.0 V\nraw -61.8 V", True),
        ("from raw to ground -60.0 V\nraw -61.8 V", True),
        ("raw -60.0 V\nhead -40.0 V", False),
        ("RV1 at clockwise\ngrid1 -30 V\nRV1 at anticlockwise\ngrid1 -40 V", False),
        (
            "RV1 at clockwise\ngrid1 -30 V\nRV1 at middle\nraw -60 V\nRV1 at clockwise\ngrid1 -40 V",
            True,
        ),
        ("RV1 at middle\ngrid1 -30 V\ngrid1 -40 V", True),
        ("RV1 at middle\ngrid1 -30 V\nRV1 at middle\ngrid1 -40 V", False),  # set anew by eye
        ("grid1 -30 V\nRV1 at middle\ngrid1 -40 V", False),
        ("raw -60 V\nvalves out\nraw -70 V", False),
        ("raw -60 V\nas left\nraw -70 V", False),
        ("V1 cathode 38 mV\nV1 cathode 30 mV", True),
        ("V1 cathode 38 mV\nV2 cathode 30 mV", False),
        ("mains 230 V\nmains 238 V", False),
        ("mains 230 V\nRV1 at middle\nmains 115 V", True),
        ("power off discharged\nR3 20.2k\nR3 20.3k", False),
        ("power off discharged\nR3 20.2k\nR3 27.0k", True),
        ("power off discharged\nR3 20.2k\nR3 lifted 27.0k", False),
        ("power off discharged\nC1 lifted 41 uF\nC1 lifted 60 uF", True),
    ],
)
def test_a_reading_taken_twice(lines: str, told: bool) -> None:
    _, findings = found(lines)
    assert [f.slug for f in findings] == (["contradicts-itself"] if told else []), render(findings)
    for finding in findings:
        assert finding.severity is Severity.WARNING
        assert finding.related[0].span.line < finding.span.line


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ("R3 OL", ["overload"]),
        ("R3 lifted OL", ["overload"]),
        ("RV1 lifted OL", ["overload"]),
        ("D1 OL", []),  # a diode does not conduct at a meter's volts, one way or the other
        ("from raw to head OL", []),
        ("R3 lifted OL with small", ["overload-expected"]),
        ("R3 OL with small", []),  # in the circuit it may be less than drawn
    ],
)
def test_overload(lines: str, expected: list[str]) -> None:
    assert (
        slugs(f"meter dmm 10M\nmeter small ohms 1% range 2k\npower off discharged\n{lines}")
        == expected
    )


def test_capacitors_not_said_to_be_discharged() -> None:
    _, findings = found("power off\nR3 20.2k\nR2 18k\npower off discharged\nR3 20.2k")
    (finding,) = findings
    assert (finding.slug, finding.severity) == ("not-discharged", Severity.NOTE)
    assert finding.span.line == 4


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        # 6V6GT, 12 W: 48 W at the 390 V drawn are 123 mA; 1 ohm at the cathode.
        ("V1 cathode 120 mA", False),
        ("V1 cathode 126 mA", True),
        ("V1 cathode 120 mV", False),
        ("V1 cathode 3.85 V", True),
        ("V1 cathode 0 mA", False),
    ],
)
def test_a_cathode_current_that_makes_no_sense(lines: str, told: bool) -> None:
    assert slugs(lines) == (["absurd-current"] if told else [])


@pytest.mark.parametrize(
    ("name", "file", "told"),
    [
        ("two-6v6gt-foot.bias", "two-6v6gt-foot.bias", False),
        ("two-6v6gt-foot", "/some/where/two-6v6gt-foot.bias", False),
        ("two-6v6gt-foot.bias", "other.bias", True),
        ("two-6v6gt-foot.bias", "(standard input)", False),
    ],
)
def test_the_circuit_that_the_sheet_is_for(name: str, file: str, told: bool) -> None:
    circuit, _ = parse_circuit(Source(file, ODD))
    assert circuit is not None
    sheet = read(f"readings for {name}\nas found\nraw -60 V")
    _, findings = cross_check(sheet, Section(circuit))
    assert [f.slug for f in findings] == (["other-circuit"] if told else [])
    assert all(f.severity is Severity.WARNING and f.span.line == 1 for f in findings)


def test_a_sheet_without_readings() -> None:
    _, (finding,) = cross_check(read("readings for two-6v6gt-foot.bias"), SECTION)
    assert (finding.slug, finding.severity) == ("no-readings", Severity.NOTE)


def test_an_unknown_pot_is_told_of_once_for_each_setting() -> None:
    _, findings = found("RV2 at middle\nraw -60 V\nhead -40 V\nRV3 at middle\nraw -60 V")
    assert [(f.slug, f.span.line, f.span.column) for f in findings] == [
        ("unknown-pot", 3, 1),
        ("unknown-pot", 6, 1),
    ]


def test_a_circuit_without_a_supply_has_no_sign_to_tell() -> None:
    circuit, _ = parse_circuit(
        Source("x.bias", "resistor R1 from a to ground 1k\nlink W from a to ground")
    )
    assert circuit is not None
    sheet, findings = cross_check(read("readings for x.bias\nas found\na 5 V"), Section(circuit))
    assert findings == []
    assert sheet.readings[0].kind is Kind.DC
