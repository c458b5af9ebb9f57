"""Where pots stand: below what feeds them, beside it, or between two branches."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..netlist import Part, Pot
from .flow import WIPER_INDEX, PotUse, Step, is_node
from .plan import Place, Row, Run, Trunk

if TYPE_CHECKING:
    from .planner import Planner


class Pots:
    """Places pots with what follows from them.

    Parameters
    ----------
    planner : Planner
        Of all else.
    """

    def __init__(self, planner: Planner) -> None:
        self._planner = planner
        self._component = planner.component
        self._plan = planner.plan
        self._done = planner.done
        self._placed = planner.placed
        self._kept: dict[str, int] = {}  # columns kept for what stands between two nodes
        self._kept_to: dict[str, int] = {}  # and the last of those kept for what hangs on a pot

    def _is_owned(self, node: str, pot: Pot) -> bool:
        """Whether a node is to be drawn as what follows a pot."""
        step = self._component.tree.get(node)
        return node not in self._placed and step is not None and step.part is pot

    def below(self, run: Run, least: int) -> int:
        """The pots that a node feeds: those that lead to grids one below the other."""
        here = (part for part, _ in self._planner.at(run.node) if isinstance(part, Pot))
        uses = dict.fromkeys(self._component.pots[pot.name] for pot in here)
        own = [u for u in uses if u.owner == run.node and u.kind == "end"]
        stacked = [u for u in own if u.pot.wiper in self._component.flow
                   and self._is_owned(u.pot.wiper, u.pot)]  # fmt: skip
        if len(stacked) > 1:
            least = max(least, self._stack(stacked, run, least))
        for use in own:
            if use.pot.name not in self._done:
                least = max(least, self._pot(use, run, self._pot_column(use, run, least)))
        return least

    def _pot_column(self, use: PotUse, run: Run, least: int) -> int:
        """Take a column for a pot; parts from its end to its foot stand in front of it."""
        beside: dict[int, list[str]] = {use.top: [], use.bottom: []}
        for end, names in beside.items():
            node = use.pot.terminals[end][1]
            here = self._planner.at(run.node)
            names += [part.name for part, near in here if self._is_beside(part, near, node)]
        for k in range(max(map(len, beside.values()))):
            least = self._planner.column_below(run, least)
            for names in beside.values():
                self._kept.update((name, least) for name in names[k : k + 1])
        return self._planner.column_below(run, least)

    def _is_beside(self, part: Part, near: int, bottom: str) -> bool:
        ends = part.terminals
        return (not isinstance(part, Pot) and len(ends) == 2 and ends[1 - near][1] == bottom
                and is_node(bottom) and bottom != ends[near][1]
                and part.name not in self._kept)  # fmt: skip

    def _stack(self, uses: list[PotUse], run: Run, least: int) -> int:
        """Pots of one node in one column, each with the row of its wiper to the right."""
        trunk = self._planner.column_below(run, least)
        bottoms = [u.pot.terminals[u.bottom][1] for u in uses]
        shared = next((b for b in bottoms if is_node(b) and bottoms.count(b) > 1), None)
        second = None if shared is None else self._planner.column_below(run, run.last)
        column = self._planner.column_below(run, run.last)
        tops = [run]
        row = run.row
        for _ in uses[1:]:
            row = self._plan.row_after(row)
            tops.append(self._plan.run(run.node, row, trunk, column))
        self._plan.trunks.append(Trunk(run.node, trunk, run.row, row))
        last = column
        for use, top in zip(uses, tops, strict=True):
            last = max(last, self._pot(use, top, column))
        if second is not None and shared is not None:
            feet = [r for r in self._plan.runs_of(shared) if r.first == column]
            for foot in feet:
                self._plan.extend(foot, second)
            rows = sorted((foot.row for foot in feet), key=self._plan.order)
            self._plan.trunks.append(Trunk(shared, second, rows[0], rows[-1]))
        return last

    def _pot(self, use: PotUse, run: Run, column: int) -> int:
        """One pot below the row that feeds it."""
        pot, plan = use.pot, self._plan
        bottom = pot.terminals[use.bottom][1]
        has_arm = is_node(pot.wiper) and pot.wiper not in (run.node, bottom)
        arm = plan.row_after(run.row) if has_arm else None
        lower = plan.row_after(arm or run.row) if is_node(bottom) else None
        self._done.add(pot.name)
        angle = 90 if use.top == 0 else 270
        plan.put(Place(pot, column, run.row, lower, is_upright=True, angle=angle,
                       mirror=angle == 270, arm=arm))  # fmt: skip
        last = column
        if arm is not None:
            last = max(last, self._follow(pot, pot.wiper, arm, column, attached=True, walled=True))
        if lower is not None:
            attached = bottom in self._component.flow
            last = max(last, self._follow(pot, bottom, lower, column, attached=attached))
            self._put_beside(run, bottom, run.row, lower)
        return last

    def _follow(self, pot: Pot, node: str, row: Row, column: int, *, attached: bool,
                walled: bool = False) -> int:  # fmt: skip
        """The node at a terminal of a pot: drawn from here, or a stub where it is drawn already."""
        if self._is_owned(node, pot) and not self._waits(pot, node):
            return self._planner.place(node, row, column, attached=attached, walled=walled)
        self._plan.run(node, row, column, column).is_walled = walled
        return column

    def _waits(self, pot: Pot, node: str) -> bool:
        """Whether further pots end at a node, so that it is drawn below the last of them."""
        if node == pot.wiper:
            return False
        ends = [u.pot for u in self._component.pots.values()
                if u.kind == "end" and u.pot.terminals[u.bottom][1] == node]  # fmt: skip
        more = [pot for pot in ends if pot.name not in self._done]
        if more and not any(self._is_owned(u.wiper, u) for u in more):
            return False
        if more:
            self._component.tree[node] = Step(more[-1], WIPER_INDEX, self._bottom_of(more[-1]))
        return bool(more)

    def _bottom_of(self, pot: Pot) -> int:
        return self._component.pots[pot.name].bottom

    def _put_beside(self, run: Run, node: str, upper: Row, lower: Row) -> None:
        """Put the parts to another terminal of a pot for which columns were kept in front of it."""
        row = lower if upper is run.row else upper
        far = next(r for r in self._plan.runs if r.row is row and r.node == node)
        for part, near in self._planner.at(run.node):
            if part.name in self._kept and part.terminals[1 - near][1] == node:
                column = self._kept[part.name]
                top = near if upper is run.row else 1 - near
                self._done.add(part.name)
                self._plan.put(Place(part, column, upper, lower, is_upright=True,
                                    angle=90 if top == 0 else 270))  # fmt: skip
                self._plan.extend(far, column)

    def beside(self, use: PotUse, run: Run) -> int:
        """A pot whose wiper is fed from the left: one row above, and one below."""
        column = self._pot_column(use, run, run.last)
        pot, plan = use.pot, self._plan
        self._done.add(pot.name)
        upper = plan.row_before(run.row)
        has_lower = is_node(pot.terminals[use.bottom][1])
        lower = plan.row_after(run.row) if has_lower else None
        place = plan.put(Place(pot, column, upper, lower, is_upright=True, angle=90, mirror=True,
                               arm=run.row))  # fmt: skip
        plan.wall(run, column, place)
        last = column
        for end, row in ((use.top, upper), (use.bottom, lower)):
            node = pot.terminals[end][1]
            if row is not None and is_node(node):
                last = max(last, self._follow(pot, node, row, column, attached=True))
                self._put_beside(run, node, min(run.row, row, key=plan.order),
                                 max(run.row, row, key=plan.order))  # fmt: skip
        return last

    # ------------------------------------------------- pots between two branches

    def keep(self, run: Run) -> int:
        """Keep columns for pots from this node to one that is drawn later."""
        last = run.first - 1
        for part, _ in self._planner.at(run.node):
            use = self._component.pots.get(part.name)
            if use is None or use.kind != "balance" or part.name in self._kept:
                continue
            others = {use.pot.top, use.pot.bottom} - {run.node} - self._placed
            if others & self._component.flow:
                self._kept[part.name] = self._planner.column_below(run, last)
                last = run.last
                for _ in range(self._width(use.pot.wiper, {part.name})):
                    last = self._plan.take(run)
                self._kept_to[part.name] = last
        return last

    def _width(self, node: str, seen: set[str]) -> int:
        """Columns that what hangs on a node takes. [count]"""
        if not is_node(node) or node in self._component.flow:
            return 0
        count = 0
        for part, _ in self._planner.at(node):
            if part.name not in seen:
                seen.add(part.name)
                ends = dict.fromkeys(end for _, end in part.terminals if end != node)
                count += max(1, sum(self._width(end, seen) for end in ends))
        return count

    def join(self, run: Run) -> None:
        """Put the pots that lie between this node and one that was drawn before."""
        for part, _ in self._planner.at(run.node):
            use = self._component.pots.get(part.name)
            if part.name not in self._kept or use is None or part.name in self._done:
                continue
            column = self._kept[part.name]
            other = use.pot.bottom if run.node == use.pot.top else use.pot.top
            fit = [r for r in self._plan.runs_of(other) if r.covers(column)]
            end = self._kept_to[part.name]
            if fit and fit[0].row is not run.row and self._plan.can_extend(run, end):
                self._between(use, run, fit[0], column)
                self._plan.extend(run, end)

    def _between(self, use: PotUse, run: Run, other: Run, column: int) -> None:
        plan, pot = self._plan, use.pot
        self._done.add(pot.name)
        plan.extend(run, column)
        upper, lower = sorted((run, other), key=lambda r: plan.order(r.row))
        wiper = pot.wiper
        has_arm = is_node(wiper) and wiper not in (pot.top, pot.bottom)
        arm = plan.row_before(lower.row) if has_arm else None
        angle = 90 if pot.top == upper.node else 270
        plan.put(Place(pot, column, upper.row, lower.row, is_upright=True, angle=angle,
                       mirror=angle == 270, arm=arm))  # fmt: skip
        if arm is not None:
            self._follow(pot, wiper, arm, column, attached=True, walled=True)
