"""Whether a drawing says what its circuit says, and can be read: from its geometry alone."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator

from ..netlist import GROUND, OPEN, Circuit
from .drawing import Box, Drawing, Wire

_TOUCH = 0.5  # boxes that share less than this merely touch [unit]
Point = tuple[float, float]


def faults(drawing: Drawing, circuit: Circuit) -> Iterator[str]:
    """What is wrong with a drawing, a short sentence each; none if all is well.

    Parameters
    ----------
    drawing : Drawing
        The drawing.
    circuit : Circuit
        The circuit that it shows.
    """
    yield from _parts(drawing, circuit)
    yield from _joints(drawing, circuit)
    yield from _contacts(drawing.wires)
    yield from _overlaps(drawing)


def is_sound(drawing: Drawing, circuit: Circuit) -> bool:
    """Whether nothing is wrong with a drawing."""
    return next(faults(drawing, circuit), None) is None


def _parts(drawing: Drawing, circuit: Circuit) -> Iterator[str]:
    drawn = [symbol.part for symbol in drawing.symbols if symbol.part]
    if sorted(drawn) != sorted(part.name for part in circuit.parts):
        yield "not every part is drawn once"


# -------------------------------------------------------------------------- what joins


def joined(drawing: Drawing) -> list[set[tuple[str, int]]]:
    """The terminals that wires and dots join, as sets of (part, place in its terminals).

    All signs for ground are one node, of which ("", 0) is a member. Wires that cross are not
    joined without a dot.
    """
    groups = _Groups()
    for k, wire in enumerate(drawing.wires):
        for point in ((wire.x1, wire.y1), (wire.x2, wire.y2)):
            groups.join(k, point)
        for dot in drawing.dots:
            if _passes(wire, (dot.x, dot.y)):
                groups.join(k, (dot.x, dot.y))
    for symbol in drawing.symbols:
        if symbol.shape == "ground":
            groups.join("ground", (symbol.pins[0].x, symbol.pins[0].y))
    found: dict[object, set[tuple[str, int]]] = {}
    for symbol in drawing.symbols:
        for pin in symbol.pins if symbol.part else ():
            found.setdefault(groups.root((pin.x, pin.y)), set()).add((symbol.part, pin.index))
    if groups.root("ground") in found:
        found[groups.root("ground")].add(("", 0))
    return list(found.values())


class _Groups:
    """Things that hang together, directly or by way of others."""

    def __init__(self) -> None:
        self._under: dict[object, object] = {}

    def root(self, thing: object) -> object:
        """What stands for all that hangs together with a thing."""
        self._under.setdefault(thing, thing)
        while self._under[thing] != thing:
            thing = self._under[thing]
        return thing

    def join(self, one: object, two: object) -> None:
        """Let two things hang together."""
        self._under[self.root(one)] = self.root(two)


def wanted(circuit: Circuit) -> list[set[tuple[str, int]]]:
    """The same as the circuit has it."""
    found: dict[str, set[tuple[str, int]]] = {}
    for part in circuit.parts:
        for index, (_, node) in enumerate(part.terminals):
            if node != OPEN:
                found.setdefault(node, set()).add((part.name, index))
    if GROUND in found:
        found[GROUND].add(("", 0))
    return list(found.values())


def _joints(drawing: Drawing, circuit: Circuit) -> Iterator[str]:
    drawn = sorted(sorted(group) for group in joined(drawing))
    if drawn != sorted(sorted(group) for group in wanted(circuit)):
        yield "the wires join other terminals than the circuit does"


def _passes(wire: Wire, point: Point) -> bool:
    """Whether a point lies on a wire, its ends included."""
    x, y = point
    return wire.x1 <= x <= wire.x2 and wire.y1 <= y <= wire.y2


# --------------------------------------------------------------------------- what meets


def _contacts(wires: Iterable[Wire]) -> Iterator[str]:
    """Wires of different nodes that do more than cross."""
    for one, two in itertools.combinations(wires, 2):
        if one.node == two.node:
            continue
        if one.x1 > two.x2 or two.x1 > one.x2 or one.y1 > two.y2 or two.y1 > one.y2:
            continue
        is_crossing = (one.x1 == one.x2) != (two.x1 == two.x2)
        at = (max(one.x1, two.x1), max(one.y1, two.y1))
        ends = {(w.x1, w.y1) for w in (one, two)} | {(w.x2, w.y2) for w in (one, two)}
        if not is_crossing or at in ends:
            yield f"wires of {one.node} and {two.node} touch at {at}"


def _overlaps(drawing: Drawing) -> Iterator[str]:
    """Texts, symbols and wires that lie on each other."""
    things: list[tuple[str, Box]] = [(f"text {t.text}", t.box) for t in drawing.texts]
    count = len(things)
    things += [(f"symbol {s.part or s.shape}", s.box) for s in drawing.symbols]
    for (a, one), (b, two) in itertools.combinations(things, 2):
        if one.overlaps(two, -_TOUCH):
            yield f"{a} and {b} overlap"
    for k, (name, box) in enumerate(things):
        inner = box.grown(-_TOUCH if k < count else -1.5)
        for wire in drawing.wires:
            if _cuts(wire, inner):
                yield f"a wire of {wire.node} runs through {name}"
    for frame in drawing.frames:
        own = {t.text for t in drawing.texts if t.part == frame.part}
        for text in drawing.texts:
            if text.part != frame.part and frame.box.overlaps(text.box) and text.text not in own:
                yield f"the frame of {frame.part} meets text {text.text}"


def _cuts(wire: Wire, box: Box) -> bool:
    """Whether a wire runs through the inside of a box."""
    return (wire.x1 < box.right and wire.x2 > box.left
            and wire.y1 < box.bottom and wire.y2 > box.top)  # fmt: skip
