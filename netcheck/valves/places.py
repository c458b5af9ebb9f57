"""Where the keys of a TOML text stand.

The standard parser tells values but not their places, and a complaint without a place
leaves the user searching. The text walked through here has been accepted by that parser
before, so the walk need not look for mistakes.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Mapping
from contextlib import suppress

from ..source import NOWHERE, Span

Path = tuple[str | int, ...]
"""The keys and list positions that lead to a value, such as ("EL34", "rows", 0)."""

_SPACE = re.compile(r"[ \t]*")
_BLANK = re.compile(r"(?:[ \t\n\r]|#[^\n]*)*")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}\n#]*")


def places(text: str) -> dict[Path, Span]:
    """The place of each key, and of each element of a list.

    Parameters
    ----------
    text : str
        A text that `tomllib.loads` accepts.

    Returns
    -------
    dict of tuple to Span
        Where a key is first given, by its path. Keys with escapes in them are lacking, and
        so is what comes after brackets nested too deeply to follow.
    """
    walk = _Walk(text)
    with suppress(RecursionError):
        walk.run()
    return walk.found


def place_of(path: Path, known: Mapping[Path, Span]) -> Span:
    """The place of `path`, or of the innermost thing around it that has one.

    Parameters
    ----------
    path : tuple
        Leads to a value.
    known : mapping of tuple to Span
        What `places` found.

    Returns
    -------
    Span
        `NOWHERE` if not even the heading was found.
    """
    while path and path not in known:
        path = path[:-1]
    return known.get(path, NOWHERE)


class _Walk:
    """One pass over the text; `at` is the offset reached so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, Span] = {}
        self.newest: dict[Path, int] = {}
        self.line_starts = [0, *(match.end() for match in re.finditer("\n", text))]

    def run(self) -> None:
        """Walk through all of it."""
        table: Path = ()
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                table = self._heading()
            else:
                self._pair(table)
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        if match := pattern.match(self.text, self.at):
            self.at = match.end()

    def _heading(self) -> Path:
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        *outer, last = self._key()
        self.at += 2 if is_list else 1
        path: Path = ()
        for key, span in outer:
            path = self._newest((*path, key))
            self.found.setdefault(path, span)
        path = (*path, last[0])
        self.found.setdefault(path, last[1])
        if is_list:
            self.newest[path] = self.newest.get(path, -1) + 1
            path = self._newest(path)
            self.found.setdefault(path, last[1])
        return path

    def _newest(self, path: Path) -> Path:
        """`path`, led on to the newest element where it is a list of tables."""
        return (*path, self.newest[path]) if path in self.newest else path

    def _pair(self, table: Path) -> None:
        path = table
        for key, span in self._key():
            path = (*path, key)
            self.found.setdefault(path, span)
        self.at += 1  # the "="
        self._skip(_SPACE)
        self._value(path)

    def _key(self) -> list[tuple[str, Span]]:
        """The parts of a key up to the `=` or `]` behind it, each with its place."""
        parts = []
        while True:
            self._skip(_SPACE)
            start = self.at
            quoted = self.text[start] in "\"'"
            self._skip(_STRING if quoted else _BARE_KEY)
            word = self.text[start : self.at]
            parts.append((word[1:-1] if quoted else word, self._span(start)))
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return parts
            self.at += 1

    def _value(self, path: Path) -> None:
        opening = self.text[self.at]
        if opening == "[":
            self._list(path)
        elif opening == "{":
            self._inline_table(path)
        else:
            self._skip(_STRING if opening in "\"'" else _BARE_VALUE)

    def _list(self, path: Path) -> None:
        self.at += 1
        self._skip(_BLANK)
        position = 0
        while not self.text.startswith("]", self.at):
            start = self.at
            element = (*path, position)
            self._value(element)
            self.found[element] = self._span(start)
            position += 1
            self._skip_comma()
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        self._skip(_BLANK)
        while not self.text.startswith("}", self.at):
            self._pair(path)
            self._skip_comma()
        self.at += 1

    def _skip_comma(self) -> None:
        self._skip(_BLANK)
        if self.text.startswith(",", self.at):
            self.at += 1
            self._skip(_BLANK)

    def _span(self, start: int) -> Span:
        """From `start` to where the walk is, but not beyond the line."""
        line = bisect_right(self.line_starts, start)
        column = start - self.line_starts[line - 1] + 1
        length = len(self.text[start : self.at].partition("\n")[0])
        return Span(line, column, column + length)
