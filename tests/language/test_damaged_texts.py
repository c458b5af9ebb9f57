"""Damaged texts, and texts that are none: always findings in their places, never an exception."""

from __future__ import annotations

import string
import time
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.lark import from_lark
from lark import Lark

from netcheck.finding import Finding, Severity
from netcheck.layout import format_lines
from netcheck.parse import ENOUGH, Line, parse_circuit
from netcheck.report.findings import WIDTH, render
from netcheck.resources import folder
from netcheck.source import NOWHERE, Source

from .strategies import lines

SHIPPED = [
    path.read_text(encoding="utf-8") for path in sorted(folder("circuits").glob("**/*.bias"))
]
SEEDS = st.integers(0, 2**32)
SIGNS = string.printable + "\u00b5\u03a9\u200b\u201c\u2212\u00e9\u4e2d\ufeff\u2028\0\x85"
WORDS = (
    *("from", "to", "plus", "ground", "open", "resistor", "mains", "4k7", "4,7k", "48 Vac", "10%"),
    *("note", '"', '"x"', "#", "50-0-50", "bands", "red", "at", "-", ",", ";", "valve", "gnd"),
)


def checked(text: str) -> list[Finding]:
    """The findings of a text, each of which has a place in it and can be shown."""
    source = Source("damaged.bias", text)
    circuit, findings = parse_circuit(source)
    assert (circuit is None) == bool(findings)
    length = [len(line) for line in source.lines]
    for finding in findings:
        assert finding.severity is Severity.ERROR
        for span in (finding.span, *(related.span for related in finding.related)):
            if span != NOWHERE:
                assert 1 <= span.line <= len(length)
                assert 1 <= span.column <= length[span.line - 1] + 1
                assert span.column < span.end <= length[span.line - 1] + 2
    shown = render(findings)
    assert all(line.isprintable() for line in shown.split("\n"))
    return findings


def damaged(text: str, random: Random) -> str:
    """The text with one character or one word left out, doubled, replaced or put in."""
    pieces = list(text) if random.random() < 0.5 else text.split(" ")
    joint = "" if len(pieces) == len(text) else " "
    supply = SIGNS if joint == "" else WORDS
    at = random.randrange(len(pieces))
    how = random.choice(["leave out", "double", "replace", "swap", "cut"])
    if how == "leave out":
        del pieces[at]
    elif how == "double":
        pieces.insert(at, pieces[at])
    elif how == "replace":
        pieces[at] = random.choice(supply)
    elif how == "swap":
        other = random.randrange(len(pieces))
        pieces[at], pieces[other] = pieces[other], pieces[at]
    else:
        pieces = pieces[:at]
    return joint.join(pieces)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.sampled_from(SHIPPED), SEEDS, st.integers(1, 4))
def test_damage_to_a_shipped_circuit(text: str, seed: int, times: int) -> None:
    random = Random(seed)
    for _ in range(times):
        text = damaged(text, random)
    checked(text)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(lines(), SEEDS)
def test_damage_to_a_circuit_of_any_kind(found: list[Line], seed: int) -> None:
    checked(damaged(format_lines(found), Random(seed)))


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.text(st.sampled_from(SIGNS) | st.characters(codec="utf-8"), max_size=80))
def test_any_text(text: str) -> None:
    checked(text)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from(WORDS), max_size=12).map(" ".join))
def test_words_of_the_language_in_any_order(line: str) -> None:
    for kind in ("resistor R1", "winding T1", "pot RV1", "valve V1 EL34", "mains", ""):
        checked(f"{kind} {line}")


GRAMMAR = Lark.open(str(folder("grammars") / "circuit.lark"), parser="lalr", start="line")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(from_lark(GRAMMAR, start="line"))
def test_lines_that_the_grammar_allows(line: str) -> None:
    checked(line)


def test_the_damage_is_found_where_it_is_done() -> None:
    """Each word of a sound line replaced by one that nobody knows: a finding at its very spot."""
    line = "resistor R1 from raw to ground 4k7 5% 0.5 W"
    around = "supply B1 plus raw minus ground 50 V"
    words = line.split(" ")
    for number, word in enumerate(words):
        if word in ("R1", "raw", "ground"):  # names are free
            continue
        text = " ".join([*words[:number], "qzxqzx", *words[number + 1 :]])
        column = len(" ".join(words[:number])) + bool(number) + 1
        spans = [finding.span for finding in checked(f"{around}\n{text}")]
        assert [(span.line, span.column, span.end) for span in spans][:1] == [
            (2, column, column + len("qzxqzx"))
        ], text


@pytest.mark.parametrize(
    "text",
    [
        "".join(Random(7).choices(string.printable, k=1_000_000)),
        "x" * 1_000_000,
        "x " * 500_000,
        "#" + "x" * 1_000_000,
        "\n" * 1_000_000,
        '"' * 1_000_000,
        '"\n' * 500_000,
        ("resistor R1 from a to b " + "x " * 230 + "\n") * 2_000,
        ("resistor R1 from a to b " + ", " * 230 + "\n") * 2_000,
        ("resistor R1 " + "form a " * 60 + "\n") * 2_000,
        "".join(f"resistor R{n} from ax{n} to bx{n} 1k\n" for n in range(7_000)),
        "".join(f"resistor R{n} from gnd to GND 1k\n" for n in range(7_000)),
    ],
    ids=["noise", "one word", "one line", "one comment", "empty lines", "quotes", "open quotes",
         "unknown words", "commas", "slips", "nodes alone", "other grounds"],
)  # fmt: skip
def test_a_long_text_is_given_up_soon(text: str) -> None:
    began = time.process_time()
    findings = checked(text)
    # About a second here; what grows with the square of the length would take minutes.
    assert time.process_time() - began < 10.0
    assert 1 <= len(findings) <= ENOUGH + 200
    assert max(map(len, render(findings).split("\n"))) <= WIDTH
