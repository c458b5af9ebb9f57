"""What measuring a plan comes to: rows, columns, labels and signs at their places."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..netlist import Winding
from .captions import Line, block_size
from .drawing import Box
from .fit import Fit
from .plan import Place, Plan, Row
from .symbols import GRID, LEAST_STEP, REACH

LEAD = GRID
"""From a row to the terminal of an upright part below it. [unit]"""

SIGN = 20.0
"""Height of the sign for ground, with its lead. [unit]"""

SIDE = 30.0
"""From the axis of a source to a sign for ground beside it. [unit]"""

ARROW_LENGTH = 16.0
"""Length of the arrow of a node that goes on elsewhere. [unit]"""

_ABOVE, _ASIDE = 4.0, 6.0  # from a wire to the label above it, and beside it


@dataclass(eq=False)
class Label:
    """A node's label: above a row in a column, or beside what stands in that column."""

    node: str
    row: Row
    column: int
    lines: list[Line]
    is_above: bool
    dx: float = 0.0
    dy: float = 0.0

    @property
    def box(self) -> Box:
        """The room it takes, from the crossing of its row and column."""
        width, height = block_size(self.lines)
        if self.is_above:
            return Box(-width / 2, -_ABOVE - height, width / 2, -_ABOVE)
        left, middle = self.dx + _ASIDE, self.dy
        return Box(left, middle - height / 2, left + width, middle + height / 2)


@dataclass(eq=False)
class Spaced:
    """A plan with the lengths that it takes.

    Parameters
    ----------
    plan : Plan
        The plan; its rows know where they lie.
    fits : dict of Place to Fit
        Each part with its captions.
    middles : dict of Place to float
        The middle of each symbol from top to bottom. [unit]
    labels : list of Label
        The labels of the nodes.
    sides : dict of Place to list of float
        Where signs for ground stand beside a source. [unit]
    feet : dict
        Where the sign for ground below an upright part or a source begins. [unit]
    x : dict of int to float
        Where each column lies. [unit]
    lanes : dict of int to float
        Where the wires in front of a column lie. [unit]
    """

    plan: Plan
    fits: dict[Place, Fit] = field(default_factory=dict)
    middles: dict[Place, float] = field(default_factory=dict)
    labels: list[Label] = field(default_factory=list)
    sides: dict[Place, list[float]] = field(default_factory=dict)
    feet: dict[Place, float] = field(default_factory=dict)
    x: dict[int, float] = field(default_factory=dict)
    lanes: dict[int, float] = field(default_factory=dict)


def up(value: float) -> float:
    """The next line of the grid at or above a value. [unit]"""
    return GRID * -(-value // GRID)


def last_row(rows: tuple[Row | None, ...]) -> Row:
    """The lowest of the rows of a source that it is not grounded at."""
    return [row for row in rows if row is not None][-1]


def drawn_stops(place: Place) -> list[tuple[float, Row | None]]:
    """Where each terminal of a source lies, from top to bottom, and its row. [unit]"""
    middle, stops = stops_of(place)
    if place.angle == 90:
        return [(middle + s, row) for s, row in zip(stops, place.root_rows, strict=True)]
    return [(middle - s, row) for s, row in zip(stops, place.root_rows, strict=True)][::-1]


def stops_of(place: Place) -> tuple[float, tuple[float, ...]]:
    """The middle of a source and the places of its terminals along it. [unit]"""
    rows = place.root_rows if place.angle == 90 else place.root_rows[::-1]
    step = 2 * REACH if len(rows) == 2 else LEAST_STEP
    y: list[float | None] = [None if row is None else row.y for row in rows]
    known = [k for k, value in enumerate(y) if value is not None]
    filled: list[float] = []
    for k, value in enumerate(y):
        before = [i for i in known if i < k]
        after = [i for i in known if i > k]
        if value is not None:
            filled.append(value)
        elif before and after:
            a, b = before[-1], after[0]
            span = (y[b] or 0.0) - (y[a] or 0.0)
            filled.append(up((y[a] or 0.0) + span * (k - a) / (b - a)))
        elif before:
            filled.append((y[before[-1]] or 0.0) + step * (k - before[-1]))
        else:
            filled.append((y[after[0]] or 0.0) - step * (after[0] - k))
    middle = (filled[0] + filled[-1]) / 2
    if not isinstance(place.part, Winding):
        middle = up(middle)  # its terminals are at a fixed distance
    stops = tuple(value - middle for value in filled)
    # Along the way from the first terminal to the last, which goes up at 270 degrees.
    return middle, stops if place.angle == 90 else tuple(-s for s in reversed(stops))
