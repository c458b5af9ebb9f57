"""How messages about a sheet show what was read, and where."""

from __future__ import annotations

import re
from decimal import Decimal

from ..quantity import show_reading
from ..readings import OVERLOAD, Reading, Sheet, dimension_of
from ..source import Span


def as_read(reading: Reading, *, negated: bool = False) -> str:
    """A reading to the digit that was written down, or what it is with the other sign."""
    if reading.nominal == OVERLOAD:
        return "OL"
    nominal = -reading.nominal if negated else reading.nominal
    last_digit = Decimal(repr(reading.last_digit)).normalize()
    return show_reading(nominal, dimension_of(reading.kind), last_digit)


def place_of(sheet: Sheet, reading: Reading, name: str) -> Span:
    """Where a name stands in front of a reading; the reading's own place if it does not."""
    line = sheet.source.line(reading.span.line)[: max(reading.span.column - 1, 0)]
    found = re.search(rf'(?<![^\s",;]){re.escape(name)}(?![^\s",;])', line) if name else None
    if found is None:
        return reading.span
    return Span(reading.span.line, found.start() + 1, found.end() + 1)
