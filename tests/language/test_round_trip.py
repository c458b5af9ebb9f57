"""What is written reads back as the same, in whatever way it was typed."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.layout import format_circuit, format_lines
from netcheck.netlist import GROUND, Circuit, Link, Part, Resistor, Winding
from netcheck.parse import Line, circuit_of, parse_circuit, parse_lines
from netcheck.report.findings import render
from netcheck.resources import folder
from netcheck.source import Source

from .strategies import BUILDERS, circuits, lines

SHIPPED = sorted(folder("circuits").glob("**/*.bias"))
QUICK = settings(max_examples=70, deadline=None, derandomize=True)


def read_back(text: str) -> list[Line]:
    found, findings = parse_lines(Source("written", text))
    assert not findings, render(findings) + "\n" + text
    return found


def said(found: list[Line]) -> list[Line]:
    """The lines without the empty ones."""
    return [line for line in found if line.entry is not None or line.comment is not None]


def all_kinds(kind: type[Part]) -> set[type[Part]]:
    return {one for sub in kind.__subclasses__() for one in (sub, *all_kinds(sub))}


def test_every_kind_of_part_is_drawn() -> None:
    assert {kind.kind for kind in BUILDERS} == {kind.kind for kind in all_kinds(Part)}


@QUICK
@given(lines())
def test_lines_read_back_as_they_were_written(found: list[Line]) -> None:
    assert said(read_back(format_lines(found))) == said(found)


@QUICK
@given(circuits())
def test_a_circuit_reads_back_as_it_was_written(circuit: Circuit) -> None:
    again, findings = parse_circuit(Source("written", format_circuit(circuit)))
    assert not findings
    assert again == circuit


@QUICK
@given(lines())
def test_the_canonical_form_stays_as_it_is(found: list[Line]) -> None:
    text = format_lines(found)
    assert format_lines(read_back(text)) == text


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_circuits_read_back(path: Path) -> None:
    found = read_back(path.read_text(encoding="utf-8"))
    assert said(read_back(format_lines(found))) == said(found)


KEY_WORDS = frozenset(
    [
        "circuit",
        "mains",
        "winding",
        "resistor",
        "capacitor",
        "diode",
        "pot",
        "valve",
        "from",
        "to",
        "plus",
        "minus",
        "anode",
        "cathode",
        "top",
        "wiper",
        "bottom",
        "linear",
        "audio",
        "clockwise",
        "plate",
        "screen",
        "type",
        "note",
        "source",
        "grid",
    ]
)


def loosened(text: str, names: set[str], random: Random) -> str:
    """The same said with other blanks, and key words in another case."""
    out = []
    for line in text.split("\n"):
        for piece in re.findall(r'#.*|"[^"]*"|[^\s"#]+|\s+', line):
            if piece.isspace():
                out.append(random.choice([" ", "   ", "\t", " \t ", "\u00a0"]))
            elif piece in KEY_WORDS - names or piece == GROUND:
                out.append(random.choice([str.upper, str.title, str.lower])(piece))
            else:
                out.append(piece)
        out.append(random.choice(["\n", " \n", "\n\t\n"]))
    return "".join(out)


SEEDS = st.integers(0, 2**32)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.sampled_from(SHIPPED), SEEDS)
def test_blanks_and_the_case_of_key_words_do_not_matter(path: Path, seed: int) -> None:
    text = path.read_text(encoding="utf-8")
    found = read_back(text)
    names = set(circuit_of(Source("", text), found).nodes)
    assert said(read_back(loosened(text, names, Random(seed)))) == said(found)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.sampled_from(SHIPPED), SEEDS)
def test_the_order_of_lines_does_not_matter(path: Path, seed: int) -> None:
    text = path.read_text(encoding="utf-8")
    shuffled = text.split("\n")
    Random(seed).shuffle(shuffled)
    wanted = circuit_of(Source("", text), read_back(text))
    found = circuit_of(Source("", text), read_back("\n".join(shuffled)))
    assert set(found.parts) == set(wanted.parts)
    assert (found.title, found.mains) == (wanted.title, wanted.mains)


def test_fields_in_any_order() -> None:
    ways = [
        "resistor R1 from a to ground 4k7 5% 0.5 W 350 V year 1962",
        "resistor R1 year 1962 350 V 0.5 W 5% 4.7 kohm to ground from a",
        "Resistor R1 TO ground .5W 4.7k FROM a 350V 5 % Year 1962",
    ]
    link = "\nlink W1 from a to ground"
    assert len({read_back(way + link)[0].entry for way in ways}) == 1


BRITISH_AND_AMERICAN = [
    ("valve V1 6V6GT grid a", "tube V1 6V6GT grid a"),
    ("diode D1 anode a cathode ground 100 V", "diode D1 plate a cathode ground 100 V"),
    (
        "winding T1 from a centre ground to b 9-0-9 V",
        "winding T1 from a center ground to b 9-0-9 V",
    ),
    ("resistor R1 from a to b bands grey red red", "resistor R1 from a to b bands gray red red"),
    ("resistor R1 from a to b 470 ohm", "resistor R1 from a to b 470\u03a9"),
    ("capacitor C1 from a to b 47 uF", "capacitor C1 from a to b 47 mfd"),
    ("winding T1 from a to b 48 Vac", "winding T1 from a to b 48 V AC"),
    ("winding T1 from a to b 48 Vac", "winding T1 from a to b 48V"),
]


@pytest.mark.parametrize(("one", "other"), BRITISH_AND_AMERICAN)
def test_spellings_of_one_thing(one: str, other: str) -> None:
    around = "\nmains 230 V 50 Hz\nlink W1 from a to ground\nlink W2 from b to ground\nlink W3 from a to b"
    entries = [read_back(text + around)[0].entry for text in (one, other)]
    if "gray" in other:  # colours are kept as they were typed
        assert [getattr(entry, "r", None) for entry in entries] == [8200.0, 8200.0]
    else:
        assert entries[0] == entries[1]


def test_values_changed_by_program_win_over_the_bands_that_were_read() -> None:
    bands = ("yellow", "violet", "red", "gold")
    changed = Resistor(name="R1", start="ground", end="x", r=33e3, tolerance=0.05, bands=bands)
    text = format_circuit(Circuit("", None, (changed, Link(name="W", start="x", end="ground"))))
    assert "33k" in text
    assert "bands" not in text


def test_two_taps_at_one_node_keep_their_volts() -> None:
    typed = ("mains 230 V 50 Hz\nwinding T1 from ground to a 60 Vac tap b 20 Vac tap b 40 Vac\n"
             "resistor R1 from a to b 1k")  # fmt: skip
    entry = read_back(typed)[1].entry
    assert isinstance(entry, Winding)
    assert [tap.v_rms for tap in entry.taps] == [20.0, 40.0]
    assert entry in [line.entry for line in read_back(format_lines(read_back(typed)))]


def test_a_text_that_cannot_be_quoted_is_refused_and_not_written_wrongly() -> None:
    part = Link(name="W", start="ground", end="ground", note='6" long')
    with pytest.raises(ValueError, match="quotation mark"):
        format_circuit(Circuit("", None, (part,)))
