"""The text of a circuit or of a sheet of readings, coloured."""

from __future__ import annotations

from markupsafe import Markup, escape
from pygments.lexer import Lexer
from pygments.token import Comment, Keyword, Name, Number, String

from ..highlight import CircuitLexer, ReadingsLexer

_CLASSES = {
    Comment.Single: "c",
    Keyword.Declaration: "d",
    Keyword.Constant: "k",
    Keyword: "k",
    Name.Variable: "p",
    Name.Label: "n",
    Name.Class: "t",
    Number: "m",
    String: "s",
}
"""Classes of the style sheet, by kind of token."""


def circuit_listing(text: str) -> Markup:
    """A circuit file, each of its lines in an element of its own."""
    return _listed(text, CircuitLexer())


def sheet_listing(text: str) -> Markup:
    """A sheet of readings, likewise."""
    return _listed(text, ReadingsLexer())


def _listed(text: str, lexer: Lexer) -> Markup:
    lines: list[list[Markup]] = [[]]
    for _, kind, value in lexer.get_tokens_unprocessed(text.rstrip("\n")):
        for k, piece in enumerate(value.split("\n")):
            if k:
                lines.append([])
            if piece:
                lines[-1].append(_coloured(piece, _CLASSES.get(kind)))
    return Markup("\n").join(Markup("<span>{}</span>").format(Markup("").join(line))
                             for line in lines)  # fmt: skip


def _coloured(piece: str, kind: str | None) -> Markup:
    shown = escape("".join(c if c.isprintable() or c == "\t" else "\N{REPLACEMENT CHARACTER}"
                           for c in piece))  # fmt: skip
    if kind is None:
        return shown
    return Markup('<span class="{}">{}</span>').format(kind, shown)
