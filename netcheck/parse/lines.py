"""Text to one syntax tree a line, and every syntax error of the text.

Each line is parsed by itself, so that a mistake never reaches beyond its line.
"""

from __future__ import annotations

import functools
import importlib.util
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput

from ..finding import Finding, Severity
from ..netlist import GROUND, OPEN
from ..resources import folder
from ..source import Source, Span
from .recovery import Recovery, Vocabulary
from .words import WORDING, Wording

ENOUGH = 200
"""With more errors than this the text is something else, and is not read further. [count]"""

LONGEST = 500
"""A longer line, its comment aside, is not parsed. [count]"""

_CODE = re.compile(r'(?:[^"#]|"[^"]*")*')  # as far as the comment or a quote without an end
_WORD_OF_PATTERN = re.compile(r"\(\?i:([a-z]+)\)")

# Control and format characters and the like: a name with one in it looks like another name.
INVISIBLE = re.compile(
    "[\\x00-\\x08\\x0e-\\x1b\\x7f-\\x84\\x86-\\x9f\\xad\u061c\u180e\u200b-\u200f\u202a-\u202e"
    "\u2060-\u206f\ufeff\ufff9-\ufffd\ue000-\uf8ff\ud800-\udfff\U000e0000-\U0010ffff]+"
)
"""What a line may hold in quotes and in comments only."""


@dataclass(frozen=True, slots=True)
class ParsedLine:
    """One line of a text.

    Parameters
    ----------
    number : int
        Line number, the first is 1. [count]
    text : str
        The line as typed.
    tree : lark Tree or None
        What the line says; None for an empty line or a comment.
    comment : str or None
        The comment without its mark, None where there is none.
    broken : bool
        True when a syntax error was found in the line.
    lossy : bool
        True when words of a broken line were left out of the tree: what seems missing may
        be among them.
    skipped : frozenset of int
        Columns of the words that were left out one by one. [count]
    """

    number: int
    text: str
    tree: Tree[Token] | None
    comment: str | None = None
    broken: bool = False
    lossy: bool = False
    skipped: frozenset[int] = frozenset()


class LineParser:
    """A grammar, ready to parse lines.

    Parameters
    ----------
    grammar : str
        File name below the folder of grammars.
    """

    def __init__(self, grammar: str) -> None:
        self._comments: list[str] = []
        self._lark = Lark.open(
            str(folder("grammars") / grammar),
            cache=_tables(grammar),
            parser="lalr",
            start="line",
            propagate_positions=True,
            maybe_placeholders=False,
            lexer_callbacks={
                "COMMENT": self._keep_comment,
                "NODE": _reserved_in_lower_case,
                "THING": _reserved_in_lower_case,
            },
        )
        words = {
            terminal.name: _WORD_OF_PATTERN.findall(terminal.pattern.to_regexp())
            for terminal in self._lark.terminals
        }
        first: set[str] = self._lark.parse_interactive("").accepts()  # type: ignore[no-untyped-call]
        self._wording = WORDING[grammar]
        self._vocabulary = Vocabulary(
            words, first, self._lark.get_terminal("UNIT").pattern.to_regexp(), self._wording
        )

    @property
    def first_words(self) -> frozenset[str]:
        """The key words that a line can begin with, in lower case."""
        return self._vocabulary.kinds

    def parse(self, source: Source) -> tuple[list[ParsedLine], list[Finding]]:
        """Parse a whole text, or as far as there are more than `ENOUGH` errors.

        Parameters
        ----------
        source : Source
            The text.

        Returns
        -------
        list of ParsedLine
            One for each line.
        list of Finding
            Every syntax error.
        """
        findings: list[Finding] = []
        lines = []
        for number, text in enumerate(source.lines, start=1):
            line, problems = self._parse_line(source, number, text)
            lines.append(line)
            findings += problems
            if len(findings) > ENOUGH:
                break
        return lines, findings

    def _keep_comment(self, token: Token) -> Token:
        self._comments.append(token[1:].strip())
        return token

    def _parse_line(
        self, source: Source, number: int, text: str
    ) -> tuple[ParsedLine, list[Finding]]:
        if not text or text.isspace():
            return ParsedLine(number, text, None), []
        length = len(text.partition("#")[0])
        if length > LONGEST:
            problem = _too_long(source, number, self._wording)
            return ParsedLine(number, text, None, broken=True, lossy=True), [problem]
        clean, hidden = _without_invisible(text, number)
        quote = _open_quote(clean)
        if quote is not None:
            clean += '"'
        self._comments.clear()
        recovery = Recovery(source, number, clean, self._vocabulary, quote)
        entry = self._entry(clean, recovery)
        findings = recovery.findings
        if entry is not None or not findings:  # what is no line of a circuit is told of once
            if hidden is not None:
                findings.append(_invisible(source, hidden, text))
            if quote is not None:
                findings.append(_unclosed(source, Span(number, quote + 1, quote + 2)))
        return ParsedLine(
            number,
            text,
            entry,
            comment=self._comments[0] if self._comments else None,
            broken=bool(findings),
            lossy=recovery.lossy,
            skipped=frozenset(recovery.skipped),
        ), findings

    def _entry(self, text: str, recovery: Recovery) -> Tree[Token] | None:
        """What the line says; after an error that ends it, what it says before the error."""
        while True:
            recovery.begin()
            try:
                line = self._lark.parse(text, on_error=recovery.take)
            except UnexpectedInput:
                # Each time at least one word shorter, and an empty line is no error.
                text = text[: recovery.cut]
            else:
                return next(walk(line), None)


