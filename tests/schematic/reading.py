"""Reading a drawing as a person does: by lines, dots and symbols, knowing nothing of nodes."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from netcheck.netlist import GROUND, OPEN, Circuit
from netcheck.schematic import Box, Drawing, Wire

Point = tuple[float, float]
Terminal = tuple[str, int]


def inside(point: Point, wire: Wire) -> bool:
    """Whether a point lies on a wire between its ends."""
    x, y = point
    if wire.x1 == wire.x2:
        return x == wire.x1 and wire.y1 < y < wire.y2
    return y == wire.y1 and wire.x1 < x < wire.x2


def ends(wire: Wire) -> tuple[Point, Point]:
    return (wire.x1, wire.y1), (wire.x2, wire.y2)


def corners(drawing: Drawing) -> set[Point]:
    """Where wires end, dots are, and symbols have terminals."""
    points = {point for wire in drawing.wires for point in ends(wire)}
    points |= {(dot.x, dot.y) for dot in drawing.dots}
    return points | {(pin.x, pin.y) for symbol in drawing.symbols for pin in symbol.pins}


def stretches(drawing: Drawing) -> Iterator[tuple[Point, Point]]:
    """The wires in pieces: cut where a dot is, and where one ends at their own end only."""
    dots = {(dot.x, dot.y) for dot in drawing.dots}
    for wire in drawing.wires:
        cuts = sorted({*ends(wire), *(dot for dot in dots if inside(dot, wire))})
        yield from itertools.pairwise(cuts)


def read(drawing: Drawing) -> set[frozenset[Terminal]]:
    """The sets of terminals that are joined; all signs for ground are joined as ("", 0)."""
    beside: dict[object, set[object]] = {}
    terminals: dict[object, Terminal] = {}
    for one, two in (*stretches(drawing), *_pins(drawing, terminals)):
        beside.setdefault(one, set()).add(two)
        beside.setdefault(two, set()).add(one)
    found = set()
    left = dict.fromkeys(beside)
    while left:
        group = _reached(next(iter(left)), beside)
        for thing in group:
            left.pop(thing)
        joined = {terminals[thing] for thing in group if thing in terminals}
        if joined:
            found.add(frozenset(joined | ({("", 0)} if EARTH in group else set())))
    return found


EARTH = "earth"


def _pins(drawing: Drawing, terminals: dict[object, Terminal]) -> Iterator[tuple[object, object]]:
    """What is joined at each terminal of a symbol; the terminals of parts are noted down."""
    for symbol in drawing.symbols:
        for pin in symbol.pins:
            thing = ("terminal", symbol.part, pin.index)
            if symbol.shape == "ground":
                yield (pin.x, pin.y), EARTH
            elif symbol.part:
                terminals[thing] = (symbol.part, pin.index)
                yield (pin.x, pin.y), thing


def _reached(start: object, beside: dict[object, set[object]]) -> set[object]:
    group, queue = {start}, [start]
    while queue:
        for near in beside[queue.pop()] - group:
            group.add(near)
            queue.append(near)
    return group


def meant(circuit: Circuit) -> set[frozenset[Terminal]]:
    """The nodes of a circuit as sets of terminals."""
    nodes: dict[str, set[Terminal]] = {}
    for part in circuit.parts:
        for index, (_, node) in enumerate(part.terminals):
            if node != OPEN:
                nodes.setdefault(node, {("", 0)} if node == GROUND else set()).add(
                    (part.name, index)
                )
    return {frozenset(terminals) for terminals in nodes.values()}


def doubtful(drawing: Drawing) -> Iterator[str]:
    """Joints that a reader could take for something else."""
    dots = {(dot.x, dot.y) for dot in drawing.dots}
    for point in corners(drawing):
        through = [w for w in drawing.wires if inside(point, w)]
        stops = [w for w in drawing.wires if point in ends(w)]
        leads = [p for s in drawing.symbols for p in s.pins if (p.x, p.y) == point]
        ways = 2 * len(through) + len(stops) + len(leads)
        if ways > 2 and point not in dots:
            yield f"{ways} ways meet at {point} without a dot"
        if ways <= 2 and point in dots:
            yield f"a dot at {point} joins nothing"


def touching(drawing: Drawing) -> Iterator[str]:
    """Wires of two nodes that do more than cross at a right angle."""
    for one, two in itertools.combinations(drawing.wires, 2):
        if one.node == two.node:
            continue
        shared = [p for p in (*ends(one), *ends(two))
                  if (inside(p, one) or p in ends(one)) and (inside(p, two) or p in ends(two))]  # fmt: skip
        if shared:
            yield f"{one.node} and {two.node} touch at {shared[0]}"


def wire_in(wire: Wire, box: Box) -> bool:
    """Whether a wire runs through the inside of a box."""
    hair = 1e-6
    return Box(wire.x1 - hair, wire.y1 - hair, wire.x2 + hair, wire.y2 + hair).overlaps(box, -hair)


def crowding(drawing: Drawing, touch: float = 0.5) -> Iterator[str]:
    """Texts and symbols that lie on each other, on a wire, or on the frame of another part.

    Parameters
    ----------
    drawing : Drawing
        The drawing.
    touch : float
        What boxes may share without harm. [unit]
    """
    texts = [(f'"{text.text}"', text.box) for text in drawing.texts]
    symbols = [(symbol.part or symbol.shape, symbol.box) for symbol in drawing.symbols]
    for (a, one), (b, two) in itertools.combinations([*texts, *symbols], 2):
        if one.overlaps(two, -touch):
            yield f"{a} lies on {b}"
    inner = [(name, box.grown(-touch)) for name, box in texts]
    inner += [(name, box.grown(-1.5)) for name, box in symbols]
    for (name, box), wire in itertools.product(inner, drawing.wires):
        if wire_in(wire, box):
            yield f"a wire of {wire.node} runs through {name}"
    for text, frame in itertools.product(drawing.texts, drawing.frames):
        if text.part != frame.part and text.box.overlaps(frame.box, -touch):
            yield f'the frame of {frame.part} lies on "{text.text}"'
