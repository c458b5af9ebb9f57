"""What is wrong with a text: each mistake gives one finding, at its very spot.

In the texts below the spots are set between \u00ab and \u00bb, in the order of the findings.
"""

from __future__ import annotations

import re

import pytest

from netcheck.finding import Finding
from netcheck.parse import parse_circuit
from netcheck.report.findings import render
from netcheck.source import NOWHERE, Source, Span

SOUND = """\
mains 230 V 50 Hz
winding T1 from ground to tap 48 Vac
diode D1 anode raw cathode tap 1000 V
capacitor C1 plus ground minus raw 47 uF 100 V
"""


def findings_of(text: str) -> list[Finding]:
    return parse_circuit(Source("case.bias", text))[1]


def expected_at(marked: str) -> tuple[str, list[tuple[int, int, int]]]:
    """The text without the marks, and the line and columns between them."""
    spots, lines = [], []
    for number, line in enumerate(marked.split("\n"), start=1):
        plain = ""
        for piece in re.split("(\u00ab[^\u00bb]*\u00bb)", line):
            word = piece.strip("\u00ab\u00bb") if piece.startswith("\u00ab") else piece
            if word is not piece:
                start = len(plain) + 1
                spots.append((number, start, start + max(len(word), 1)))
            plain += word
        lines.append(plain)
    return "\n".join(lines), spots


