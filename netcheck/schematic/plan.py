"""A plan of a drawing: which part stands in which row and column, before anything is measured.

Rows are lines along which nodes run from left to right; they are ordered from top to bottom, and
new ones can be put between. Columns are numbered from the left.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ..netlist import Part


@dataclass(eq=False, slots=True)
class Row:
    """A line from left to right.

    Parameters
    ----------
    y : float
        Where it lies, once that is known. [unit]
    """

    y: float = 0.0


@dataclass(eq=False, slots=True)
class Run:
    """A stretch of a row that belongs to a node.

    Parameters
    ----------
    node : str
        The node.
    row : Row
        The row.
    first, last : int
        Its columns; it has none yet if `last` is smaller than `first`. [count]
    label : int or None
        The column above which the node's label stands, if that was settled. [count]
    is_walled : bool
        Whether it begins at a symbol, so that it cannot be drawn further to the left.
    """

    node: str
    row: Row
    first: int
    last: int
    label: int | None = None
    is_walled: bool = False

    def covers(self, column: int) -> bool:
        """Whether it passes through a column."""
        return self.first <= column <= self.last


@dataclass(eq=False, slots=True)
class Place:
    """A part's place.

    Parameters
    ----------
    part : Part
        The part.
    column : int
        Its column. [count]
    row : Row
        The row it stands in, or that its upper end is joined to.
    lower : Row or None
        Of an upright part the row that its lower end is joined to; None if that is grounded or
        free.
    is_upright : bool
        Whether its ends are above and below.
    angle : int
        As in `drawing.Symbol`. [degree]
    mirror : bool
        As in `drawing.Symbol`.
    arm : Row or None
        Of a pot the row that its wiper is joined to, where it has one of its own.
    onto : Row or None
        Of a part beside another one the row of that, which both ends are joined to.
    below : Row or None
        A row that crosses the way of its upper lead: its body stands below.
    root_rows : tuple of Row or None
        Of a source at the left edge the row of each terminal, None for a grounded one.
    """

    part: Part
    column: int
    row: Row
    lower: Row | None = None
    is_upright: bool = False
    angle: int = 0
    mirror: bool = False
    arm: Row | None = None
    onto: Row | None = None
    below: Row | None = None
    root_rows: tuple[Row | None, ...] = ()


@dataclass(eq=False, slots=True)
class Arrow:
    """Where a node goes on elsewhere: an arrow in a row and column, pointing an `angle`."""

    node: str
    row: Row
    column: int
    angle: int


@dataclass(eq=False, slots=True)
class Trunk:
    """A wire from one row to another.

    Parameters
    ----------
    node : str
        Its node.
    column : int
        The column it has for itself, or in front of which it lies. [count]
    upper, lower : Row
        The rows.
    after : Place or None
        The part in one of the rows behind which it lies, in front of its column.
    """

    node: str
    column: int
    upper: Row
    lower: Row
    after: Place | None = None


@dataclass(eq=False)
class Plan:
    """All rows, and what stands in them."""

    rows: list[Row] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    arrows: list[Arrow] = field(default_factory=list)
    trunks: list[Trunk] = field(default_factory=list)
    _cells: dict[tuple[Row, int], object] = field(default_factory=dict)
    _held: set[tuple[Row, int]] = field(default_factory=set)

    # ----------------------------------------------------------------------- rows

    def row_after(self, row: Row | None) -> Row:
        """A new row below another, or below all."""
        new = Row()
        self.rows.insert(len(self.rows) if row is None else self.rows.index(row) + 1, new)
        return new

    def row_before(self, row: Row) -> Row:
        """A new row above another."""
        new = Row()
        self.rows.insert(self.rows.index(row), new)
        return new

    def order(self, row: Row) -> int:
        """Place of a row from the top. [count]"""
        return self.rows.index(row)

    # ----------------------------------------------------------------------- runs

    def run(self, node: str, row: Row, first: int, last: int | None = None) -> Run:
        """Begin a run; without columns at first if no last one is given."""
        run = Run(node, row, first, first - 1)
        self.runs.append(run)
        if last is not None:
            self.extend(run, last)
        return run

    def runs_of(self, node: str) -> list[Run]:
        """The runs of a node, in the order in which they were begun."""
        return [run for run in self.runs if run.node == node]

    def can_extend(self, run: Run, column: int) -> bool:
        """Whether a run can be drawn as far as a column, to either side."""
        if column < run.first:
            way = range(column, run.first)
            if run.is_walled:
                return False
        else:
            way = range(run.last + 1, column + 1)
        return all((run.row, k) not in self._cells for k in way)

    def extend(self, run: Run, column: int) -> None:
        """Draw a run as far as a column."""
        empty = run.last < run.first
        first = column if empty else min(run.first, column)
        last = column if empty else max(run.last, column)
        for k in range(min(first, run.first), last + 1):
            self._cells.setdefault((run.row, k), run.node)
        run.first, run.last = min(first, run.first), last

    def wall(self, run: Run, column: int, thing: object) -> None:
        """Let a symbol end a run at a column, so that it cannot be drawn any further."""
        self._cells[run.row, column] = thing
        run.last = min(run.last, column - 1)

    def take(self, run: Run, least: int = 0) -> int:
        """The next column of a run, at least a given one; the run is drawn as far as that."""
        column = max(run.last + 1, least, run.first)
        self.extend(run, column)
        return column

    def hold(self, row: Row, column: int) -> None:
        """Keep the room above a row free in a column, for a label."""
        self._held.add((row, column))

    def is_held(self, row: Row, column: int) -> bool:
        """Whether the room above a row is kept free in a column."""
        return (row, column) in self._held

    # --------------------------------------------------------------------- places

    def put(self, place: Place) -> Place:
        """Add a part."""
        self.places.append(place)
        if not place.is_upright and not place.root_rows:
            self._cells[(place.row, place.column)] = place
        return place

    def put_arrow(self, arrow: Arrow) -> None:
        """Add an arrow."""
        self.arrows.append(arrow)
        if arrow.angle != 90:
            self._cells[(arrow.row, arrow.column)] = arrow

    def uprights(self, column: int) -> Iterator[tuple[int, float]]:
        """What stands upright in a column, as (order of its upper row, of its lower end).

        An end that is grounded or an arrow lies half a row below.
        """
        for place in self.places:
            if place.column == column and place.root_rows:
                orders = [self.order(row) for row in place.root_rows if row is not None]
                is_grounded = place.root_rows[-1 if place.angle == 90 else 0] is None
                yield min(orders), max(orders) + (0.5 if is_grounded else 0.0)
            if place.column == column and place.is_upright:
                end = self.order(place.arm or place.row) + 0.5
                yield self.order(place.row), (
                    end if place.lower is None else self.order(place.lower))  # fmt: skip
        for arrow in self.arrows:
            if arrow.column == column and arrow.angle == 90:
                yield self.order(arrow.row), self.order(arrow.row) + 0.5
        for trunk in self.trunks:
            if trunk.column == column and trunk.after is None:
                yield self.order(trunk.upper), self.order(trunk.lower)

    def is_clear(self, column: int, upper: Row, lower: Row | None) -> bool:
        """Whether an upright part can stand in a column between two rows, or below one."""
        top = self.order(upper)
        end = top + 0.5 if lower is None else self.order(lower)
        if lower is not None and self.is_held(lower, column):
            return False
        if lower is not None and any(isinstance(self._cells.get((row, column)), Place | Arrow)
                                     for row in self.rows[top + 1 : int(end)]):  # fmt: skip
            return False
        return not any(a < end and top < b for a, b in self.uprights(column))

    def crossed(self, column: int, upper: Row, lower: Row) -> list[Row]:
        """The rows between two that are in use in a column."""
        between = self.rows[self.order(upper) + 1 : self.order(lower)]
        return [row for row in between if (row, column) in self._cells]

    def is_used(self, row: Row, column: int) -> bool:
        """Whether anything lies in a row at a column."""
        return (row, column) in self._cells
