"""A layout that is right for any circuit, if not as drawn by hand: for what the other one cannot.

Parts lie side by side on shelves, and each node is a line of its own below, which its terminals
come down to. No two lines share a height, no two ways down a place: so they can only cross.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..netlist import Circuit, Part, Pot, Valve
from . import lettering
from .captions import Line, block_size, block_texts, name_lines, node_lines, value_lines
from .drawing import Box, Dot, Drawing, Frame, Symbol, Text, Wire, around, collected
from .flow import is_node
from .notes import Notes
from .symbols import LEAST_STEP, arrow, body, ground, shape_of, symbol

_WIDTH = 900.0  # of a shelf [unit]
_TRACK = 20.0  # from one line to the next
_BUS = 10.0  # from one wire between shelves to the next
_GAP, _BELOW, _SHELF = 20.0, 40.0, 50.0  # between parts, below them, and between shelves
_DROP = 8.0  # from a terminal to its sign for ground
_FRAME = 4.0
_ARROW = 24.0  # from the last terminal of a line to its arrow


@dataclass(frozen=True)
class _Standing:
    """A part on a shelf: its symbol, what is written above it, and the room of both."""

    symbol: Symbol
    lines: Sequence[Line]
    box: Box


def on_shelves(circuit: Circuit, notes: Notes) -> Drawing:
    """Lay any circuit out.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    notes : Notes
        What is written into it.
    """
    shelves = list(_filled(circuit.parts, notes))
    last = {node: k for k, shelf in enumerate(shelves) for node in _nodes(shelf)}
    first: dict[str, int] = {}
    for k, shelf in enumerate(shelves):
        for node in _nodes(shelf):
            first.setdefault(node, k)
    shared = [node for node in first if first[node] != last[node]]
    bus = {node: -_BUS * (k + 2) for k, node in enumerate(shared)}
    build = _Build(circuit, notes, bus, first)
    for k, shelf in enumerate(shelves):
        build.add(k, shelf)
    return build.drawing()


def _filled(parts: Iterable[Part], notes: Notes) -> Iterator[list[_Standing]]:
    """Parts by shelf, each at its place from left to right, its terminals at height 0."""
    shelf: list[_Standing] = []
    x = 0.0
    for part in parts:
        standing = _standing(part, notes)
        width = standing.box.right - standing.box.left
        if shelf and x + width > _WIDTH:
            yield shelf
            shelf, x = [], 0.0
        shelf.append(_moved(part, standing, x - standing.box.left))
        x += width + _GAP
    if shelf:
        yield shelf


def _standing(part: Part, notes: Notes, x: float = 0.0) -> _Standing:
    stops: tuple[float, ...] = ()
    if shape_of(part) == "winding":
        last = len(part.terminals) - 1
        length = max(60.0, float(LEAST_STEP * last))
        stops = tuple(length * k / last - length / 2 for k in range(last + 1))
    made = symbol(part, x, 0.0, 0, mirror=not isinstance(part, Valve), stops=stops)
    lines = [*name_lines(part, notes), *value_lines(part, notes)]
    width, height = block_size(lines)
    top = body(made.shape, 0, made.mirror, stops).top - 3.0
    text = Box(x - width / 2, top - height, x + width / 2, top)
    pins = Box(min([x, *(pin.x for pin in made.pins)]) - 10.0, -1.0,
               max([x, *(pin.x for pin in made.pins)]) + 10.0, 1.0)  # fmt: skip
    room = around([made.box, text, pins])
    return _Standing(made, lines, room.grown(_FRAME) if part.name in notes.marks else room)


def _moved(part: Part, standing: _Standing, dx: float) -> _Standing:
    made = standing.symbol
    again = symbol(part, dx, 0.0, 0, mirror=made.mirror, stops=made.stops)
    return _Standing(again, standing.lines, standing.box.moved(dx, 0.0))


def _nodes(shelf: Iterable[_Standing]) -> list[str]:
    """The nodes of a shelf from left to right."""
    pins = (pin for standing in shelf for pin in standing.symbol.pins)
    return list(dict.fromkeys(pin.node for pin in pins if is_node(pin.node)))


class _Build:
    """Puts shelf below shelf."""

    def __init__(
        self, circuit: Circuit, notes: Notes, bus: dict[str, float], first: dict[str, int]
    ) -> None:
        self.circuit = circuit
        self.notes = notes
        self.bus = bus
        self.first = first
        self.symbols: list[Symbol] = []
        self.texts: list[Text] = []
        self.frames: list[Frame] = []
        self.wires: list[Wire] = []
        self._levels: dict[str, list[float]] = {}
        self._bottom = 0.0
        self._parts = {part.name: part for part in circuit.parts}

    def add(self, k: int, shelf: Sequence[_Standing]) -> None:
        """Add a shelf below those there are, with the lines of its nodes."""
        y = self._bottom - min(standing.box.top for standing in shelf)
        reach: dict[str, list[float]] = {}
        deepest = y
        standings = [self._put(standing, y) for standing in shelf]
        for made in standings:
            deepest = max(deepest, made.box.bottom)
            for pin in made.pins:
                if is_node(pin.node):
                    reach.setdefault(pin.node, []).append(pin.x)
        right = max(standing.box.right for standing in shelf)
        level = deepest + _BELOW
        levels = {}
        for node in _nodes(shelf):
            levels[node] = level
            self._line(node, k, level, reach[node], right)
            level += _TRACK
        for pin in (pin for made in standings for pin in made.pins):
            if is_node(pin.node):
                self.wires.append(Wire(pin.node, pin.x, pin.y, pin.x, levels[pin.node]))
        self._signs(standings)
        self._bottom = level + _SHELF

    def _put(self, standing: _Standing, y: float) -> Symbol:
        old = standing.symbol
        made = symbol(self._parts[old.part], old.x, y, 0, mirror=old.mirror, stops=old.stops)
        _, height = block_size(standing.lines)
        top = made.box.top - 3.0 - height
        self.symbols.append(made)
        texts = list(block_texts(standing.lines, made.x, top, "middle", part=made.part))
        part = self._parts[old.part]
        if isinstance(part, Pot):
            line = Line("end", "cw")
            end = -1 if part.clockwise == "top" else 1
            texts += block_texts([line], made.x + 20 * end - (end < 0) * line.width,
                                 y - 1 - line.height, "start", part=made.part)  # fmt: skip
        self.texts += texts
        if made.part in self.notes.marks:
            box = around([made.box, *(text.box for text in texts)]).grown(_FRAME)
            self.frames.append(Frame(made.part, box))
        return made

    def _signs(self, standings: Sequence[Symbol]) -> None:
        """Signs for ground right below the terminals that are grounded."""
        for made in standings:
            for pin in made.pins:
                if not is_node(pin.node):
                    # A valve's grid leaves in the middle of its height.
                    y = made.box.bottom if made.shape == "valve" else pin.y + _DROP
                    self.wires.append(Wire(pin.node, pin.x, pin.y, pin.x, y))
                    self.symbols.append(ground(pin.node, pin.x, y))

    def _line(self, node: str, k: int, y: float, xs: Sequence[float], right: float) -> None:
        """The line of a node, with its label at the right end and its wire to other shelves."""
        start = min(xs)
        if node in self.bus:
            start = self.bus[node]
            self._levels.setdefault(node, []).append(y)
        label = end = right + _ARROW
        if node in self.circuit.elsewhere and self.first[node] == k:
            self.symbols.append(arrow(node, end, y))
            label += _ARROW
        self.wires.append(Wire(node, start, y, end, y))
        lines = node_lines(node, self.notes)
        if self.first[node] != k:
            lines = lines[:1]
        x = label + _GAP / 4
        for line in lines:
            top = y - lettering.height(line.style) / 2
            self.texts += block_texts([line], x, top, "start", node=node)
            x += line.width + _GAP / 2

    def drawing(self) -> Drawing:
        """All shelves, the wires between them, and the dots."""
        for node, levels in self._levels.items():
            x = self.bus[node]
            self.wires.append(Wire(node, x, min(levels), x, max(levels)))
        return collected(self.symbols, self.wires, list(self._dots()), self.texts, self.frames)

    def _dots(self) -> Iterator[Dot]:
        """Where more than two ways of a node meet."""
        ways: dict[tuple[str, float, float], int] = {}
        ends = {(w.node, x, y) for w in self.wires for x, y in ((w.x1, w.y1), (w.x2, w.y2))}
        by_node: dict[str, list[Wire]] = {}
        for wire in self.wires:
            by_node.setdefault(wire.node, []).append(wire)
        for node, x, y in sorted(ends):
            count = 0
            for wire in by_node[node]:
                if wire.x1 <= x <= wire.x2 and wire.y1 <= y <= wire.y2:
                    count += 1 if (x, y) in ((wire.x1, wire.y1), (wire.x2, wire.y2)) else 2
            ways[node, x, y] = count
        for symbol_ in self.symbols:
            for pin in symbol_.pins:
                if (pin.node, pin.x, pin.y) in ways:
                    ways[pin.node, pin.x, pin.y] += 1
        return (Dot(node, x, y) for (node, x, y), count in sorted(ways.items()) if count > 2)
