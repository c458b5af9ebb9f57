"""Damaged sheets, and texts that are none: always findings in their places, never an exception."""

from __future__ import annotations

import string
import time
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.lark import from_lark
from lark import Lark

from netcheck.crosscheck import cross_check
from netcheck.finding import Finding, Severity
from netcheck.graph import Section
from netcheck.parse import ENOUGH, parse_circuit
from netcheck.parse.sheet import parse_sheet, read_sheet
from netcheck.readings import Sheet
from netcheck.report.findings import WIDTH, render
from netcheck.resources import folder
from netcheck.sheetlayout import format_sheet
from netcheck.source import NOWHERE, Source

from ..language.test_damaged_texts import SIGNS, damaged
from .strategies import sheets

SHIPPED = [path.read_text(encoding="utf-8")
           for path in sorted(folder("circuits").glob("**/*.readings"))]  # fmt: skip
SEEDS = st.integers(0, 2**32)
WORDS = (
    *("from", "to", "across", "node", "part", "ground", "raw", "R3", "V1", "RV1", "at", "middle"),
    *(
        "cathode",
        "grid",
        "ripple",
        "lifted",
        "esr",
        "OL",
        "open",
        "with",
        "dmm",
        "note",
        '"',
        '"x"',
    ),
    *("4k7", "-3", "-52.0 V", "50 Vac", "0.4 Vpp", "30%", "11 mA", "41 uF", "#", ",", "+", "of"),
    *("dcv", "ohms", "digits", "range", "resolution", "per", "volt", "power", "off", "as", "found"),
)
TEXT = (folder("circuits") / "two-6v6gt-foot.bias").read_text(encoding="utf-8")
CIRCUIT, _ = parse_circuit(Source("two-6v6gt-foot.bias", TEXT))
assert CIRCUIT is not None
SECTION = Section(CIRCUIT)


def in_place(source: Source, findings: list[Finding]) -> None:
    """Each finding has a place in the text and can be shown."""
    length = [len(line) for line in source.lines]
    for finding in findings:
        for span in (finding.span, *(related.span for related in finding.related)):
            if span != NOWHERE:
                assert 1 <= span.line <= len(length)
                assert 1 <= span.column <= length[span.line - 1] + 1
                assert span.column < span.end <= length[span.line - 1] + 2
    assert all(line.isprintable() for line in render(findings).split("\n"))


def checked(text: str) -> list[Finding]:
    """The findings of a text, held against a circuit as far as it can be read."""
    source = Source("damaged.readings", text)
    sheet, findings = parse_sheet(source)
    assert (sheet is None) == bool(findings)
    assert all(finding.severity is Severity.ERROR for finding in findings)
    in_place(source, findings)
    _, more = cross_check(read_sheet(source).sheet, SECTION)
    in_place(source, more)
    return findings


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.sampled_from(SHIPPED), SEEDS, st.integers(1, 4))
def test_damage_to_a_shipped_sheet(text: str, seed: int, times: int) -> None:
    random = Random(seed)
    for _ in range(times):
        text = damaged(text, random) if text else text
    checked(text)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(sheets(), SEEDS)
def test_damage_to_a_sheet_of_any_kind(sheet: Sheet, seed: int) -> None:
    checked(damaged(format_sheet(sheet), Random(seed)))


@settings(max_examples=70, deadline=None, derandomize=True)
@given(st.text(st.sampled_from(SIGNS) | st.characters(codec="utf-8"), max_size=80))
def test_any_text(text: str) -> None:
    checked(text)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from(WORDS), max_size=12).map(" ".join))
def test_words_of_the_language_in_any_order(line: str) -> None:
    for kind in ("readings for x", "meter dmm 10M", "mains", "raw", "from raw to head", "RV1 at",
                 "V1 cathode 1 mA", "power off\nR3 1k\n", ""):  # fmt: skip
        checked(f"as found\n{kind} {line}")


GRAMMAR = Lark.open(str(folder("grammars") / "readings.lark"), parser="lalr", start="line")


@settings(max_examples=80, deadline=None, derandomize=True)
@given(from_lark(GRAMMAR, start="line"))
def test_lines_that_the_grammar_allows(line: str) -> None:
    checked(line)


@pytest.mark.parametrize(
    "text",
    [
        "".join(Random(7).choices(string.printable, k=1_000_000)),
        "x " * 500_000,
        "\n" * 400_000,
        '"\n' * 500_000,
        "raw -3 V foo\n" * 20_000,
        "with scope\n" * 20_000,
        "as found\n" + "raw -3\n" * 20_000,
        "readings for x\nas found\n" + "".join(f"meter m{n} 10\n" for n in range(10_000)),
    ],
    ids=["noise", "one line", "empty lines", "open quotes", "unknown words", "unknown meters",
         "no units", "meters"],
)  # fmt: skip
def test_a_long_text_is_given_up_soon(text: str) -> None:
    began = time.process_time()
    findings = checked(text)
    # A second or two here; what grows with the square of the length would take minutes.
    assert time.process_time() - began < 10.0
    assert 1 <= len(findings) <= ENOUGH + 200
    assert max(map(len, render(findings).split("\n"))) <= WIDTH


def test_a_long_sheet_without_errors_is_read_in_time_that_grows_with_its_length() -> None:
    # 8,000 readings where a long job has a hundred; a square would take minutes.
    lines = "".join(f"RV1 at {n % 99 + 1}%\nraw -{n % 90}.0 V\n" for n in range(8_000))
    began = time.process_time()
    text = f"readings for two-6v6gt-foot\nas found\n{lines}"
    assert checked(text) == []
    assert time.process_time() - began < 20.0
