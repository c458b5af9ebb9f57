"""Planning one piece of a section: from its source to the right, and down to ground."""

from __future__ import annotations

import functools
from collections.abc import Iterator

from ..netlist import GROUND, Part, Pot, Valve
from .bridges import Bridges
from .flow import WIPER_INDEX, Component, Step
from .plan import Arrow, Place, Plan, Row, Run, Trunk
from .pots import Pots

_FAR = 50  # columns that are looked at for room below a row


class Planner:
    """Plans one component.

    Parameters
    ----------
    component : Component
        The parts.
    plan : Plan
        Where they are put, below what is in it already.
    """

    def __init__(self, component: Component, plan: Plan) -> None:
        self.component = component
        self.plan = plan
        self.done: set[str] = set()
        self.placed: set[str] = set()
        self.bridges = Bridges(plan, self.placed, self.done)
        self._pots = Pots(self)

    # -------------------------------------------------------------- what is at a node

    @functools.cached_property
    def _at(self) -> dict[str, list[tuple[Part, int]]]:
        """The terminals at each node, but those of sources at the left edge."""
        found: dict[str, list[tuple[Part, int]]] = {}
        for part in self.component.parts:
            if part not in self.component.roots:
                for index, (_, node) in enumerate(part.terminals):
                    found.setdefault(node, []).append((part, index))
        return found

    def at(self, node: str) -> list[tuple[Part, int]]:
        """The terminals at a node of parts that are not placed yet."""
        return [(p, k) for p, k in self._at.get(node, []) if p.name not in self.done]

    @functools.cached_property
    def _kids(self) -> dict[str, list[Step]]:
        """The steps of the tree from each node, in the order of the file."""
        rank = {part.name: k for k, part in enumerate(self.component.parts)}
        found: dict[str, list[Step]] = {}
        for step in self.component.tree.values():
            found.setdefault(step.start, []).append(step)
        for steps in found.values():
            steps.sort(key=lambda step: (rank[step.part.name], step.far))
        return found

    # --------------------------------------------------------------------- one node

    def place(
        self, node: str, row: Row, first: int, *, attached: bool = False, walled: bool = False,
        until: int | None = None,
    ) -> int:  # fmt: skip
        """Place a node in a row from a column on, and all that follows from it.

        Parameters
        ----------
        node : str
            The node.
        row : Row
            The row.
        first : int
            The first column. [count]
        attached : bool
            Whether something is joined to it in that column already.
        walled : bool
            Whether that is a symbol, so that the row cannot go on to the left.
        until : int, optional
            The last of the columns in which something is joined to it already. [count]

        Returns
        -------
        int
            The last column that was used below or beside it. [count]
        """
        self.placed.add(node)
        last = first if attached and until is None else until
        run = self.plan.run(node, row, first, last)
        run.is_walled = walled
        if node in self.component.flow:
            self._join(run, is_last=False)
            last = self._downward(run, self._pots.keep(run))
            symbol = first if attached and until is None else None
            last = self._pots.below(run, last)
            self._settle_label(run, symbol)
        else:  # what hangs on it stands right below, and nothing is in its way yet
            last = self._pots.below(run, self._downward(run, run.first - 1))
        self._loops(run)
        self._join(run, is_last=True)
        return max(last, run.last, self._onward(run))

    def _join(self, run: Run, *, is_last: bool) -> None:
        """Put what leads from a node to others that are drawn already."""
        parts = [part for part, _ in self.at(run.node)]
        self.bridges.join(run, parts, self.component.tree.values(), is_last=is_last)
        self._pots.join(run)

    def _settle_label(self, run: Run, attached: int | None) -> None:
        """Choose the column above which the label stands; a new one if none is free above."""
        order = self.plan.order(run.row)
        for column in range(run.first, run.last + 1):
            above = any(a < order <= b for a, b in self.plan.uprights(column))
            if column != attached and not above:
                break
        else:
            column = self.plan.take(run)
        run.label = column
        self.plan.hold(run.row, column)

    # ------------------------------------------------------------------ below a node

    def _downward(self, run: Run, least: int) -> int:
        """What hangs on a node: parts to ground, chains, an arrow if it goes on elsewhere."""
        last = least
        for part, near in self.at(run.node):
            if isinstance(part, Pot | Valve) or part.name in self.done:
                continue
            far = 1 - near
            end = part.terminals[far][1]
            step = self.component.tree.get(end)
            if end == GROUND:
                self._hang(part, near, run, self.column_below(run, last), None)
                last = run.last
            elif (step is not None and step.part is part and end not in self.component.flow
                  and end not in self.placed):  # fmt: skip
                column = self.column_below(run, last)
                row = self.plan.row_after(run.row)
                self._hang(part, near, run, column, row)
                last = self.place(end, row, column)
        if run.node in self.component.elsewhere:
            last = self._arrow(run, last)
        if last > run.last and run.node in self.component.flow:
            self.plan.extend(run, last)
        return last

    def _arrow(self, run: Run, last: int) -> int:
        """The arrow of a node that goes on elsewhere: down, or to the right from a source."""
        if run.node in self.component.starts and run.node not in self.component.flow:
            self.plan.extend(run, max(run.first, run.last))
            self.plan.put_arrow(Arrow(run.node, run.row, run.last + 1, 0))
            return run.last + 1
        if run.node in self.component.starts and not self.component.roots:
            return last
        column = self.column_below(run, last)
        self.plan.put_arrow(Arrow(run.node, run.row, column, 90))
        return column

    def column_below(self, run: Run, least: int) -> int:
        """Take the next column of a run with room below its row."""
        column = max(run.last + 1, least + 1 if least >= run.first else run.first)
        for _ in range(_FAR):
            if self.plan.is_clear(column, run.row, None):
                break
            column += 1
        self.plan.extend(run, column)
        return column

    def _hang(self, part: Part, near: int, run: Run, column: int, lower: Row | None) -> None:
        """Put an upright part below a row, its terminal `near` above."""
        self.done.add(part.name)
        self.plan.put(Place(part, column, run.row, lower, is_upright=True,
                            angle=90 if near == 0 else 270))  # fmt: skip

    def _loops(self, run: Run) -> None:
        """Parts with both ends on a node."""
        for part, near in self.at(run.node):
            ends = [node for _, node in part.terminals]
            if near == 0 and len(ends) == 2 and ends[0] == ends[1]:
                column = self.column_below(run, run.last)
                row = self.plan.row_after(run.row)
                self.done.add(part.name)
                self.plan.put(Place(part, column, row, onto=run.row))

    # ---------------------------------------------------------------- right of a node

    def _onward(self, run: Run) -> int:
        """What follows on the way to the grids, and the valves: one row each."""
        kids = list(self._kids_of(run.node))
        if not kids:
            return run.last
        plan = self.plan
        fork = plan.take(run) if len(kids) > 1 else None
        column = max(run.last + 1, run.first)
        rows = [run.row if not plan.is_used(run.row, column) else plan.row_after(run.row)]
        for _ in kids[1:]:
            rows.append(plan.row_after(rows[-1]))
        runs = [run]
        if fork is not None:
            runs += [plan.run(run.node, row, fork, fork) for row in rows[1:]]
            plan.trunks.append(Trunk(run.node, fork, run.row, rows[-1]))
        last = column
        for (part, near), row in zip(kids, rows, strict=True):
            if not isinstance(part, Pot):
                self.done.add(part.name)
                plan.put(Place(part, column, row, angle=0 if near == 0 else 180))
        for (part, near), own in zip(kids, runs, strict=True):
            if isinstance(part, Pot):
                use = self.component.pots[part.name]
                last = max(last, self._pots.beside(use, own))
            elif not isinstance(part, Valve):
                row = rows[runs.index(own)]
                last = max(last, self.place(part.terminals[1 - near][1], row, column + 1))
        return last

    def _kids_of(self, node: str) -> Iterator[tuple[Part, int]]:
        for step in self._kids.get(node, []):
            if (step.part.name not in self.done and not isinstance(step.part, Pot)
                    and step.end not in self.placed):  # fmt: skip
                yield step.part, step.near
        for part, near in self.at(node):
            use = self.component.pots.get(part.name)
            if isinstance(part, Valve) or (
                use is not None and use.kind == "wiper" and near == WIPER_INDEX
            ):
                yield part, near
