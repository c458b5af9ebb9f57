"""From a measured plan to a drawing: symbols and texts at their places, wires between them."""

from __future__ import annotations

import itertools

from ..netlist import GROUND
from .captions import block_texts
from .drawing import Box, Drawing, Frame, Pin, Symbol, Text, collected
from .measured import LEAD, SIDE, SIGN, Spaced
from .plan import Place, Run, Trunk
from .router import Router, Unroutable, nets_in_order
from .symbols import GRID, REACH, arrow, ground

_SIGN = "ground {}"  # a net of each sign for ground; a node's name holds no blank
_HAIR = 1.0
_SEARCH_X, _SEARCH_Y = 8, 10  # steps around a terminal in which room for a sign is looked for


class Assembly:
    """Puts a drawing together.

    Parameters
    ----------
    found : Spaced
        The measured plan.
    """

    def __init__(self, found: Spaced) -> None:
        self.found = found
        self.router = Router()
        self.symbols: list[Symbol] = []
        self.texts: list[Text] = []
        self.frames: list[Frame] = []
        self.signs = 0
        self._straight: list[tuple[str, float, float, float, float]] = []
        self._bare: list[tuple[Pin, tuple[float, float] | None]] = []  # without a sign for ground

    def drawing(self) -> Drawing:
        """The finished drawing.

        Raises
        ------
        Unroutable
            If there is no room for some wire.
        """
        for place in self.found.plan.places:
            self._put(place)
        for each in self.found.plan.arrows:
            self._arrow(each.node, self.found.x[each.column], each.row.y, each.angle)
        self._label()
        self._runs()
        self._wire()
        return self._collected()

    # --------------------------------------------------------------------- symbols

    def _put(self, place: Place) -> None:
        """A part with its texts, and the wires that are straight ways from it."""
        fitted = self.found.fits[place]
        x, y = self.found.x[place.column], self.found.middles[place]
        made = fitted.symbol(x, y)
        self.symbols.append(made)
        self.texts += fitted.texts(x, y)
        self.frames += fitted.frames(x, y)
        self.router.block(made.box)
        for lead in fitted.leads:
            self.router.block(lead.moved(x, y), 0.0)
        foot = self.found.feet.get(place)
        for pin in made.pins:
            self._pin(place, pin, foot)

    def _pin(self, place: Place, pin: Pin, foot: float | None) -> None:
        """A terminal: joined to its row, to a sign for ground, or to whatever is found later."""
        if pin.node == GROUND:
            x = self.found.x[place.column] + SIDE
            beside = self.found.fits[place].signs.get(pin.index)
            if foot is not None and pin.dy > 0:
                self._sign(pin.x, foot, pin.y, pin)
            elif pin.y in self.found.sides.get(place, ()):
                self._straight.append((self._sign(x, pin.y, pin.y, pin), pin.x, pin.y, x, pin.y))
            else:
                at = None
                if beside is not None:
                    at = (self.found.x[place.column] + beside[0],
                          self.found.middles[place] + beside[1])  # fmt: skip
                self._bare.append((pin, at))
            return
        self.router.add_pin(pin.node, pin)
        row = self._row_of(place, pin)
        if row is not None and row != pin.y:
            self._straight.append((pin.node, pin.x, pin.y, pin.x, row))

    def _row_of(self, place: Place, pin: Pin) -> float | None:
        """Where the row lies that a terminal of an upright part is to be joined to."""
        if place.root_rows:
            row = place.root_rows[pin.index]
            return None if row is None else row.y
        if place.onto is not None:
            return place.onto.y
        if not place.is_upright or pin.dx:
            return None
        if pin.dy < 0:
            return place.row.y
        return None if place.lower is None else place.lower.y

    def _sign(self, x: float, y: float, start: float, pin: Pin) -> str:
        """A sign for ground, with a wire down to it from a terminal."""
        net = self._new_sign(x, y)
        self.router.add_pin(net, pin)
        if start < y:
            self._straight.append((net, x, start, x, y))
        return net

    def _new_sign(self, x: float, y: float) -> str:
        net = _SIGN.format(self.signs)
        self.signs += 1
        made = ground(GROUND, x, y)
        self.symbols.append(made)
        self.router.block(made.box)
        self.router.block(Box(x - _HAIR, y, x + _HAIR, made.box.top), 0.0)
        self.router.add_pin(net, made.pins[0])
        return net

    def _arrow(self, node: str, x: float, y: float, angle: int) -> None:
        down = LEAD if angle == 90 else 0.0
        made = arrow(node, x, y + down, angle)
        self.symbols.append(made)
        self.router.block(made.box)
        self.router.add_pin(node, made.pins[0])
        if down:
            self._straight.append((node, x, y, x, y + down))

    # ----------------------------------------------------------------------- texts

    def _label(self) -> None:
        """The labels of the nodes; no wire runs through any text."""
        for label in self.found.labels:
            x, box = self.found.x[label.column], label.box
            y = label.row.y
            anchor = "middle" if label.is_above else "start"
            at = x if label.is_above else x + box.left
            self.texts += block_texts(label.lines, at, y + box.top, anchor, node=label.node)
        for text in self.texts:
            self.router.block(text.box)

    # ----------------------------------------------------------------------- wires

    def _runs(self) -> None:
        """The wires along the rows, from the first thing that is joined to the last."""
        for run in self.found.plan.runs:
            if run.node == GROUND:
                continue
            xs = sorted(self._joined(run))
            if len(xs) > 1:
                self._straight.append((run.node, xs[0], run.row.y, xs[-1], run.row.y))
        for trunk in self.found.plan.trunks:
            x = self._lane(trunk)
            self._straight.append((trunk.node, x, trunk.upper.y, x, trunk.lower.y))
            if trunk.after is not None:
                y = self.found.middles[trunk.after]
                end = self.found.x[trunk.after.column] + REACH
                self._straight.append((trunk.node, end, y, x, y))

    def _lane(self, trunk: Trunk) -> float:
        """Where a trunk lies. [unit]"""
        where = self.found.x if trunk.after is None else self.found.lanes
        return where[trunk.column]

    def _joined(self, run: Run) -> set[float]:
        """Where terminals, uprights and trunks of a node meet its row within a run."""
        y, found = run.row.y, set()
        left = self.found.x.get(run.first - 1, self.found.x[min(self.found.x)] - GRID)
        right = self.found.x.get(run.last + 1, self.found.x[max(self.found.x)] + GRID)
        for spots in self.router.pins.values():
            for net, pin in spots:
                if net == run.node and pin.y == y and left <= pin.x <= right:
                    found.add(pin.x)
        for net, x1, y1, x2, y2 in self._straight:
            ends = (y1, y2)
            if net == run.node and x1 == x2 and y in ends and left <= x1 <= right:
                found.add(x1)
        for trunk in self.found.plan.trunks:
            is_here = run.row in (trunk.upper, trunk.lower) or trunk.after is None
            if trunk.node == run.node and run.covers(trunk.column) and is_here:
                found.add(self._lane(trunk))
        return found

    def _wire(self) -> None:
        """Lay the straight wires, then join what is left of each net."""
        for net, x1, y1, x2, y2 in self._straight:
            self.router.lay(net, x1, y1, x2, y2)
        for pin, at in self._bare:
            self._ground(pin, at)
        nets = dict.fromkeys(net for pins in self.router.pins.values() for net, _ in pins)
        sizes = []
        for net in nets:
            spots = self.router.spots_of(net)
            xs, ys = [x for x, _ in spots], [y for _, y in spots]
            sizes.append((net, float(max(xs) - min(xs) + max(ys) - min(ys))))
        for net in nets_in_order(sizes):
            self.router.connect(net)

    def _ground(self, pin: Pin, at: tuple[float, float] | None) -> None:
        """A sign for ground where one is foreseen, or else at the nearest place with room.

        Raises
        ------
        Unroutable
            If there is none.
        """
        steps = [(i, j) for i in range(-_SEARCH_X, _SEARCH_X + 1) for j in range(_SEARCH_Y)]
        ahead = (3 * pin.dx, 0)
        if at is not None:
            ahead = round((at[0] - pin.x) / GRID), round((at[1] - pin.y) / GRID)
        steps.sort(key=lambda s: (abs(s[0] - ahead[0]) + abs(s[1] - ahead[1]), s))
        net = _SIGN.format(self.signs)
        self.router.add_pin(net, pin)
        for i, j in steps:
            x, y = pin.x + GRID * i, pin.y + GRID * j
            if self._has_room(x, y) and self.router.reach(net, pin, x, y, ground(GROUND, x, y).box):
                self._new_sign(x, y)
                return
        raise Unroutable(GROUND)

    def _has_room(self, x: float, y: float) -> bool:
        box = Box(x - 12, y - 4, x + 12, y + SIGN)
        taken = [s.box for s in self.symbols] + [t.box for t in self.texts]
        if any(box.overlaps(other) for other in taken):
            return False
        box = box.grown(4.0)
        used = itertools.chain(self.router.taken, self.router.pins)
        return not any(box.holds(GRID * i, GRID * j) for i, j in used)

    # --------------------------------------------------------------------- outcome

    def _collected(self) -> Drawing:
        nets = dict.fromkeys(net for pins in self.router.pins.values() for net, _ in pins)
        node = {net: GROUND if " " in net else net for net in nets}
        wires = [wire for net in nets for wire in self.router.wires(net, node[net])]
        dots = [dot for net in nets for dot in self.router.dots(net, node[net])]
        return collected(self.symbols, wires, dots, self.texts, self.frames)
