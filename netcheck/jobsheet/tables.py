"""Tables as data for the templates, and words that recur in their cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..quantity import Dimension, show

V, AMPERE, WATT = Dimension.VOLT, Dimension.AMPERE, Dimension.WATT
_NOTHING = 5e-3  # a mean voltage below is none [V]


@dataclass(frozen=True)
class Group:
    """Rows under one heading.

    Parameters
    ----------
    rows : sequence of sequence of str
        Cells, as many a row as the table has heads.
    heading : str
        Across all columns; empty for none.
    """

    rows: Sequence[Sequence[str]]
    heading: str = ""


@dataclass(frozen=True)
class Table:
    """A table.

    Parameters
    ----------
    caption : str
        What it shows.
    head : sequence of str
        Column heads; the first column heads its rows.
    groups : sequence of Group
        The rows.
    left : int
        Columns that are set to the left, the first among them; the others hold figures. [count]
    note : str
        What its columns mean; may be empty.
    """

    caption: str
    head: Sequence[str]
    groups: Sequence[Group]
    left: int = 1
    note: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether there is no row."""
        return not any(group.rows for group in self.groups)


def table(caption: str, head: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1,
          note: str = "") -> Table:  # fmt: skip
    """A table without headings between its rows; arguments as `Table`."""
    return Table(caption, head, [Group(rows)], left, note)


def percent(share: float) -> str:
    """A share as a percentage."""
    return f"{share * 100:.0f} %"


def volts(v: float) -> str:
    """A mean voltage, "0 V" for what is none; the live panel writes them alike."""
    return "0 V" if abs(v) < _NOTHING else show(v, V)


def volts_between(low: float, high: float) -> str:
    """Limits of a voltage, to a tenth of a volt."""
    return f"{low:.1f} to {high:.1f} V".replace("-0.0", "0.0")


def milliamps(low: float, high: float) -> str:
    """Limits of a current, to a tenth of a milliampere."""
    return f"{low * 1e3:.1f} to {high * 1e3:.1f} mA"


def capital(text: str) -> str:
    """A text with a capital letter in front."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """A clause as a sentence."""
    return capital(text) + ("" if text.endswith((".", "!", "?")) else ".")
