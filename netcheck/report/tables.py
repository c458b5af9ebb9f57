"""Tables in plain text that fit 80 columns, on a terminal and in a pipe alike."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from .findings import WIDTH

_NUMBER_AND_UNIT = re.compile(
    r"(\d) (?=(?:[pnumkMG]?(?:V|A|W|F|Hz|s|ohm)(?:ac|dc|pp|rms)?|%|bit)(?!\w))"
)


def table(head: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> list[str]:
    """Lines of a table: the first `left` columns set left, the others right.

    Parameters
    ----------
    head : sequence of str
        Column heads.
    rows : sequence of sequence of str
        Cells, as many a row as heads.
    left : int
        Columns set to the left. [count]
    """
    widths = [max(len(cell) for cell in column) for column in zip(head, *rows, strict=True)]

    def line(cells: Sequence[str]) -> str:
        return "  ".join(
            cell.ljust(width) if k < left else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ).rstrip()

    return [line(head), *(line(row) for row in rows)]


def paragraph(text: str, indent: str = "", first: str | None = None) -> list[str]:
    """A text broken into lines, but not between a number and its unit."""
    lines = textwrap.wrap(_NUMBER_AND_UNIT.sub("\\1\x1f", text), WIDTH,
                          initial_indent=indent if first is None else first,
                          subsequent_indent=indent, break_on_hyphens=False)  # fmt: skip
    return [line.replace("\x1f", " ") for line in lines]


def between(low: str, high: str, word: str = "to") -> str:
    """Two values of one kind, their unit once: "-43.7 to -37.9 V"."""
    number, _, unit = low.partition(" ")
    return f"{number if unit and high.endswith(f' {unit}') else low} {word} {high}"