def _tables(grammar: str) -> str | bool:
    """Where lark may keep the tables of a grammar: beside the byte code of this module.

    Who may write there may change this program too. Where nobody may, or byte code is not
    wanted, they are built anew on each run, which takes some 50 ms.
    """
    if sys.dont_write_bytecode:
        return False
    beside = Path(importlib.util.cache_from_source(__file__)).parent
    return str(beside / f"{grammar}.{sys.implementation.cache_tag}.tables")


def _reserved_in_lower_case(token: Token) -> Token:
    """The reserved names are key words: upper or lower case does not matter in them."""
    lower = token.lower()
    return token.update(value=lower) if lower in (GROUND, OPEN) else token


def _too_long(source: Source, number: int, wording: Wording) -> Finding:
    return Finding("line-too-long", Severity.ERROR, source, Span(number, LONGEST + 1, LONGEST + 2),
                   f"the line has more than {LONGEST} characters",
                   f"expected: one {wording.line} a line",
                   f"is this {wording.file}?")  # fmt: skip


def _open_quote(text: str) -> int | None:
    """Where a quotation mark stands that is never closed. [count]"""
    match = _CODE.match(text)
    end = match.end() if match else 0
    return end if text[end : end + 1] == '"' else None


def _unclosed(source: Source, span: Span) -> Finding:
    return Finding("open-quote", Severity.ERROR, source, span,
                   "a quotation mark is opened here and never closed on this line",
                   'a text stands between two double quotes: "like this"',
                   'put " at the end of the text')  # fmt: skip


def _without_invisible(text: str, number: int) -> tuple[str, Span | None]:
    """The line with a blank for each character that cannot be seen, and where the first is."""
    if text.isascii() and text.replace("\t", " ").isprintable():
        return text, None
    match = _CODE.match(text)
    end = match.end() if match else 0
    # What stands in quotes is only shown again, so it may hold anything.
    outside = re.sub(r'"[^"]*"', lambda quoted: " " * len(quoted[0]), text[:end])
    first = INVISIBLE.search(outside)
    if first is None:
        return text, None
    chars = list(text)
    for match in INVISIBLE.finditer(outside):
        chars[match.start() : match.end()] = " " * len(match[0])
    return "".join(chars), Span(number, first.start() + 1, first.end() + 1)


def _invisible(source: Source, span: Span, text: str) -> Finding:
    code = f"U+{ord(text[span.column - 1]):04X}"
    return Finding("invisible-character", Severity.ERROR, source, span,
                   f"there is a character here that cannot be seen ({code})",
                   "it often comes along when text is copied from a web page or a PDF",
                   "delete it, and the blanks around it, and type them again")  # fmt: skip


@functools.cache
def line_parser(grammar: str) -> LineParser:
    """The parser of one grammar, built once."""
    return LineParser(grammar)


def walk(tree: Tree[Token]) -> Iterator[Tree[Token]]:
    """The fields of an entry, in the order typed."""
    return (child for child in tree.children if isinstance(child, Tree))


def tokens_of(tree: Tree[Token]) -> list[Token]:
    """The words of an entry or of a field, those of its fields not among them."""
    return [child for child in tree.children if isinstance(child, Token)]


def token_span(token: Token, number: int) -> Span:
    """Where a token stands, in the numbering of the whole text."""
    column = token.column or 1
    return Span(number, column, token.end_column or column + len(token))


def tree_span(tree: Tree[Token], number: int) -> Span:
    """Where a field stands, from its first token to its last."""
    tokens = list(tree.scan_values(lambda value: isinstance(value, Token)))
    return token_span(tokens[0], number).to(token_span(tokens[-1], number))
