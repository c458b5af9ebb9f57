"""Wires on a grid: straight ones that are planned, and ways found for the rest.

Wires of different nodes may cross at a right angle, and come no nearer to each other otherwise.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from .drawing import Box, Dot, Pin, Wire
from .symbols import GRID

Spot = tuple[int, int]
"""A crossing of the grid, in steps of it."""

_Leg = tuple[Spot, int]
"""A spot, and the direction in which it is reached."""

WAYS: tuple[Spot, ...] = ((1, 0), (0, 1), (-1, 0), (0, -1))
"""Right, down, left, up; the opposite of each is two further on."""

_BEND, _CROSS, _BESIDE = 6, 5, 2  # what a bend, a crossing, and a step beside a wire cost more
_MARGIN = 4  # steps around everything in which a wire may run
_STEPS = 30_000  # that are looked at in search of ways: a few seconds
_CLEAR = 1.5  # from a wire to a symbol or a text [unit]


class Unroutable(Exception):
    """There is no way for some wire: more room is needed."""


def spot(x: float, y: float) -> Spot:
    """The crossing of the grid at a point that lies on one. [unit]"""
    return round(x / GRID), round(y / GRID)


@dataclass
class Router:
    """What lies on the grid.

    Parameters
    ----------
    taken : dict
        For each spot, for each net there, the ways that its wires leave it.
    pins : dict
        For each spot the pins there, each with its net.
    """

    taken: dict[Spot, dict[str, set[int]]] = field(default_factory=dict)
    pins: dict[Spot, list[tuple[str, Pin]]] = field(default_factory=dict)
    _shut: set[tuple[Spot, int]] = field(default_factory=set)
    _bounds: tuple[int, int, int, int] = (0, 0, 0, 0)
    _patience: int = _STEPS

    # ------------------------------------------------------------------- obstacles

    def block(self, box: Box, clear: float = _CLEAR) -> None:
        """No wire may pass through a box. [unit]"""
        box = box.grown(clear)
        left, right = int(box.left // GRID), int(-(-box.right // GRID))
        top, bottom = int(box.top // GRID), int(-(-box.bottom // GRID))
        for i in range(left, right + 1):
            for j in range(top, bottom + 1):
                if box.top < j * GRID < box.bottom and i < right:
                    self._shut_edge((i, j), 0)
                if box.left < i * GRID < box.right and j < bottom:
                    self._shut_edge((i, j), 1)
        a, b, c, d = self._bounds
        self._bounds = (min(a, left), min(b, top), max(c, right), max(d, bottom))

    def _shut_edge(self, at: Spot, way: int) -> None:
        dx, dy = WAYS[way]
        self._shut.add((at, way))
        self._shut.add(((at[0] + dx, at[1] + dy), way + 2))

    def add_pin(self, net: str, pin: Pin) -> None:
        """A terminal that wires of its own net may end at."""
        self.pins.setdefault(spot(pin.x, pin.y), []).append((net, pin))

    # ----------------------------------------------------------------------- wires

    def lay(self, net: str, x1: float, y1: float, x2: float, y2: float) -> bool:
        """Lay a straight wire if nothing is in its way. [unit]"""
        (a, b), (c, d) = spot(x1, y1), spot(x2, y2)
        way = 0 if b == d else 1
        length = abs(c - a) + abs(d - b)
        start = (min(a, c), min(b, d))
        path = [(start[0] + k * WAYS[way][0], start[1] + k * WAYS[way][1])
                for k in range(length + 1)]  # fmt: skip
        for k, at in enumerate(path):
            if k < length and (at, way) in self._shut:
                return False
            is_end = k in (0, length)
            if not self._may_pass(net, at, None if is_end else way, None if is_end else way):
                return False
        self._mark(net, path)
        return True

    def _mark(self, net: str, path: list[Spot]) -> None:
        for one, two in itertools.pairwise(path):
            way = WAYS.index((two[0] - one[0], two[1] - one[1]))
            self.taken.setdefault(one, {}).setdefault(net, set()).add(way)
            self.taken.setdefault(two, {}).setdefault(net, set()).add((way + 2) % 4)

    def _may_pass(self, net: str, at: Spot, into: int | None, out: int | None) -> bool:
        """Whether a wire may come to a spot one way and leave it another (None: end there)."""
        if any(other != net for other, _ in self.pins.get(at, ())):
            return False
        here = self.taken.get(at, {})
        others = [ways for other, ways in here.items() if other != net]
        if not others:
            return True
        across = {(into + 1) % 4, (into + 3) % 4} if into is not None else set()
        return into is not None and into == out and len(others) == 1 and others[0] == across

    def reach(self, net: str, pin: Pin, x: float, y: float, box: Box) -> bool:
        """Lay a wire from a lone terminal to a point, unless its way leads through a box. [unit]"""
        before = set(self._shut)
        self.block(box)
        path = self._way(net, {spot(pin.x, pin.y)}, {spot(x, y)})
        if path is None:
            self._shut = before
            return False
        self._mark(net, path)
        return True

    # ------------------------------------------------------------------- connecting

    def connect(self, net: str) -> None:
        """Join all pins and wires of a net.

        Raises
        ------
        Unroutable
            If there is no way.
        """
        pieces = self._pieces(net)
        while len(pieces) > 1:
            path = self._way(net, pieces[0], set().union(*pieces[1:]))
            if path is None:
                raise Unroutable(net)
            self._mark(net, path)
            pieces = self._pieces(net)

    def spots_of(self, net: str) -> set[Spot]:
        """All spots of a net."""
        found = {at for at, here in self.taken.items() if net in here}
        found |= {at for at, pins in self.pins.items() if any(n == net for n, _ in pins)}
        return found

    def _pieces(self, net: str) -> list[set[Spot]]:
        """The spots of a net in groups that are joined, in reading order."""
        left = self.spots_of(net)
        groups = []
        while left:
            group = {min(left)}
            queue = list(group)
            while queue:
                at = queue.pop()
                for way in self.taken.get(at, {}).get(net, ()):
                    far = (at[0] + WAYS[way][0], at[1] + WAYS[way][1])
                    if far not in group:
                        group.add(far)
                        queue.append(far)
            left -= group
            groups.append(group)
        return groups

    def _way(self, net: str, sources: set[Spot], targets: set[Spot]) -> list[Spot] | None:
        """The cheapest way from one group of spots to another, None if there is none."""
        goals = {at for at in targets if self._may_pass(net, at, None, None)}
        starts = [at for at in sorted(sources) if self._may_pass(net, at, None, None)]
        if not goals:
            return None
        box = (min(x for x, _ in goals), min(y for _, y in goals),
               max(x for x, _ in goals), max(y for _, y in goals))  # fmt: skip
        best: dict[_Leg, int] = {(at, way): 0 for at in starts for way in range(4)}
        came: dict[_Leg, _Leg] = {}
        heap = [(_least(at, box), 0, at, way) for at, way in best]
        heapq.heapify(heap)
        tolls: dict[Spot, int] = {}
        while heap and self._patience > 0:
            _, cost, at, way = heapq.heappop(heap)
            if cost > best[at, way]:
                continue
            self._patience -= 1
            if at in goals:
                return _traced(came, (at, way))
            for far, out, step in self._steps(net, (at, way), cost == 0, tolls):
                total = cost + step
                if total < best.get((far, out), 1 << 30):
                    best[far, out] = total
                    came[far, out] = (at, way)
                    heapq.heappush(heap, (total + _least(far, box), total, far, out))
        return None

    def _steps(self, net: str, leg: _Leg, is_start: bool, tolls: dict[Spot, int]
               ) -> Iterator[tuple[Spot, int, int]]:  # fmt: skip
        """Where a wire may go on to, in which direction, and what that costs."""
        at, way = leg
        for out in range(4):
            far = self._step(net, at, way, out, is_start)
            if far is None:
                continue
            if far not in tolls:
                tolls[far] = self._toll(net, far)
            yield far, out, 1 + (0 if out == way or is_start else _BEND) + tolls[far]

    def _step(self, net: str, at: Spot, way: int, out: int, is_start: bool) -> Spot | None:
        """The next spot in a direction, if a wire may go there."""
        if not is_start and (out == (way + 2) % 4 or not self._may_pass(net, at, way, out)):
            return None
        if (at, out) in self._shut or out in self.taken.get(at, {}).get(net, ()):
            return None
        far = (at[0] + WAYS[out][0], at[1] + WAYS[out][1])
        left, top, right, bottom = self._bounds
        inside = (left - _MARGIN <= far[0] <= right + _MARGIN
                  and top - _MARGIN <= far[1] <= bottom + _MARGIN)  # fmt: skip
        ends = self._may_pass(net, far, None, None)
        if not inside or not (ends or self._may_pass(net, far, out, out)):
            return None
        here = self.taken.get(at, {})
        shared = any(out in ways for other, ways in here.items() if other != net)
        return None if shared else far

    def _toll(self, net: str, at: Spot) -> int:
        """What a spot costs: a crossing, or a wire of another node beside it."""
        if self._is_others(net, at):
            return _CROSS
        around = ((at[0] + dx, at[1] + dy) for dx, dy in WAYS)
        return _BESIDE if any(self._is_others(net, spot_) for spot_ in around) else 0

    def _is_others(self, net: str, at: Spot) -> bool:
        """Whether a wire or terminal of another net is at a spot."""
        here = self.taken.get(at)
        if here and (len(here) > 1 or net not in here):
            return True
        return any(other != net for other, _ in self.pins.get(at, ()))

    # --------------------------------------------------------------------- outcome

    def wires(self, net: str, node: str) -> Iterator[Wire]:
        """The wires of a net, each as long as it goes straight on."""
        at_way = {(at, way) for at, here in self.taken.items() for way in here.get(net, ())}
        for way in (0, 1):
            dx, dy = WAYS[way]
            along = sorted(at for at, w in at_way if w == way)
            for at in along:
                if ((at[0] - dx, at[1] - dy), way) in at_way:
                    continue
                end = at
                while (end, way) in at_way:
                    end = (end[0] + dx, end[1] + dy)
                yield Wire(node, *(float(GRID * value) for value in (*at, *end)))

    def dots(self, net: str, node: str) -> Iterator[Dot]:
        """Where three or more wires and leads of a net meet."""
        for at in sorted(self.spots_of(net)):
            ways = len(self.taken.get(at, {}).get(net, ()))
            leads = sum(n == net for n, _ in self.pins.get(at, ()))
            if ways + leads > 2:
                yield Dot(node, float(GRID * at[0]), float(GRID * at[1]))


def _least(at: Spot, box: tuple[int, int, int, int]) -> int:
    """The least number of steps to a box of spots."""
    left, top, right, bottom = box
    return max(left - at[0], 0, at[0] - right) + max(top - at[1], 0, at[1] - bottom)


def _traced(came: dict[_Leg, _Leg], end: _Leg) -> list[Spot]:
    path = [end[0]]
    while end in came:
        end = came[end]
        path.append(end[0])
    return path[::-1]


def nets_in_order(sizes: Iterable[tuple[str, float]]) -> list[str]:
    """Nets in the order in which they are joined: short ones first, which have least choice."""
    return [net for net, _ in sorted(sizes, key=lambda pair: (pair[1], pair[0]))]
