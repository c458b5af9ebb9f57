"""What is written into a drawing beside the names and values of its parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace


@dataclass(frozen=True, slots=True)
class Mark:
    """How a part is marked.

    Parameters
    ----------
    numbers : tuple of int
        Of the legend's entries that are about it. [count]
    chance : str
        How probable a fault of it is, such as "99 %"; empty if that was not asked.
    """

    numbers: tuple[int, ...]
    chance: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the legend.

    Parameters
    ----------
    text : str
        One sentence or more.
    number : int or None
        The number that marked parts show; None for what is about no part.
    is_remark: bool
        Whether it is a remark on the drawing as such, in smaller letters.
    """

    text: str
    number: int | None = None
    is_remark: bool = False


@dataclass(frozen=True, slots=True)
class Notes:
    """What is written into a drawing.

    Parameters
    ----------
    volts : mapping of node to str
        What each node should have, such as "-40.8 to -30.2 V"; in lines, if it is long.
    readings : mapping of node to sequence of str
        What was read there; each may be of more lines than one.
    part_readings : mapping of part name to sequence of str
        What was read at a part.
    marks : mapping of part name to Mark
        The parts that are marked.
    legend : sequence of Entry
        What stands below the drawing.
    """

    volts: Mapping[str, str] = field(default_factory=dict)
    readings: Mapping[str, Sequence[str]] = field(default_factory=dict)
    part_readings: Mapping[str, Sequence[str]] = field(default_factory=dict)
    marks: Mapping[str, Mark] = field(default_factory=dict)
    legend: Sequence[Entry] = ()

    def folded(self) -> Notes:
        """The same with ranges in two lines, for a drawing that is too wide."""
        volts = {node: text.replace(" to ", " to\n") for node, text in self.volts.items()}
        return replace(self, volts=volts)


NOTHING = Notes()
"""Names and values alone."""
