"""Text to one syntax tree a line, and every syntax error of the text. The only lark importer.

Each line is parsed by itself. After an error the parser leaves the offending word out and
goes on, so that a second, unrelated mistake in the same line is found in the same run; a
word right behind one that was left out is not complained about again.
"""

from __future__ import annotations

import difflib
import functools
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from ..finding import Finding, Severity
from ..resources import folder
from ..source import Source, Span

_PHRASES = {
    "NAME": "a name for the part",
    "NODE": "the name of a node",
    "TYPE": "a type number",
    "VALUE": "a value",
    "UNIT": "a unit",
    "HALVES": "volts either side of the centre, such as 50-0-50",
    "COLOUR": "a colour",
    "STRING": "a text in double quotes",
    "$END": "the end of the line",
}
_UNITS = ("ohm", "kohm", "Mohm", "uF", "nF", "pF", "mfd", "V", "Vac", "Vpp", "mV", "A", "mA",
          "uA", "W", "mW", "Hz", "%")  # fmt: skip


@dataclass(frozen=True, slots=True)
class ParsedLine:
    """One line of a text.

    Parameters
    ----------
    number : int
        Line number, the first is 1. [count]
    tree : lark Tree or None
        What the line says; None for an empty line or a comment.
    comment : str or None
        The comment without its mark, None where there is none.
    broken : bool
        True when a syntax error was found in the line.
    """

    number: int
    tree: Tree[Token] | None
    comment: str | None
    broken: bool


class LineParser:
    """A grammar, ready to parse lines.

    Parameters
    ----------
    grammar : str
        File name below the folder of grammars.
    """

    def __init__(self, grammar: str) -> None:
        self._comments: list[Token] = []
        self._lark = Lark.open(
            str(folder("grammars") / grammar),
            parser="lalr",
            start="line",
            propagate_positions=True,
            maybe_placeholders=False,
            lexer_callbacks={"COMMENT": self._keep_comment},
        )
        self._words = {t.name: _spellings(t.pattern.to_regexp()) for t in self._lark.terminals}

    def parse(self, source: Source) -> tuple[list[ParsedLine], list[Finding]]:
        """Parse a whole text.

        Parameters
        ----------
        source : Source
            The text.

        Returns
        -------
        list of ParsedLine
            One for each line of the text.
        list of Finding
            Every syntax error.
        """
        findings: list[Finding] = []
        lines = []
        for number, text in enumerate(source.lines, start=1):
            line, problems = self._parse_line(source, number, text)
            lines.append(line)
            findings.extend(problems)
        return lines, findings

    def _keep_comment(self, token: Token) -> Token:
        self._comments.append(token)
        return token

    def _parse_line(
        self, source: Source, number: int, text: str
    ) -> tuple[ParsedLine, list[Finding]]:
        self._comments.clear()
        errors = _Errors(source, number, self._words)
        tree = self._tree(text, errors)
        comment = self._comments[0].value[1:].strip() if self._comments else None
        entry = tree.children[0] if tree is not None and tree.children else None
        found = errors.found
        line = ParsedLine(number, entry if isinstance(entry, Tree) else None, comment, bool(found))
        return line, found

    def _tree(self, text: str, errors: _Errors) -> Tree[Token] | None:
        """What the line says; where it ends too early, what it says without its last words."""
        while True:
            try:
                return self._lark.parse(text, on_error=errors.take)
            except UnexpectedInput as error:
                errors.take(error)
            shorter = re.sub(r"\s*\S+\s*$", "", text.partition("#")[0])
            if not shorter or shorter == text or '"' in text:
                return None
            text = shorter


