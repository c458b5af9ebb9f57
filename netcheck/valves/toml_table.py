"""TOML written by a user: values taken out with checks, complaints with their places."""

from __future__ import annotations

import re
import tomllib
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from ..finding import Finding, Severity
from ..source import NOWHERE, Source, Span

if TYPE_CHECKING:
    from .places import Path

E = TypeVar("E", bound=StrEnum)

LONGEST_TEXT = 200_000
"""Characters in the longest text that is read: some 500 valve types. [count]"""


class Quantity(NamedTuple):
    """What a number in the file means, and between which bounds it makes sense.

    Parameters
    ----------
    what : str
        In words, such as "plate dissipation".
    unit : str
        The unit in which the file gives it.
    low, high : float
        The least and the greatest that is believed, in that unit. [1]
    divisor : float
        The SI value is the file's value divided by this. [1]
    """

    what: str
    unit: str
    low: float
    high: float
    divisor: float = 1.0


class Complaints:
    """Collects findings about one text; their places are worked out at the end."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self._noted: list[tuple[Path, Severity, str, str, str, str]] = []
        self._faulty: set[str | int] = set()

    def add(
        self,
        path: Path,
        slug: str,
        what: str,
        why: str = "",
        fix: str = "",
        severity: Severity = Severity.ERROR,
    ) -> None:
        """Note a finding about the value at `path`."""
        self._noted.append((path, severity, slug, what, why, fix))
        if severity is Severity.ERROR:
            self._faulty.update(path[:1])

    def has_errors(self, heading: str) -> bool:
        """True if there is an error under that heading."""
        return heading in self._faulty

    def findings(self) -> list[Finding]:
        """The findings so far, in the order in which they were noted."""
        if not self._noted:
            return []
        from .places import place_of, places  # noqa: PLC0415  needed for complaints only

        known = places(self.source.text)
        return [
            Finding(slug, severity, self.source, place_of(path, known), what, why, fix)
            for path, severity, slug, what, why, fix in self._noted
        ]


def load(source: Source) -> tuple[dict[str, object], list[Finding]]:
    """Parse a TOML text.

    Parameters
    ----------
    source : Source
        The text.

    Returns
    -------
    document : dict
        What it says; empty when it cannot be read.
    findings : list of Finding
        At most one: why it cannot be read.
    """
    if len(source.text) > LONGEST_TEXT:
        what = f"this file is too long: {len(source.text)} characters, at most {LONGEST_TEXT}"
        return {}, [_unreadable(source, NOWHERE, what)]
    try:
        return tomllib.loads(source.text), []
    except tomllib.TOMLDecodeError as error:
        span, message = _where(source, str(error))
        return {}, [_unreadable(source, span, f"this line cannot be read: {message}")]
    except RecursionError:
        return {}, [_unreadable(source, NOWHERE, "brackets are nested too deeply")]
    except ValueError:
        # The parser lets the refusals of int() and of the date types through as they are.
        return {}, [_unreadable(source, NOWHERE, "a number or a date in this file is impossible")]


def _unreadable(source: Source, span: Span, what: str) -> Finding:
    return Finding(
        "types-syntax",
        Severity.ERROR,
        source,
        span,
        what,
        "each line is a heading such as [EL34], or a word, an equals sign and its value",
        "write numbers without a unit and with a decimal point, and put text between quotes",
    )


def _where(source: Source, message: str) -> tuple[Span, str]:
    """The place that the parser's message ends with, and the message without it."""
    match = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    if match is None:
        return NOWHERE, message
    text = message[: match.start()]
    if match[1] is None:
        last = len(source.text.rstrip("\n").split("\n"))
        width = len(source.line(last))
        return Span(last, max(width, 1), max(width, 1) + 1), f"{text} at the end of the file"
    line, column = int(match[1]), int(match[2])
    return Span(line, column, max(len(source.line(line)), column) + 1), text


