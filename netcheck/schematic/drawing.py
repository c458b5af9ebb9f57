"""A drawn schematic as data: symbols, wires, dots, texts and frames, each with its box.

Lengths are in units of the drawing, x to the right, y downwards. A text of the drawing's usual
size is 12 units high, so that a unit is about a pixel on a screen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle with sides along the axes.

    Parameters
    ----------
    left, top, right, bottom : float
        Its sides. [unit]
    """

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box, gap: float = 0.0) -> bool:
        """Whether two boxes share an area, or come nearer to each other than `gap`. [unit]"""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )

    def grown(self, by: float) -> Box:
        """The box, larger on all sides. [unit]"""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def moved(self, dx: float, dy: float) -> Box:
        """The box elsewhere. [unit]"""
        return Box(self.left + dx, self.top + dy, self.right + dx, self.bottom + dy)

    def holds(self, x: float, y: float) -> bool:
        """Whether a point lies inside, its sides not included. [unit]"""
        return self.left < x < self.right and self.top < y < self.bottom


def around(boxes: Iterable[Box]) -> Box:
    """The smallest box around some others; at least one."""
    first, *rest = boxes
    left, top, right, bottom = first.left, first.top, first.right, first.bottom
    for box in rest:
        left, top = min(left, box.left), min(top, box.top)
        right, bottom = max(right, box.right), max(bottom, box.bottom)
    return Box(left, top, right, bottom)


@dataclass(frozen=True, slots=True)
class Pin:
    """Where a wire joins a symbol.

    Parameters
    ----------
    index : int
        Place of the terminal in the part's `terminals`; 0 for ground and arrows.
    node : str
        The node that has to be joined here.
    x, y : float
        Where. [unit]
    dx, dy : int
        The way from the symbol to the wire: one of them 1 or -1, the other 0.
    """

    index: int
    node: str
    x: float
    y: float
    dx: int
    dy: int


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol that has its place.

    Parameters
    ----------
    shape : str
        One of `symbols.SHAPES`.
    part : str
        Name of the part; empty for ground and for the arrow of a node that goes on elsewhere.
    x, y : float
        Its middle. [unit]
    angle : int
        Way from the first terminal to the second: 0 to the right, 90 down, 180, 270. [degree]
    mirror : bool
        Whether the wiper of a pot leaves on the other side than it would.
    stops : tuple of float
        For a winding the places of its terminals along it, from its middle. [unit]
    box : Box
        The body without its leads.
    pins : tuple of Pin
        Its terminals; those to which nothing is soldered are left out.
    """

    shape: str
    part: str
    x: float
    y: float
    angle: int
    mirror: bool
    stops: tuple[float, ...]
    box: Box
    pins: tuple[Pin, ...]


@dataclass(frozen=True, slots=True)
class Wire:
    """A straight wire, along one of the axes.

    Parameters
    ----------
    node : str
        The node it belongs to.
    x1, y1, x2, y2 : float
        Its ends, the smaller coordinates first. [unit]
    """

    node: str
    x1: float
    y1: float
    x2: float
    y2: float

    @property
    def box(self) -> Box:
        """The box around it, which has no area."""
        return Box(self.x1, self.y1, self.x2, self.y2)


@dataclass(frozen=True, slots=True)
class Dot:
    """A dot that joins wires.

    Parameters
    ----------
    node : str
        The node of all of them.
    x, y : float
        Where. [unit]
    """

    node: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text.

    Parameters
    ----------
    text : str
        What it says, as typed: it is escaped when it is written.
    style : str
        One of `lettering.SIZES`.
    x, y : float
        Where its base line begins, ends or has its middle, as `anchor` says. [unit]
    anchor : str
        "start", "middle" or "end".
    box : Box
        The room it takes in any usual font.
    part, node : str
        What it stands beside: a part or a node; the other one is empty.
    """

    text: str
    style: str
    x: float
    y: float
    anchor: str
    box: Box
    part: str = ""
    node: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame around a part that is marked.

    Parameters
    ----------
    part : str
        The part.
    box : Box
        The frame.
    """

    part: str
    box: Box


@dataclass(frozen=True, slots=True)
class Drawing:
    """A schematic that has been laid out.

    Parameters
    ----------
    symbols : tuple of Symbol
        Each part once, grounds and arrows as many as there are.
    wires : tuple of Wire
        Wires that cross without a dot are not joined.
    dots : tuple of Dot
        The dots.
    texts : tuple of Text
        All texts.
    frames : tuple of Frame
        Frames around marked parts.
    box : Box
        The box around all of it.
    """

    symbols: tuple[Symbol, ...]
    wires: tuple[Wire, ...]
    dots: tuple[Dot, ...]
    texts: tuple[Text, ...]
    frames: tuple[Frame, ...]
    box: Box


def collected(
    symbols: Sequence[Symbol],
    wires: Sequence[Wire],
    dots: Sequence[Dot],
    texts: Sequence[Text],
    frames: Sequence[Frame],
) -> Drawing:
    """A drawing of all that, with the box around it."""
    boxes = [s.box for s in symbols] + [w.box for w in wires]
    boxes += [t.box for t in texts] + [f.box for f in frames]
    return Drawing(tuple(symbols), tuple(wires), tuple(dots), tuple(texts), tuple(frames),
                   around(boxes) if boxes else Box(0.0, 0.0, 0.0, 0.0))  # fmt: skip
