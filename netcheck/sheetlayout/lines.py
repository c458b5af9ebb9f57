"""The lines of a sheet of readings as text in its canonical form."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from itertools import groupby
from typing import Any

from ..layout import quoted
from ..parse.entries import (
    Header,
    Measure,
    MeterLine,
    PowerHead,
    Remark,
    Settings,
    SheetEntry,
    SheetLine,
    StageHead,
    Taken,
    UseMeter,
    ValvesHead,
)
from ..parse.lines import INVISIBLE, line_parser
from ..quantity import Dimension, read, show_reading, write_exact
from ..readings import OVERLOAD, Accuracy, Function, Position

_STEP = 2  # columns for each level
_MOST_ALIGNED = 24  # columns; a longer name would push the values of all its neighbours away
_NAME = re.compile(r'[^\s#",;]+')
_DESIGNATOR = re.compile("[A-Za-z]+[0-9]+[A-Za-z]?")

_RANGES = {
    Function.DC_VOLTS: Dimension.VOLT,
    Function.AC_VOLTS: Dimension.VOLT,
    Function.CURRENT: Dimension.AMPERE,
    Function.OHMS: Dimension.OHM,
    Function.CAPACITANCE: Dimension.FARAD,
}


# ------------------------------------------------------------------------ words of a line


def _value(measure: Measure) -> str:
    """A value as it was read: to its last digit, and so that it reads back exactly."""
    if measure.nominal == OVERLOAD:
        return "OL"
    dimension = measure.dimension
    last = Decimal(repr(measure.last_digit)).normalize()
    text = show_reading(measure.nominal, dimension, last)
    again = read(text)
    if (again.nominal, float(again.last_digit)) == (measure.nominal, measure.last_digit):
        return text
    return write_exact(measure.nominal, dimension, last)


def _checked(name: str) -> str:
    if _NAME.fullmatch(name) is None:
        raise ValueError(f"a name in a sheet holds no blank, comma or quotation mark: {name!r}")
    return name


@functools.cache
def _first_words() -> frozenset[str]:
    return line_parser("readings.lark").first_words


def _place(taken: Taken) -> str:
    """How a line of readings begins."""
    if taken.place == "mains":
        return "mains"
    names = [_checked(name) for name in taken.names]
    if taken.place == "between":
        return f"from {names[0]} to {names[1]}"
    is_key_word = names[0].lower() in _first_words()
    if taken.place == "part":
        return f"{'part' if taken.measures[0].word else 'across'} {names[0]}"
    if taken.place == "node":
        return f"node {names[0]}"
    if is_key_word:
        of_part = taken.measures[0].word not in ("", "ripple")
        return f"{'part' if of_part else 'node'} {names[0]}"
    return names[0]


def _taken_words(taken: Taken) -> list[str]:
    words = [f"{measure.word} {_value(measure)}".strip() for measure in taken.measures]
    words += [f"with {_checked(taken.meter)}"] if taken.meter is not None else []
    words += [f"note {quoted(taken.note)}"] if taken.note is not None else []
    return words


def _position(position: Position) -> str:
    if position.by_eye and position.travel == 0.5:
        return "middle"
    if position.travel in (0.0, 1.0):
        return "clockwise" if position.travel else "anticlockwise"
    return write_exact(position.travel, Dimension.PERCENT)


def _settings(pots: Mapping[str, Position]) -> str:
    words = []
    for name, position in pots.items():
        lead = "part " if name.lower() in _first_words() or (
            len(pots) > 1 and not _DESIGNATOR.fullmatch(name)) else ""  # fmt: skip
        words.append(f"{lead}{_checked(name)} at {_position(position)}")
    return "  ".join(words)


def _accuracy(function: Function, accuracy: Accuracy) -> str:
    words = [f"{function.value} {write_exact(accuracy.share, Dimension.PERCENT)}"]
    if accuracy.of_full_scale:
        words.append("of full scale")
    if accuracy.digits:
        digits = f"{Decimal(repr(accuracy.digits)).normalize():f}"
        words.append(f"+ {digits} {'digit' if digits == '1' else 'digits'}")
    dimension = _RANGES[function]
    text = " ".join(words)
    for one in accuracy.ranges:
        text += f"  range {write_exact(one.full, dimension)}"
        if one.resolution is not None:
            text += f" resolution {write_exact(one.resolution, dimension)}"
    return text


def meter_text(line: MeterLine) -> str:
    """A line about a meter."""
    words = [f"meter {_checked(line.name)}"]
    if line.r_input is not None:
        words.append(write_exact(line.r_input, Dimension.OHM))
    if line.ohm_per_volt is not None:
        words.append(f"{write_exact(line.ohm_per_volt, Dimension.OHM)} per volt")
    words += [_accuracy(function, line.accuracy[function]) for function in Function
              if function in line.accuracy]  # fmt: skip
    if line.v_test is not None:
        words.append(f"test {write_exact(line.v_test, Dimension.VOLT)}")
    return "  ".join(words)


def _header(entry: Header) -> str:
    # In quotes a name may hold what cannot be seen.
    is_plain = _NAME.fullmatch(entry.circuit) and not INVISIBLE.search(entry.circuit)
    return f"readings for {entry.circuit if is_plain else quoted(entry.circuit)}"


def _power(entry: PowerHead) -> str:
    power = "power on" if entry.live else "power off"
    return f"{power}  discharged" if entry.discharged else power


_TEXTS: dict[type, Callable[[Any], str]] = {
    Header: _header,
    Remark: lambda entry: f"note {quoted(entry.text)}",
    MeterLine: meter_text,
    UseMeter: lambda entry: f"with {_checked(entry.name)}",
    StageHead: lambda entry: str(entry.stage),
    PowerHead: _power,
    ValvesHead: lambda entry: "valves out" if entry.out else "valves in",
    Settings: lambda entry: _settings(entry.pots),
}


# ------------------------------------------------------------------------------ the lines


class Indent:
    """How far lines are moved in: headings under their stage, readings under their heading."""

    def __init__(self) -> None:
        self._staged = False
        self._level = 0

    def of(self, entry: SheetEntry | None) -> int:
        """The columns in front of a line; lines are asked for in their order. [count]"""
        if isinstance(entry, StageHead):
            self._staged, self._level = True, 1
            return 0
        if isinstance(entry, PowerHead | ValvesHead | Settings) and self._staged:
            self._level = 2
            return _STEP
        return _STEP * self._level


def format_sheet_lines(lines: Iterable[SheetLine]) -> str:
    """The canonical text of a sheet's lines: comments kept, empty lines single.

    Every line must have been read without an error, or what it said is lost.
    """
    indent = Indent()
    rows = [(indent.of(line.entry), line) for line in lines]
    filled = groupby(rows, lambda row: row[1].entry is not None or row[1].comment is not None)
    blocks = ["\n".join(_block(list(group))) for is_filled, group in filled if is_filled]
    return "\n\n".join(blocks) + "\n"


def _block(rows: Sequence[tuple[int, SheetLine]]) -> Iterator[str]:
    """Lines without an empty one among them; readings under one heading are aligned."""
    for is_reading, group in groupby(rows, lambda row: isinstance(row[1].entry, Taken)):
        together = list(group)
        width = 0
        if is_reading:
            places = [_place(line.entry) for _, line in together if isinstance(line.entry, Taken)]
            width = max((len(p) for p in places if len(p) <= _MOST_ALIGNED), default=0)
        for columns, line in together:
            text = "" if line.entry is None else line_text(line.entry, width)
            if line.comment is not None:
                text = f"{text}  # {line.comment}" if text else f"# {line.comment}"
            yield f"{' ' * columns}{text}".rstrip()


def line_text(entry: SheetEntry, width: int = 0) -> str:
    """One line, without indent and comment; the name of a place takes `width` columns at least."""
    if isinstance(entry, Taken):
        return "  ".join([f"{_place(entry):<{width}}", *_taken_words(entry)])
    return _TEXTS[type(entry)](entry)
