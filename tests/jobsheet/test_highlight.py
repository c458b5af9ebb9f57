"""The lexers against the parsers, and against text that nobody would type."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pygments.lexer import RegexLexer
from pygments.token import Error, Keyword, Name, Number, String, Token

from netcheck.highlight import CircuitLexer, ReadingsLexer, key_words
from netcheck.parse import parse_circuit
from netcheck.parse.sheet import read_sheet
from netcheck.resources import folder
from netcheck.source import Source

CIRCUITS = sorted(folder("circuits").glob("**/*.bias"))
SHEETS = sorted(folder("circuits").glob("**/*.readings"))


def tokens(lexer: RegexLexer, text: str) -> list[tuple[object, str]]:
    return [(kind, value) for _, kind, value in lexer.get_tokens_unprocessed(text)]


def of(found: list[tuple[object, str]], *kinds: object) -> list[str]:
    return [value for kind, value in found if kind in kinds]


def lexer_of(path: Path) -> RegexLexer:
    return CircuitLexer() if path.suffix == ".bias" else ReadingsLexer()


def mutated(text: str, seed: int) -> Iterator[str]:
    """Texts with characters lost, doubled and exchanged."""
    rng = random.Random(seed)
    for _ in range(4):
        chars = list(text)
        for _ in range(30):
            k = rng.randrange(len(chars))
            chars[k] = rng.choice(["", chars[k] * 2, '"', "#", "\n", "\t", ";", "\u00b5", "\u2028"])
        yield "".join(chars)


@pytest.mark.parametrize("path", [*CIRCUITS, *SHEETS], ids=lambda path: path.name)
def test_every_character_comes_back(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    for one in (text, text.rstrip(), *mutated(text, len(text))):
        found = tokens(lexer_of(path), one)
        assert "".join(value for _, value in found) == one
        assert not of(found, Error)


@given(st.text(max_size=60))
def test_any_text_comes_back(text: str) -> None:
    for lexer in (CircuitLexer(), ReadingsLexer()):
        assert "".join(value for _, value in tokens(lexer, text)) == text


@pytest.mark.parametrize("path", CIRCUITS, ids=lambda path: path.name)
def test_names_of_a_circuit_are_those_that_the_parser_finds(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    circuit, _ = parse_circuit(Source(path.name, text))
    found = tokens(CircuitLexer(), text)
    if circuit is None:
        pytest.skip("a file that cannot be read")
    assert of(found, Name.Variable) == [part.name for part in circuit.parts]
    nodes = {*circuit.nodes, *circuit.elsewhere, "open", "ground"}
    assert set(of(found, Name.Label)) <= nodes
    assert {*circuit.nodes} <= set(of(found, Name.Label))
    # Nothing is left over: every word is a name, a key word, a value or a remark.
    assert not [word for word in of(found, Name, Token.Text) if word.strip()]


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.name)
def test_words_of_a_sheet_are_known(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    found = tokens(ReadingsLexer(), text)
    sheet = read_sheet(Source(path.name, text)).sheet
    named = {one.name for one in sheet.meters if f"meter {one.name}" in text}
    assert named <= set(of(found, Name.Class))
    read = {one.plus or one.part for one in sheet.readings if one.plus or one.part}
    assert read <= {*of(found, Name.Variable), *of(found, Name.Label)}
    assert not [word for word in of(found, Name, Token.Text) if word.strip()]


def test_every_key_word_of_the_grammars_is_one() -> None:
    starts = {"circuit": "resistor R1 ", "readings": "grid1 "}
    for grammar, lexer in (("circuit", CircuitLexer()), ("readings", ReadingsLexer())):
        every = [word for words in key_words(grammar).values() for word in words]
        assert len(every) > 50
        for word in every:
            for text in (f"{starts[grammar]}{word}", f"{starts[grammar]}{word.upper()}"):
                kind, value = tokens(lexer, text)[-1]
                assert value == word or value == word.upper()
                assert kind in Keyword, (grammar, word, kind)


def test_names_that_are_key_words_are_names_where_a_name_stands() -> None:
    found = tokens(CircuitLexer(), "resistor from from to to plate 10k\n")
    assert of(found, Name.Variable) == ["from"]
    assert of(found, Name.Label) == ["to", "plate"]
    found = tokens(CircuitLexer(), "diode D1 anode plate cathode grid type cathode\n")
    assert of(found, Name.Label) == ["plate", "grid"]
    assert of(found, Name.Class) == ["cathode"]
    found = tokens(ReadingsLexer(), "node grid -3 V\npart V1 plate 300 V\n")
    assert of(found, Name.Label) == ["grid"]
    assert of(found, Name.Variable) == ["V1"]


def test_plate_and_cathode_take_a_node_or_a_value() -> None:
    found = tokens(CircuitLexer(), "valve V1 EL84 grid g plate 300 V cathode 10 ohm\n")
    assert of(found, Name.Label) == ["g"]
    assert of(found, Number) == ["300", "V", "10", "ohm"]


def test_quotes_and_remarks_are_taken_whole() -> None:
    found = tokens(CircuitLexer(), 'circuit "from # here"  # note "x"\n')
    assert of(found, String) == ['"from # here"']
    assert of(found, Token.Comment.Single) == ['# note "x"']
