"""Colours for the two languages: lexers for Pygments, with key words from the grammars.

A lexer colours what stands there, sense or not: a file with mistakes in it is coloured as far
as its words go, and every character of it comes back in some token.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from typing import Any, ClassVar

from pygments.lexer import RegexLexer, bygroups, default, include
from pygments.token import Comment, Keyword, Name, Number, Operator, String, Text, Whitespace
from pygments.util import Future

from .resources import folder

__all__ = ["CircuitLexer", "ReadingsLexer", "key_words"]

_TERMINAL = re.compile(r"^([A-Z_]+)(?:\.-?\d+)?:\s*(.+)$")
_IN_SLASHES = re.compile(r"/((?:[^/\\]|\\.)+)/")
_IN_QUOTES = re.compile(r'"([a-z][a-z-]*)"i')
_NO_KEY_WORDS = frozenset({"UNIT", "SORT"})  # terminals that are units

_END = r"""(?![^\s#",;])"""  # as WORD_END in the grammars
_WORD = r"""[^\s#",;]+"""
_BLANK = r"[^\S\n]+"


def key_words(grammar: str) -> dict[str, tuple[str, ...]]:
    """The words of each terminal of a grammar that is made of words, those it imports too.

    Parameters
    ----------
    grammar : str
        "circuit" or "readings".

    Returns
    -------
    dict of terminal name to tuple of str
        In lower case, in the order of the grammar.
    """
    found: dict[str, tuple[str, ...]] = {}
    for name in (grammar, "common"):
        for terminal, pattern in _terminals(name):
            words = _IN_QUOTES.findall(pattern)
            if words and terminal not in _NO_KEY_WORDS:
                found.setdefault(terminal, tuple(words))
    return found


def _terminals(grammar: str) -> Iterator[tuple[str, str]]:
    """The terminals of a grammar, each with what it is made of."""
    text = (folder("grammars") / f"{grammar}.lark").read_text(encoding="utf-8")
    for line in text.splitlines():
        match = _TERMINAL.match(line)
        if match:
            yield match[1], match[2]


@functools.cache
def _pattern_of(terminal: str) -> str:
    """The regular expression of a terminal that both languages share."""
    match = _IN_SLASHES.search(dict(_terminals("common"))[terminal])
    assert match is not None, "a terminal that is an expression"
    return match[1]


class _Pattern(Future):  # type: ignore[misc]  # Pygments comes without types
    """A pattern with terminals of the shared grammar in it, read when a text is coloured.

    Parameters
    ----------
    pattern : str
        With a terminal's name in angle brackets for its pattern.
    """

    def __init__(self, pattern: str) -> None:
        self._pattern = pattern

    def get(self) -> str:
        """The pattern as Python has it."""
        return re.sub(r"<([A-Z]+)>", lambda m: f"(?:{_pattern_of(m[1])})", self._pattern)


class _Words(_Pattern):
    """The same around the key words of some terminals.

    Parameters
    ----------
    pattern : str
        With a `{}` for the words, where they are a group.
    grammar : str
        Whose words.
    terminals : str
        Which of them, blanks between; all others where it begins with "-".
    """

    def __init__(self, pattern: str, grammar: str, terminals: str) -> None:
        super().__init__(pattern)
        self._grammar, self._terminals = grammar, terminals

    def get(self) -> str:
        every = key_words(self._grammar)
        named = self._terminals.removeprefix("-").split()
        picked = [n for n in every if n not in named] if self._terminals[:1] == "-" else named
        words = sorted(
            {word for name in picked for word in every[name]}, key=lambda w: (-len(w), w)
        )
        return super().get().replace("{}", f"({'|'.join(map(re.escape, words))}){_END}")


_NODE = Name.Label
_PART = Name.Variable
_TYPE = Name.Class

_SPACES: list[Any] = [(_BLANK, Whitespace), (r"#[^\n]*", Comment.Single)]
_LINE_END: list[Any] = [(r"\n", Whitespace, "#pop")]
_VALUES: list[Any] = [
    (r'"[^"\n]*"', String),
    (_Pattern("<VALUE>"), Number),
    (_Pattern(rf"<UNIT>{_END}"), Number),
    (rf"(?:dc|ac|rms|pp|p-p){_END}", Number),
    (r"\+(?![^\s])", Operator),
]
_REST: list[Any] = [(_WORD, Name), (r"[^\n]", Text)]


def _circuit(pattern: str, terminals: str) -> _Words:
    return _Words(pattern, "circuit", terminals)


def _readings(pattern: str, terminals: str) -> _Words:
    return _Words(pattern, "readings", terminals)


class CircuitLexer(RegexLexer):  # type: ignore[misc]
    """Colours a circuit file."""

    name = "netcheck circuit"
    url = ""
    aliases: ClassVar[list[str]] = ["bias"]
    filenames: ClassVar[list[str]] = ["*.bias"]
    mimetypes: ClassVar[list[str]] = []
    flags = re.IGNORECASE

    tokens: ClassVar[dict[str, list[Any]]] = {
        "root": [
            (r"\n", Whitespace),
            include("spaces"),
            (_circuit(rf"{{}}({_BLANK})({_WORD})({_BLANK})({_WORD})", "VALVE"),
             bygroups(Keyword.Declaration, Whitespace, _PART, Whitespace, _TYPE), "fields"),
            (_circuit(rf"{{}}({_BLANK})({_WORD})", "WINDING SUPPLY RESISTOR CAPACITOR DIODE ZENER "
                      "LINK POT TREMOLO VALVE"),
             bygroups(Keyword.Declaration, Whitespace, _PART), "fields"),
            (_circuit("{}", "CIRCUIT MAINS HIGHTENSION"), Keyword.Declaration, "fields"),
            (_circuit("{}", "ELSEWHERE"), Keyword.Declaration, "nodes"),
            default("fields"),
        ],
        "fields": [
            *_LINE_END,
            include("spaces"),
            (_circuit(rf"{{}}({_BLANK})({_WORD})",
                      "FROM TO CENTRE TAP PLUS MINUS TOP WIPER BOTTOM GRID"),
             bygroups(Keyword, Whitespace, _NODE)),
            (_circuit(rf"{{}}({_BLANK})(?!<VALUE>)({_WORD})", "ANODE PLATE CATHODE"),
             bygroups(Keyword, Whitespace, _NODE)),
            (_circuit(rf"{{}}({_BLANK})({_WORD})", "TYPE_WORD"),
             bygroups(Keyword, Whitespace, _TYPE)),
            (_circuit(rf"(clockwise)({_BLANK}){{}}", "TOP BOTTOM"),
             bygroups(Keyword, Whitespace, Keyword)),
            (_circuit("{}", "COLOUR"), Keyword.Constant),
            (_circuit("{}", "-COLOUR"), Keyword),
            include("values"),
            *_REST,
        ],
        "nodes": [*_LINE_END, include("spaces"), (_WORD, _NODE), (r"[^\n]", Text)],
        "spaces": _SPACES,
        "values": _VALUES,
    }  # fmt: skip


class ReadingsLexer(RegexLexer):  # type: ignore[misc]
    """Colours a sheet of readings."""

    name = "netcheck readings"
    url = ""
    aliases: ClassVar[list[str]] = ["readings"]
    filenames: ClassVar[list[str]] = ["*.readings"]
    mimetypes: ClassVar[list[str]] = []
    flags = re.IGNORECASE

    tokens: ClassVar[dict[str, list[Any]]] = {
        "root": [
            (r"\n", Whitespace),
            include("spaces"),
            (_readings(rf"{{}}({_BLANK})(for{_END})({_BLANK})({_WORD})", "READINGS"),
             bygroups(Keyword.Declaration, Whitespace, Keyword.Declaration, Whitespace, _TYPE),
             "fields"),
            (_readings(rf"{{}}({_BLANK})({_WORD})", "METER"),
             bygroups(Keyword.Declaration, Whitespace, _TYPE), "fields"),
            (_readings(rf"{{}}({_BLANK})(found|left){_END}", "AS"),
             bygroups(Keyword.Declaration, Whitespace, Keyword.Declaration), "fields"),
            (_readings("{}", "READINGS NOTE AS POWER VALVES MAINS"), Keyword.Declaration,
             "fields"),
            (_readings(rf"{{}}({_BLANK})({_WORD})", "NODE_WORD FROM"),
             bygroups(Keyword, Whitespace, _NODE), "fields"),
            (_readings(rf"{{}}({_BLANK})({_WORD})", "PART ACROSS"),
             bygroups(Keyword, Whitespace, _PART), "fields"),
            (_readings("(?={})", "WITH"), Whitespace, "fields"),
            (_WORD, _PART, "fields"),
            default("fields"),
        ],
        "fields": [
            *_LINE_END,
            include("spaces"),
            # Its unit before the key words: "V" is one of them, in "20k per V".
            (_Pattern(rf"(<VALUE>)({_BLANK})(<UNIT>){_END}"), bygroups(Number, Whitespace, Number)),
            (_readings(rf"{{}}({_BLANK})({_WORD})", "WITH"),
             bygroups(Keyword, Whitespace, _TYPE)),
            (_readings(rf"{{}}({_BLANK})({_WORD})", "TO NODE_WORD"),
             bygroups(Keyword, Whitespace, _NODE)),
            (_readings(rf"{{}}({_BLANK})({_WORD})", "PART"),
             bygroups(Keyword, Whitespace, _PART)),
            (_readings(rf"({_WORD})({_BLANK}){{}}", "AT"),
             bygroups(_PART, Whitespace, Keyword)),
            (_readings("{}", "CLOCKWISE ANTICLOCKWISE MIDDLE OL"), Keyword.Constant),
            (_readings("{}", "-CLOCKWISE ANTICLOCKWISE MIDDLE OL"), Keyword),
            include("values"),
            *_REST,
        ],
        "spaces": _SPACES,
        "values": _VALUES,
    }  # fmt: skip