# Line, slugs in reading order, and words that have to stand in the findings.
CASES: dict[str, tuple[str, str, str]] = {
    # unknown words
    "kind": ("\u00abresitor\u00bb R1 from raw to ground 1k", "unknown-word", 'did you mean "resistor"?'),
    "kind of the trade": ("\u00abtrimmer\u00bb R1 top raw wiper raw bottom ground 1k", "unknown-word",
                          'did you mean "pot"?'),
    "kind that nobody knows": ("\u00abfoo\u00bb bar from raw to ground", "unknown-word", "expected here: capacitor"),
    "field": ("resistor R1 \u00abform\u00bb raw to ground 1k", "unknown-word", 'did you mean "from"?'),
    "field in capitals": ("resistor R1 \u00abFORM\u00bb raw to ground 1k", "unknown-word", 'did you mean "from"?'),
    "colour": ("resistor R1 from raw to ground bands \u00abyelow\u00bb violet red", "unknown-word",
               'did you mean "yellow"?'),
    "no near word": ("resistor R1 from raw to ground 470 ohm \u00abcarbon\u00bb", "unknown-word",
                     "expected here: bands, from, to, a value"),
    "two in a line": ("resistor R1 \u00abform\u00bb raw to ground 1k \u00abcarbon\u00bb", "unknown-word unknown-word",
                      "from"),
    "word and value": ("resistor R1 \u00abform\u00bb raw to ground \u00ab4,7k\u00bb", "unknown-word unreadable-value",
                       "write 4.7k or 4k7"),
    "other turn": ("pot RV1 top raw wiper raw bottom ground 1k \u00abanticlockwise\u00bb top", "unknown-word",
                   'say where clockwise goes: "clockwise top"'),
    "type without its word": ("diode D2 \u00abBY127\u00bb anode ground cathode raw", "unknown-word",
                              'write "type BY127"'),
    "type that looks like a value": ("diode D2 \u00ab1N4007\u00bb anode ground cathode raw", "misplaced-word",
                                     'write "type 1N4007"'),
    "title without quotes": ("circuit \u00abTwo\u00bb EL84", "unknown-word", 'marks around it: "Two EL84"'),
    "curly quotes": ("circuit \u00ab\u201cTwo\u00bb EL84\u201d", "unknown-word", "the straight quotation mark"),
    "word of another part": ("resistor R1 from raw to ground 1k \u00abanode\u00bb raw", "misplaced-word",
                             '"anode" does not belong in a resistor line'),
    "text without note": ('resistor R1 from raw to ground 1k \u00ab"old # one"\u00bb', "misplaced-word",
                          'note "old # one"'),
    "colours without bands": ("resistor R1 from raw to ground \u00abyellow\u00bb violet red", "misplaced-word",
                              'write "bands" in front'),
    "two parts in a line": ("link W1 from raw to ground \u00ablink\u00bb W2 from raw to ground", "two-in-a-line",
                            "one line holds one part"),
    "commas": ("resistor R1 from raw\u00ab,\u00bb to ground, 470 ohm; 10%", "stray-sign", "blank in its place"),
    "quote not closed": ('link W1 from raw to ground note \u00ab"\u00bbnew # 1', "open-quote", "end of the text"),
    "invisible": ("resistor R1 from raw\u00ab\u200b\u00bb to ground 1k", "invisible-character", "U+200B"),
    "far too long": ("resistor R1 from raw to ground " + "1 " * 234 + "1\u00ab \u00bb1", "line-too-long", "500"),
    # missing words
    "name": ("resistor \u00abfrom\u00bb raw to ground 1k", "name-missing", "a name for the part is missing here"),
    "node": ("resistor R1 from \u00abto\u00bb ground 1k", "name-missing", "the name of a node is missing here"),
    "node before a value": ("resistor R1 from raw to \u00ab470\u00bb", "name-missing", '"470" was taken for it'),
    "node before its unit": ("resistor R1 from raw to \u00ab470\u00bb ohm", "name-missing", '"470" was taken for it'),
    "node at a pot": ("pot RV1 1k top \u00abwiper\u00bb raw bottom ground", "name-missing", "name of a node"),
    "type": ("valve V1 \u00abgrid\u00bb raw plate 390 V", "name-missing", "a type number is missing here"),
    "end of line": ("resistor R1 from raw to ground 1k year\u00ab \u00bb", "line-too-short", "expected here: a value"),
    "kind alone": ("resistor\u00ab \u00bb# nothing", "line-too-short", "expected here: a name for the part"),
    "value before a word": ('winding T2 from raw to ground 9 V source \u00abnote\u00bb "x"', "value-missing",
                            'a value is missing before "note"'),
    "value before a unit": ("resistor R1 from raw to ground 1k 10% \u00abW\u00bb", "value-missing",
                            "10% has its unit already"),
    # missing and doubled fields
    "terminal": ("resistor \u00abR1\u00bb from raw 1k", "missing-field", 'add "to NODE"'),
    "both terminals": ("resistor \u00abR1\u00bb 1k", "missing-field", 'add "from NODE to NODE"'),
    "value": ("resistor \u00abR1\u00bb from raw to ground", "missing-field", "lacks its resistance"),
    "pot end": ("pot \u00abRV1\u00bb 10k top raw wiper ground", "missing-field",
                'add "bottom NODE", or "bottom open" when nothing is soldered to it'),
    "grid": ("valve \u00abV1\u00bb EL34 plate 390 V", "missing-field", 'has no "grid" node'),
    "centre": ("winding \u00abT2\u00bb from raw to ground 9-0-9 Vac", "missing-field", '"centre ground"'),
    "source": ("winding T2 from raw to ground 9 Vac \u00abat 20 mA\u00bb", "missing-field", 'add "source 60 ohm"'),
    "rating": ("capacitor C2 from raw to ground 1u \u00ableakage 2 uA\u00bb", "missing-field", "leakage in ohm"),
    "second terminal": ("resistor R1 from raw \u00abfrom raw\u00bb to ground 1k", "doubled-field",
                        '"from" is given twice'),
    "second value": ("resistor R1 from raw to ground 1k \u00ab2k\u00bb", "doubled-field",
                     "the resistance is given twice"),
    "second value without unit": ("resistor R1 from raw to ground 1k \u00ab10\u00bb", "wrong-unit",
                                  '"10" has no unit'),
    "bands and figures": ("resistor R1 from raw to ground bands red red red \u00ab2k2\u00bb", "doubled-field",
                          "given twice"),
    "band and tolerance": ("resistor R1 from raw to ground bands red red red gold \u00ab10%\u00bb", "doubled-field",
                           "the tolerance is given twice"),
    "letter and tolerance": ("capacitor C2 from raw to ground 100nK \u00ab5%\u00bb", "doubled-field",
                             "the tolerance is given twice"),
    "second taper": ("pot RV1 1k top raw wiper raw bottom ground linear \u00abaudio\u00bb", "doubled-field",
                     "the taper is given twice"),
    "third reading": ("valve V1 EL34 grid raw draws 9 mA at -40 V draws 19 mA at -36 V "
                      "\u00abdraws 39 mA at -30 V\u00bb", "doubled-field", "third reading"),
    # units and values
    "unit of another thing": ("resistor R1 from raw to ground \u00ab47 uF\u00bb", "wrong-unit",
                              "expected: resistance (4k7 or 470 ohm), tolerance (10%)"),
    "no unit": ("capacitor C2 from raw to ground \u00ab47\u00bb", "wrong-unit", "47 has no unit"),
    "direct volts": ("winding T2 from raw to ground \u00ab48 Vdc\u00bb", "wrong-unit", "alternating voltage is wanted"),
    "keyed": ("winding T2 from raw to ground 48 Vac source \u00ab60 V\u00bb", "wrong-unit",
              "expected: source resistance (60 ohm)"),
    "unknown unit": ("capacitor C2 from raw to ground \u00ab47 uG\u00bb", "unreadable-value", '"uG" in 47 uG'),
    "decimal comma": ("resistor R1 from raw to ground \u00ab4,7k\u00bb", "unreadable-value", "write 4.7k or 4k7"),
    "fraction": ("resistor R1 from raw to ground 1k \u00ab1/2 W\u00bb", "unreadable-value", "write 0.5 W"),
    "code without figure": ("resistor R1 from raw to ground \u00abR47\u00bb", "unknown-word", "write 0R47"),
    "halves elsewhere": ("resistor R1 from raw to ground \u00ab50-0-50\u00bb", "unreadable-value", "two halves"),
    "colours": ("resistor R1 from raw to ground \u00abbands gold red red\u00bb", "unreadable-value", "other end"),
    "whole or half": ("winding T2 from raw centre ground to raw \u00ab18 Vac\u00bb", "unclear-value", "50-0-50 Vac"),
    "uneven halves": ("winding T2 from raw centre ground to raw \u00ab9-0-8 Vac\u00bb", "absurd-value", "differ"),
    "negative": ("resistor R1 from raw to ground \u00ab-1k\u00bb", "absurd-value", "write it without a sign"),
    "zero": ("resistor R1 from raw to ground \u00ab0 ohm\u00bb", "absurd-value", 'a wire is a "link"'),
    "too much": ("capacitor C2 from raw to ground \u00ab47 F\u00bb", "absurd-value", "look for a slip"),
    "plate": ("valve V1 EL34 grid raw plate \u00ab40 V\u00bb", "absurd-value", "between 60 V and 2 kV"),
    "positive grid": ("valve V1 EL34 grid raw draws 38 mA at \u00ab36 V\u00bb", "absurd-value", "with its sign"),
    "year": ("link W1 from raw to ground year \u00ab68\u00bb", "absurd-value", "write 1968"),
    "tap": ("winding T2 from raw tap raw \u00ab60 V\u00bb to ground 50 V", "absurd-value", "more volts"),
    "end of pot": ("pot RV1 top raw wiper raw bottom ground 1k \u00abend 900 ohm\u00bb", "absurd-value", "of 1k"),
    "mid of a linear pot": ("pot RV1 top raw wiper raw bottom ground 1k \u00abmid 10%\u00bb", "misplaced-word",
                            'write "audio"'),
    "plus and from": ("capacitor C2 plus raw minus ground \u00abfrom raw\u00bb 1u", "misplaced-word", "electrolytic"),
    "valve type": ("valve V1 \u00ab6V6GTT\u00bb grid raw", "unknown-valve", "6V6GT"),
    # between the lines
    "same name": ("resistor \u00abc1\u00bb from raw to ground 1k", "same-name", '(as "C1")'),
    "node alone": ("resistor R1 from \u00abrwa\u00bb to ground 1k", "dangling-node", 'did you mean "raw" (line 3)?'),
    "node alone, none near": ("resistor R1 from \u00abx9\u00bb to ground 1k", "dangling-node", '"elsewhere x9"'),
    "nodes one letter apart": ("resistor R1 from feed to ground 1k\nlink W1 from \u00abfed\u00bb to raw",
                               "dangling-node", 'if "feed" is the same node'),
    "numbered nodes": ("resistor R1 from \u00abgrid1\u00bb to ground 1k\nlink W1 from \u00abgrid2\u00bb to raw",
                       "dangling-node dangling-node", "grid1"),
    "capitals": ("resistor R1 from \u00abRaw\u00bb to ground 1k", "two-spellings", "differ only in capitals"),
    "other ground": ("resistor R1 from raw to \u00abgnd\u00bb 1k\nlink W1 from raw to gnd", "other-ground",
                     'write "ground"; it is on lines 5 and 6'),
    "open": ("resistor R1 from raw to \u00abopen\u00bb 1k", "reserved-word", "no name for a node"),
    "open wiper": ("pot RV1 1k top raw wiper \u00abopen\u00bb bottom ground", "reserved-word", "no name for a node"),
    "elsewhere": ("elsewhere \u00abrwa\u00bb", "unknown-node", 'did you mean "raw"?'),
    "second title": ('circuit "a"\n\u00abcircuit\u00bb "b"', "doubled-line", 'more than one "circuit" line'),
    "second mains": ("\u00abmains\u00bb 117 V 60 Hz", "doubled-line", "keep the right one"),
    "high tension": ("hightension \u00abat 90 mA\u00bb", "missing-field", "source 150 ohm"),
    "tabs": ("resistor\tR1\tfrom\t\u00abrwa\u00bb\tto\tground\t1k", "dangling-node", 'did you mean "raw"'),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_one_mistake_gives_one_finding_at_its_spot(case: str) -> None:
    marked, slugs, words = CASES[case]
    text, spots = expected_at(SOUND + marked)
    found = findings_of(text)
    assert [f.slug for f in found] == slugs.split(), render(found)
    assert [(f.span.line, f.span.column, f.span.end) for f in found] == spots, render(found)
    assert words in " ".join(f"{f.what} {f.why} {f.fix}" for f in found)


@pytest.mark.parametrize(
    "text", ["", "\n", "# nothing\n#\n", " \t\n", 'circuit "x"', "mains 230 V 50 Hz"]
)
def test_a_file_without_a_part(text: str) -> None:
    (finding,) = findings_of(text)
    assert (finding.slug, finding.span) == ("empty-file", NOWHERE)
    assert "netcheck new" in finding.fix


def test_no_ground() -> None:
    (finding,) = findings_of("link W1 from a to b\nlink W2 from a to b")
    assert finding.slug == "no-ground"


def test_a_winding_without_mains() -> None:
    (finding,) = findings_of("winding T1 from ground to a 48 Vac\nlink W1 from a to ground")
    assert finding.slug == "missing-line"
    assert "mains 230 V 50 Hz" in finding.fix


def test_all_errors_of_a_file_come_in_one_run() -> None:
    text = (
        SOUND
        + """\
resitor R1 from raw to ground 4,7k
resistor R2 from raw to grund 0 ohm
pot RV1 10k top raw wiper ground
valve V1 6V6GX grid raw plate 390 mV
resistor R2 from raw to ground 1k
"""
    )
    assert [finding.slug for finding in findings_of(text)] == [
        "unknown-word",
        "unreadable-value",
        "dangling-node",
        "absurd-value",
        "missing-field",
        "unknown-valve",
        "absurd-value",
        "same-name",
    ]


@pytest.mark.parametrize(
    "line",
    [
        "manis 230 V 50 Hz\nwinding T9 from ground to raw 9 Vac",
        "mains 230 V 50\nwinding T9 from ground to raw 9 Vac",
    ],
)
def test_a_broken_mains_line_is_not_missed_as_well(line: str) -> None:
    (finding,) = findings_of(line + "\nlink W1 from raw to ground")
    assert finding.span.line == 1


def test_mains_without_frequency() -> None:
    (finding,) = findings_of("mains 117 V\nlink W1 from ground to ground")
    assert (finding.slug, finding.span) == ("missing-field", Span(1, 1, 6))
    assert "lacks its frequency" in finding.what
    assert "50 Hz" in finding.fix


def test_a_node_of_a_broken_line_is_not_called_lonely() -> None:
    (finding,) = findings_of(
        SOUND + "resistor R1 from raw to feed 1k\nfoo R2 from feed to ground 1k"
    )
    assert finding.slug == "unknown-word"


def test_two_parts_of_one_name_do_not_leave_their_node_alone() -> None:
    text = SOUND + "resistor R1 from raw to feed 1k\nresistor R1 from feed to ground 1k"
    assert [finding.slug for finding in findings_of(text)] == ["same-name"]


def test_a_tolerance_letter_counts() -> None:
    circuit, findings = parse_circuit(Source("", SOUND + "capacitor C2 from raw to ground 100nK\n"
                                             "pot RV1 10kM top raw wiper raw bottom ground"))  # fmt: skip
    assert circuit is not None, render(findings)
    assert [getattr(part, "tolerance", None) for part in circuit.parts[-2:]] == [0.1, 0.2]


def test_marks_say_where_the_fields_stand() -> None:
    text = SOUND + "pot RV1 top raw wiper w bottom ground 10k 20% audio\nlink W1 from w to ground"
    circuit, _ = parse_circuit(Source("", text))
    assert circuit is not None
    pot = circuit.part("RV1")
    assert pot is not None
    line = text.split("\n")[4]
    shown = {name: line[span.column - 1 : span.end - 1] for name, span in pot.marks.items()}
    assert shown == {"top": "raw", "wiper": "w", "bottom": "ground", "r": "10k", "tolerance": "20%",
                     "taper": "audio"}  # fmt: skip
