"""The room that each symbol takes, and where its terminals are.

What the symbols look like is the writer's matter; it draws within these boxes.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..netlist import OPEN, Capacitor, Diode, Part, Valve
from .drawing import Box, Pin, Symbol

GRID = 10
"""Terminals and wires lie on a grid of this pitch. [unit]"""

REACH = 30
"""From the middle of a symbol to a terminal at its end. [unit]"""

WIPER = 20
"""From the middle of a pot to its wiper's terminal, and of a valve's to its grid's. [unit]"""

TAP = 10
"""From the axis of a winding to a terminal between its ends. [unit]"""

LEAST_STEP = 40
"""Between two terminals of a winding at least; its two ends are REACH from its middle. [unit]"""

GROUND_SHAPE, ARROW = "ground", "arrow"

# The body of each at angle 0: first terminal left, what leaves between the ends above.
_BODIES: dict[str, Box] = {
    "resistor": Box(-18, -9, 18, 9),
    "capacitor": Box(-5, -12, 5, 12),
    "electrolytic": Box(-13, -13, 5, 12),
    "diode": Box(-10, -10, 10, 10),
    "zener": Box(-10, -11, 10, 11),
    "link": Box(-16, -5, 16, 5),
    "supply": Box(-13, -13, 5, 13),
    "tremolo": Box(-15, -15, 15, 15),
    "pot": Box(-18, -18, 18, 9),
    "valve": Box(-24, -32, 24, 32),
    GROUND_SHAPE: Box(5, -10, 17, 10),
    ARROW: Box(4, -6, 16, 6),
}
SHAPES = (*_BODIES, "winding")
"""All shapes."""


def shape_of(part: Part) -> str:
    """The shape that stands for a part."""
    if isinstance(part, Capacitor):
        return "electrolytic" if part.polarised else "capacitor"
    return "diode" if isinstance(part, Diode) else part.kind


def turned(x: float, y: float, angle: int) -> tuple[float, float]:
    """A point turned clockwise around the origin."""
    for _ in range(angle // 90 % 4):
        x, y = -y, x
    return x, y


def turned_box(box: Box, angle: int) -> Box:
    """A box turned clockwise around the origin."""
    (x1, y1), (x2, y2) = turned(box.left, box.top, angle), turned(box.right, box.bottom, angle)
    return Box(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))


def mirrored_box(box: Box) -> Box:
    """A box with what was above its axis below it."""
    return Box(box.left, -box.bottom, box.right, -box.top)


def body(shape: str, angle: int, mirror: bool = False, stops: Sequence[float] = ()) -> Box:
    """The box of a symbol whose middle is the origin."""
    box = _BODIES[shape] if shape != "winding" else Box(min(stops) + 6, -6, max(stops) - 6, 14)
    return turned_box(mirrored_box(box) if mirror else box, angle)


def _spots(part: Part, shape: str, stops: Sequence[float]) -> list[tuple[float, float, int, int]]:
    """Place and way out of each terminal at angle 0."""
    if isinstance(part, Valve):
        return [(-REACH, 0, -1, 0)]
    if shape == "winding":
        first, *inner, last = stops
        taps = [(stop, -TAP, 0, -1) for stop in inner]
        return [(first, 0, -1, 0), *taps, (last, 0, 1, 0)]
    ends = [(-REACH, 0, -1, 0), (REACH, 0, 1, 0)]
    if shape == "pot":
        ends.insert(1, (0, -WIPER, 0, -1))
    return [(float(x), float(y), dx, dy) for x, y, dx, dy in ends]


def symbol(
    part: Part, x: float, y: float, angle: int = 0, *, mirror: bool = False,
    stops: Sequence[float] = (),
) -> Symbol:  # fmt: skip
    """A part's symbol at its place.

    Parameters
    ----------
    part : Part
        The part.
    x, y : float
        Its middle. [unit]
    angle : int
        Way from the first terminal to the last. [degree]
    mirror : bool
        Whether the wiper leaves on the other side; it is the right one for a pot whose first
        terminal is on top.
    stops : sequence of float
        Of a winding, see `Symbol`.
    """
    shape = shape_of(part)
    pins = []
    for index, ((_, node), spot) in enumerate(
        zip(part.terminals, _spots(part, shape, stops), strict=True)
    ):
        if node == OPEN:
            continue
        across = -1 if mirror else 1
        px, py = turned(spot[0], across * spot[1], angle)
        dx, dy = turned(spot[2], across * spot[3], angle)
        pins.append(Pin(index, node, x + px, y + py, round(dx), round(dy)))
    box = body(shape, angle, mirror, stops).moved(x, y)
    return Symbol(shape, part.name, x, y, angle, mirror, tuple(stops), box, tuple(pins))


def ground(node: str, x: float, y: float) -> Symbol:
    """The sign for ground, its terminal at a point. [unit]"""
    box = turned_box(_BODIES[GROUND_SHAPE], 90).moved(x, y)
    return Symbol(GROUND_SHAPE, "", x, y, 90, False, (), box, (Pin(0, node, x, y, 0, -1),))


def arrow(node: str, x: float, y: float, angle: int = 0) -> Symbol:
    """The arrow of a node that goes on elsewhere, its terminal at a point. [unit]"""
    dx, dy = turned(-1, 0, angle)
    box = turned_box(_BODIES[ARROW], angle).moved(x, y)
    pin = Pin(0, node, x, y, round(dx), round(dy))
    return Symbol(ARROW, "", x, y, angle, False, (), box, (pin,))
