"""Text as the user typed it, and places in it.

Everything that can be complained about carries a `Span`, so that a message can
show the line and put a mark under the very spot.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of one line.

    Parameters
    ----------
    line : int
        Line number, the first is 1. [count]
    column : int
        Column of the first character, the first is 1. [count]
    end : int
        Column just behind the last character. [count]
    """

    line: int
    column: int
    end: int

    def to(self, other: Span) -> Span:
        """The stretch from here to the end of `other`, kept on this line."""
        end = other.end if other.line == self.line else self.end
        return Span(self.line, self.column, max(self.end, end))


NOWHERE = Span(0, 0, 0)
"""The span of what was made by program and stands in no file."""


@dataclass(frozen=True, slots=True)
class Source:
    """A text and the name it is known by in messages.

    Parameters
    ----------
    name : str
        File name as the user gave it, or another name to show.
    text : str
        The whole text, line ends already turned into line feeds.
    """

    name: str
    text: str

    @property
    def lines(self) -> list[str]:
        """The lines, without their ends."""
        return self.text.split("\n")

    def line(self, number: int) -> str:
        """Line `number` (the first is 1), or "" where there is none."""
        lines = self.lines
        return lines[number - 1] if 1 <= number <= len(lines) else ""