class Table:
    """One table of the file, with the words that may stand in it.

    Parameters
    ----------
    complaints : Complaints
        Takes what is wrong.
    path : tuple
        Where the table stands.
    body : object
        What stands there; anything but a table is complained about.
    known : collection of str
        The words that may stand in it; "anode" may be written for "plate".
    """

    def __init__(
        self, complaints: Complaints, path: Path, body: object, known: tuple[str, ...]
    ) -> None:
        self.complaints = complaints
        self.path = path
        self.known = known
        self._values: dict[str, object] = {}
        self._as_typed: dict[str, str] = {}
        self._is_table = isinstance(body, dict)
        if not isinstance(body, dict):
            complaints.add(path, "types-value", f'"{_shown_path(path)}" must be a table of values')
            return
        for typed, value in body.items():
            self._take(typed, value)

    def _take(self, typed: str, value: object) -> None:
        word = re.sub(r"^anode_", "plate_", typed)
        if word not in self.known:
            self._unknown(typed)
        elif word in self._values:
            other = self._as_typed[word]
            self.complaints.add(
                (*self.path, typed),
                "types-twice",
                f'"{shown(typed)}" and "{shown(other)}" are the same, and both are given',
                fix="keep one of them",
            )
        else:
            self._values[word] = value
            self._as_typed[word] = typed

    def _unknown(self, typed: str) -> None:
        from .names import nearest_names  # noqa: PLC0415  needed for complaints only

        near = nearest_names(typed, self.known, count=1)
        self.complaints.add(
            (*self.path, typed),
            "types-unknown-word",
            f'unknown word "{shown(typed)}"',
            f"known here: {', '.join(self.known)}",
            f'did you mean "{near[0]}"?' if near else "",
        )

    def at(self, word: str) -> Path:
        """The path of `word` as the user typed it."""
        return (*self.path, self._as_typed.get(word, word))

    def has(self, word: str) -> bool:
        """True if `word` is given."""
        return word in self._values

    def missing(self, what: str, fix: str) -> None:
        """Complain that something is not given, unless there is no table to give it in."""
        if self._is_table:
            what = f'"{_shown_path(self.path)}" lacks {what}'
            self.complaints.add(self.path, "types-missing", what, fix=fix)

    def number(self, word: str, quantity: Quantity, *, required: bool) -> float | None:
        """The number behind `word` in SI units; None if absent or unusable."""
        if word not in self._values:
            if required:
                self.missing(f"the {quantity.what} in {quantity.unit}", f"add: {word} = ...")
            return None
        given = self._values[word]
        # TOML's true and false are integers to Python.
        if isinstance(given, bool) or not isinstance(given, int | float):
            what = f'"{word}" must be a number'
            fix = f"write the {quantity.what} in {quantity.unit}, without the unit or quotes"
            self.complaints.add(self.at(word), "types-value", what, fix=fix)
            return None
        if not quantity.low <= given <= quantity.high:
            lacks_minus = quantity.low <= -given <= quantity.high
            self.complaints.add(
                self.at(word),
                "types-value",
                f"a {quantity.what} of {_digits(given)} {quantity.unit} cannot be right",
                f"expected {quantity.low:g} to {quantity.high:g} {quantity.unit}",
                "write the minus sign" if lacks_minus else "check the unit and the decimal point",
            )
            return None
        return given / quantity.divisor

    def text(self, word: str, default: str = "") -> str:
        """The text behind `word`, or `default`."""
        given = self._values.get(word, default)
        if isinstance(given, str):
            return given
        self.complaints.add(self.at(word), "types-value", f'"{word}" must be text between quotes')
        return default

    def texts(self, word: str) -> tuple[str, ...]:
        """The list of texts behind `word`; empty if absent."""
        given = self._values.get(word, [])
        if isinstance(given, list) and all(isinstance(each, str) for each in given):
            return tuple(given)
        what = f'"{word}" must be a list of texts'
        self.complaints.add(self.at(word), "types-value", what, fix=f'{word} = ["...", "..."]')
        return ()

    def choice(self, word: str, kinds: type[E], default: E) -> E:
        """The member of `kinds` that stands behind `word`, or `default`."""
        given = self.text(word, default).lower().replace("center", "centre")
        try:
            return kinds(given)
        except ValueError:
            known = ", ".join(f'"{kind}"' for kind in kinds)
            what = f'"{shown(given)}" is no {word}'
            self.complaints.add(self.at(word), "types-value", what, f"known: {known}")
            return default

    def table(self, word: str, known: tuple[str, ...]) -> Table:
        """The table behind `word`, which must be given."""
        return Table(self.complaints, self.at(word), self._values[word], known)

    def tables(self, word: str, known: tuple[str, ...]) -> list[Table]:
        """The list of tables behind `word`; empty if absent. One table counts as a list of it."""
        given = self._values.get(word, [])
        if isinstance(given, dict):
            return [self.table(word, known)]
        if not isinstance(given, list):
            what = f'"{word}" must be a list of tables'
            self.complaints.add(self.at(word), "types-value", what, fix=f"{word} = [ {{ ... }} ]")
            return []
        return [
            Table(self.complaints, (*self.at(word), position), each, known)
            for position, each in enumerate(given)
        ]


def shown(text: str) -> str:
    """The user's own text, fit to stand in a message: short and without control characters."""
    return "".join(char if char.isprintable() else "?" for char in text[:40])


def _shown_path(path: Path) -> str:
    """A path as the user knows it: list positions count from 1."""
    return " ".join(f"no. {part + 1}" if isinstance(part, int) else shown(part) for part in path)


def _digits(number: float) -> str:
    """A number for a message, however many digits it has."""
    # Python refuses to turn a whole number beyond the reach of a float into one.
    return "more than 1e300" if abs(number) >= 1e300 else f"{number:g}"
