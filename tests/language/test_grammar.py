"""The grammar against what reads the values in it."""

from __future__ import annotations

import re

import pytest
from lark import Lark

from netcheck.bands import read_bands
from netcheck.parse.lines import line_parser, tokens_of, walk
from netcheck.parse.words import MEANT
from netcheck.quantity import Dimension, read, write_exact
from netcheck.quantity.spelling import _PREFIXED, _WORDS
from netcheck.resources import folder
from netcheck.source import Source

GRAMMAR = Lark.open(str(folder("grammars") / "circuit.lark"), parser="lalr", start="line")


def pattern(terminal: str) -> re.Pattern[str]:
    return re.compile(GRAMMAR.get_terminal(terminal).pattern.to_regexp())


def spellings(terminal: str) -> set[str]:
    """The spellings of a key word, none for what is a pattern."""
    return set(re.findall(r"\(\?i:([a-z]+)\)", pattern(terminal).pattern))


def key_words() -> set[str]:
    return {word for terminal in GRAMMAR.terminals for word in spellings(terminal.name)}


# No circuit has a temperature, and nobody writes "R ohm".
UNITS = [unit for unit in (*_WORDS, *_PREFIXED)
         if (_WORDS.get(unit) or _PREFIXED[unit])[1] is not Dimension.CELSIUS
         and not unit.startswith("Rohm")]  # fmt: skip


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_that_can_be_read_can_stand_apart_from_its_figure(unit: str) -> None:
    assert pattern("UNIT").fullmatch(unit)


@pytest.mark.parametrize("dimension", [d for d in Dimension if d is not Dimension.CELSIUS])
def test_every_unit_that_is_written_can_be_read_apart(dimension: Dimension) -> None:
    for power in range(-12, 12):
        text = write_exact(1.2345 * 10.0**power, dimension)
        figures, _, unit = text.partition(" ")
        assert pattern("VALUE").fullmatch(figures)
        assert not unit or pattern("UNIT").fullmatch(unit), text


def test_key_words_are_read_in_any_case_and_only_whole() -> None:
    for terminal in ("FROM", "VALVE", "CENTRE", "COLOUR"):
        for word in spellings(terminal):
            assert pattern(terminal).match(word.upper() + " x")
            assert not pattern(terminal).match(word + "x")


@pytest.mark.parametrize("colour", sorted(spellings("COLOUR") - {"none"}))
def test_every_colour_of_the_grammar_is_one_of_the_code(colour: str) -> None:
    as_figure, as_multiplier = ["red", colour, "red"], ["red", "red", colour]
    bands = as_multiplier if colour in ("gold", "silver") else as_figure
    assert read_bands(bands).tolerance == 0.2  # no band for it


def test_words_of_the_trade_stand_for_key_words_and_are_none() -> None:
    assert set(MEANT.values()) <= key_words()
    assert not set(MEANT) & key_words()


@pytest.mark.parametrize(
    "text",
    ["4k7", "4.7k", ".5", "0R47", "-52.0", "\u221252", "10%", "+5", "1/2", "\u00b110%", "+/-10%",
     "4,7k", "1e3", "470\u03a9", "47\u00b5F"],
)  # fmt: skip
def test_what_begins_like_a_value_is_taken_whole(text: str) -> None:
    match = pattern("VALUE").match(text + " x")
    assert match is not None
    assert match[0] == text


def test_what_is_taken_for_a_value_is_read_or_refused_as_one() -> None:
    lines, findings = line_parser("circuit.lark").parse(Source("", "mains 230 V ac 50 Hz"))
    assert not findings
    assert lines[0].tree is not None
    quantity = next(lines[0].tree.find_data("quantity"))
    assert [str(child) for child in quantity.children] == ["230", "V", "ac"]
    assert read("230", "Vac").dimension is Dimension.VOLT_AC


@pytest.mark.parametrize("name", ["to", "from", "TAP", "470", "B+", "valve", "note", "-50V", "a.b"])
def test_a_node_may_be_called_like_a_key_word_or_a_value(name: str) -> None:
    lines, findings = line_parser("circuit.lark").parse(
        Source("", f"resistor {name} from {name} to {name} 1k")
    )
    assert not findings
    assert lines[0].tree is not None
    nodes = [token for field in walk(lines[0].tree) for token in tokens_of(field)]
    assert [str(token) for token in nodes if token.type == "NODE"] == [name] * 2