class _Errors:
    """Collects the syntax errors of one line; lark calls `take` for each."""

    def __init__(self, source: Source, number: int, words: dict[str, list[str]]) -> None:
        self.found: list[Finding] = []
        self._source = source
        self._number = number
        self._words = words
        self._quiet_until = 0

    def take(self, error: UnexpectedInput) -> bool:
        """Note the error unless it only follows from the one before; go on in any case."""
        text = self._source.line(self._number)
        start = error.column - 1 if error.column > 0 else len(text)
        follows = bool(self.found) and not text[self._quiet_until : start].strip()
        if isinstance(error, UnexpectedToken) and error.token.type == "$END":
            if not self.found:
                self.found.append(self._early_end(error, text))
            return False
        if isinstance(error, UnexpectedCharacters):
            token, wanted = text[start : start + 1], set(error.allowed or ())
            length = 1
        elif isinstance(error, UnexpectedToken):
            token, wanted = str(error.token), set(error.accepts or error.expected)
            length = len(token)
        else:
            return False
        whole = re.match(r"\S+", text[start:])
        quote = text[start : start + 1] == '"'
        self._quiet_until = len(text) if quote and token == '"' else start + max(length, 1)
        if follows:
            return True
        span = Span(self._number, start + 1, start + 1 + max(length, 1))
        if quote and token == '"':
            span = Span(self._number, start + 1, len(text) + 1)
            self.found.append(self._open_quote(span))
        else:
            word = token if isinstance(error, UnexpectedToken) else (whole or [""])[0]
            self.found.append(self._unknown(word, span, {str(w) for w in wanted}, text[:start]))
        return True

    def _early_end(self, error: UnexpectedToken, text: str) -> Finding:
        wanted = {str(w) for w in (error.accepts or error.expected)}
        stripped = re.sub(r"\s*(#.*)?$", "", text) if '"' not in text else text.rstrip()
        column = len(stripped) + 1
        last = stripped.split()[-1] if stripped.split() else ""
        return self._error(
            "line-too-short",
            Span(self._number, column, column + 1),
            f'the line ends behind "{_clip(last)}"',
            f"expected here: {self._phrase(wanted)}",
        )

    def _open_quote(self, span: Span) -> Finding:
        return self._error(
            "open-quote",
            span,
            "a quotation mark is opened here and never closed on this line",
            'a text stands between two double quotes: "like this"',
            'put " at the end of the text',
        )

    def _unknown(self, word: str, span: Span, wanted: set[str], before: str) -> Finding:
        known = sorted(w for name in wanted for w in self._words.get(name, ()))
        if re.search(r"\d\S*\s+$", before) and "UNIT" in wanted:
            known += list(_UNITS)
        if word in known:  # it is wanted all the same: a doubled or misplaced word
            known.remove(word)
        return self._error(
            "unknown-word" if not self._is_keyword(word) else "misplaced-word",
            span,
            f'"{_clip(word)}" is not understood here',
            f"expected here: {self._phrase(wanted)}",
            self._hint(word, known, before),
        )

    def _hint(self, word: str, known: list[str], before: str) -> str:
        near = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
        if near:
            return f'did you mean "{near[0]}"?'
        taken = re.search(r"(\S+)\s+(\S+)\s+$", before)
        if taken and self._is_keyword(taken[1]) and self._is_keyword(taken[2]):
            return (
                f'"{taken[2]}" was read as the name behind "{taken[1]}": '
                f'is the name missing after "{taken[1]}"?'
            )
        return ""

    def _is_keyword(self, word: str) -> bool:
        return any(word.lower() in spellings for spellings in self._words.values())

    def _phrase(self, wanted: Iterable[str]) -> str:
        names = sorted(set(wanted) - {"UNIT"})
        telling = [name for name in names if name not in ("NOTE", "YEAR", "$END")]
        names = telling or names
        phrases = [_PHRASES.get(n) or " or ".join(self._words.get(n, [n.lower()])) for n in names]
        return ", ".join(dict.fromkeys(phrases))

    def _error(self, slug: str, span: Span, what: str, why: str, fix: str = "") -> Finding:
        return Finding(slug, Severity.ERROR, self._source, span, what, why, fix)


def _clip(word: str) -> str:
    """The word, shortened if it is too long for a message, unprintable signs shown as codes."""
    shown = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in word)
    return shown if len(shown) <= 40 else shown[:37] + "..."


def _spellings(pattern: str) -> list[str]:
    """The spellings of a key word, [] for a terminal that is a pattern proper."""
    core = re.fullmatch(r"\(\?i:(.*?)\(\?!\\S\)\)", pattern)
    if not core:
        return []
    words = re.sub(r"^\(\?:(.*)\)$", r"\1", core[1]).split("|")
    return words if all(re.fullmatch(r"[a-z]+", word) for word in words) else []


@functools.cache
def line_parser(grammar: str) -> LineParser:
    """The parser of one grammar, built once."""
    return LineParser(grammar)


def walk(tree: Tree[Token]) -> Iterator[Tree[Token]]:
    """The fields of an entry, in the order typed."""
    return (child for child in tree.children if isinstance(child, Tree))


def token_span(token: Token, number: int) -> Span:
    """Where a token stands, in the numbering of the whole text."""
    column = token.column or 1
    return Span(number, column, token.end_column or column + len(token))


def tree_span(tree: Tree[Token], number: int) -> Span:
    """Where a field stands, from its first token to its last."""
    tokens = list(tree.scan_values(lambda value: isinstance(value, Token)))
    return token_span(tokens[0], number).to(token_span(tokens[-1], number))
