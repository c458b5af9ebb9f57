"""Parts that join two nodes which are both drawn already: beside, between or above."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ..netlist import Part, Pot, Valve
from .flow import Step, is_node
from .plan import Place, Plan, Row, Run, Trunk

_MERGE = 2  # cost of a part in a row whose far end is joined to another row
_ROW, _CROSSING = 3, 8  # cost of a row that lies between, and of one that is crossed
_BACK = 2  # cost of drawing a run further to the left


class _Spot(NamedTuple):
    """A place that would do, with what it costs; the upper run first if it is upright."""

    cost: float
    column: int
    first: Run
    second: Run
    is_upright: bool


class Bridges:
    """Places parts whose ends are both drawn.

    Parameters
    ----------
    plan : Plan
        The plan.
    placed : set of str
        The nodes that are drawn.
    done : set of str
        The parts that are.
    """

    def __init__(self, plan: Plan, placed: set[str], done: set[str]) -> None:
        self._plan = plan
        self._placed = placed
        self._done = done

    def join(self, run: Run, parts: Iterable[Part], tree: Iterable[Step], *, is_last: bool
             ) -> None:  # fmt: skip
        """Place the parts that lead from a node to others that are drawn already.

        Parameters
        ----------
        run : Run
            Of the node.
        parts : iterable of Part
            The parts at it that have no place yet.
        tree : iterable of Step
            The steps by which nodes are drawn.
        is_last : bool
            Whether all else that stands at the node has its place, so that a part may end its
            row.
        """
        used = {step.part.name for step in tree if not isinstance(step.part, Pot)}
        for part in parts:
            ends = [node for _, node in part.terminals]
            if len(ends) != 2 or isinstance(part, Valve) or part.name in self._done:
                continue
            other = ends[1] if ends[0] == run.node else ends[0]
            if other not in self._placed or not is_node(other) or other == run.node:
                continue
            if part.name not in used or self._has_own_place(other, run.node):
                self.put(part, other, run.node, is_last=is_last)

    def _has_own_place(self, a: str, b: str) -> bool:
        return bool(self._plan.runs_of(a) and self._plan.runs_of(b))

    def put(self, part: Part, a: str, b: str, *, is_last: bool = True) -> None:
        """Place a part between two nodes that are drawn.

        Parameters
        ----------
        part : Part
            A part of two terminals.
        a, b : str
            The nodes; `b` was drawn last.
        is_last : bool
            As for `join`; without it a part that would end the row of `b` is left for later.
        """
        twin = self._twin(part)
        if twin is not None:
            self._done.add(part.name)
            row = self._plan.row_after(twin.row)
            self._plan.put(Place(part, twin.column, row, angle=self._angle(part, twin),
                                 onto=twin.onto or twin.row))  # fmt: skip
            return
        spots = [spot for one in self._plan.runs_of(a) for two in self._plan.runs_of(b)
                 for spot in (*self._between(one, two), *self._merging(one, two),
                              *self._merging(two, one))]  # fmt: skip
        best = min(spots, key=lambda s: (s.cost, s.column), default=None)
        if not is_last and (best is None or (not best.is_upright and best.first.node == b)):
            return
        self._done.add(part.name)
        if best is None:
            self._put_above(part, a, b)
        else:
            self._put_at(part, best)

    def _twin(self, part: Part) -> Place | None:
        """A part that lies in a row between the same two nodes."""
        ends = {node for _, node in part.terminals}
        for place in self._plan.places:
            other = place.part
            if (not place.is_upright and not place.root_rows and len(other.terminals) == 2
                    and {node for _, node in other.terminals} == ends):  # fmt: skip
                return place
        return None

    def _angle(self, part: Part, twin: Place) -> int:
        """The angle that brings the ends of a part to the same sides as those of its twin."""
        same = part.terminals[0][1] == twin.part.terminals[0][1]
        return twin.angle if same else (twin.angle + 180) % 360

    def _between(self, one: Run, two: Run) -> Iterator[_Spot]:
        """Columns in which a part can stand upright between two runs."""
        plan = self._plan
        if one.row is two.row:
            return
        upper, lower = sorted((one, two), key=lambda r: plan.order(r.row))
        start = min(one.first, two.first)
        end = max(one.last, two.last, one.first, two.first) + 2
        for column in range(start, end):
            if not all(r.covers(column) or plan.can_extend(r, column) for r in (one, two)):
                continue
            if not plan.is_clear(column, upper.row, lower.row):
                continue
            cost = sum(self._stretch(r, column) for r in (one, two))
            cost += _ROW * (plan.order(lower.row) - plan.order(upper.row) - 1) / 4
            cost += _CROSSING * len(plan.crossed(column, upper.row, lower.row))
            yield _Spot(cost, column, upper, lower, True)

    def _stretch(self, run: Run, column: int) -> float:
        """What it costs to draw a run as far as a column."""
        if run.covers(column) or run.last < run.first:
            return 0.0
        return float(column - run.last if column > run.last else _BACK * (run.first - column))

    def _merging(self, one: Run, two: Run) -> Iterator[_Spot]:
        """A place in the row of one run, in front of another run further to the right."""
        plan = self._plan
        column = two.first - 1
        if one.row is two.row or column <= one.last or one.last < one.first:
            return
        if all(not plan.is_used(one.row, k) for k in range(one.last + 1, column + 1)):
            yield _Spot(_MERGE + (column - one.last - 1), column, one, two, False)

    def _put_at(self, part: Part, spot: _Spot) -> None:
        near = 0 if part.terminals[0][1] == spot.first.node else 1
        plan = self._plan
        if spot.is_upright:
            for run in (spot.first, spot.second):
                plan.extend(run, spot.column)
            plan.put(Place(part, spot.column, spot.first.row, spot.second.row, is_upright=True,
                           angle=90 if near == 0 else 270))  # fmt: skip
            return
        plan.extend(spot.first, spot.column - 1)
        place = plan.put(Place(part, spot.column, spot.first.row, angle=0 if near == 0 else 180))
        upper, lower = sorted((spot.first.row, spot.second.row), key=plan.order)
        plan.trunks.append(Trunk(spot.second.node, spot.second.first, upper, lower, place))

    def _put_above(self, part: Part, a: str, b: str) -> None:
        """Place a part in a row of its own above both of its nodes."""
        one, two = self._plan.runs_of(a)[0], self._plan.runs_of(b)[0]
        left, right = sorted((one, two), key=lambda r: r.first)
        highest: Row = min((one.row, two.row), key=self._plan.order)
        row = self._plan.row_before(highest)
        column = max(left.last, right.first, 0)
        order = self._plan.order(row)
        while any(a < order < b for a, b in self._plan.uprights(column)):
            column += 1
        near = 0 if part.terminals[0][1] == left.node else 1
        self._plan.put(Place(part, column, row, angle=0 if near == 0 else 180))
