"""The room that a part takes with all that is written beside it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..netlist import GROUND, Part, Pot, Valve
from . import lettering
from .captions import Line, block_size, block_texts, name_lines, value_lines
from .drawing import Box, Frame, Symbol, Text, around
from .notes import Notes
from .plan import Place
from .symbols import GRID, REACH, body, shape_of, symbol

_GAP = 3.0  # between a symbol and what is written above or below it
_BESIDE = 5.0  # and what is written beside it
_FRAME = 4.0  # around a marked part
_SIDE = 30.0  # from an upright part to a sign for ground beside it
_HAIR = 1.0  # half the room of a wire


@dataclass(frozen=True, slots=True)
class Caption:
    """A block of lines beside a symbol.

    Parameters
    ----------
    lines : sequence of Line
        The lines.
    x, top : float
        Where, from the middle of the symbol. [unit]
    anchor : str
        What `x` is of the block: "start", "middle" or "end".
    """

    lines: Sequence[Line]
    x: float
    top: float
    anchor: str

    @property
    def box(self) -> Box:
        """The room it takes, from the middle of the symbol."""
        width, height = block_size(self.lines)
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * width
        return Box(left, self.top, left + width, self.top + height)


@dataclass(frozen=True)
class Fit:
    """A symbol with its captions, its middle the origin.

    Parameters
    ----------
    part : Part
        The part.
    angle, mirror, stops
        As in `Symbol`.
    captions : tuple of Caption
        What stands beside it.
    is_marked : bool
        Whether it gets a frame.
    leads : tuple of Box
        The ways of its leads.
    signs : dict of int to (float, float)
        By terminal, where signs for ground stand that are not at its foot. [unit]
    """

    part: Part
    angle: int
    mirror: bool
    stops: tuple[float, ...]
    captions: tuple[Caption, ...]
    is_marked: bool
    leads: tuple[Box, ...]
    signs: dict[int, tuple[float, float]]

    @property
    def body(self) -> Box:
        """The symbol without leads."""
        return body(shape_of(self.part), self.angle, self.mirror, self.stops)

    @property
    def frame(self) -> Box:
        """A frame around the symbol and its captions."""
        return around([self.body, *(c.box for c in self.captions)]).grown(_FRAME)

    @property
    def boxes(self) -> list[Box]:
        """Everything that others have to stay away from."""
        marked = [self.frame] if self.is_marked else []
        signs = [Box(min(x, 0.0) - 12.0, y - 2.0, max(x, 0.0) + 12.0, y + 20.0)
                 for x, y in self.signs.values()]  # fmt: skip
        captions = [c.box for c in self.captions if c.lines]
        return [self.body, *captions, *self.leads, *signs, *marked]

    @property
    def reach(self) -> float:
        """From the middle of an upright part to either end, on the grid. [unit]"""
        whole = around([self.body, *(c.box for c in self.captions), *self.leads])
        if self.is_marked:
            whole = around([whole, self.frame])
        most = max(REACH, -whole.top, whole.bottom)
        return GRID * -(-most // GRID)

    def symbol(self, x: float, y: float) -> Symbol:
        """The symbol at its place. [unit]"""
        return symbol(self.part, x, y, self.angle, mirror=self.mirror, stops=self.stops)

    def texts(self, x: float, y: float) -> Iterator[Text]:
        """What stands beside it, at its place. [unit]"""
        for caption in self.captions:
            yield from block_texts(caption.lines, x + caption.x, y + caption.top, caption.anchor,
                                   part=self.part.name)  # fmt: skip

    def frames(self, x: float, y: float) -> Iterator[Frame]:
        """Its frame, if it is marked. [unit]"""
        if self.is_marked:
            yield Frame(self.part.name, self.frame.moved(x, y))


def fit(place: Place, notes: Notes) -> Fit:
    """A part that stands in a row or upright, with its captions.

    Parameters
    ----------
    place : Place
        Its place in the plan.
    notes : Notes
        What is written beside it.
    """
    part = place.part
    names, values = name_lines(part, notes), value_lines(part, notes)
    if isinstance(part, Valve):
        return _fit(place, notes, [_beside([*names, *values], 24.0, is_left=False)])
    if not place.is_upright:
        return _fit(place, notes, _above_and_below(place, names, values))
    is_left = isinstance(part, Pot) and _is_wiper_right(place)
    captions = [_beside([*names, *values], _side(place), is_left=is_left)]
    if isinstance(part, Pot):
        captions.append(_clockwise(part, place))
    return _fit(place, notes, captions)


def root_fit(place: Place, notes: Notes, stops: tuple[float, ...]) -> Fit:
    """A source at the left edge, with its captions.

    Parameters
    ----------
    place : Place
        Its place in the plan.
    notes : Notes
        What is written beside it.
    stops : tuple of float
        The places of its terminals, see `Symbol`. [unit]
    """
    lines = [*name_lines(place.part, notes), *value_lines(place.part, notes)]
    is_left = len(stops) > 2 or all(row is not None for row in place.root_rows)
    side = body(shape_of(place.part), place.angle, place.mirror, stops)
    caption = _beside(lines, -side.left if is_left else side.right, is_left=is_left)
    return _fit(place, notes, [caption], stops)


def _fit(place: Place, notes: Notes, captions: Sequence[Caption],
         stops: tuple[float, ...] = ()) -> Fit:  # fmt: skip
    part = place.part
    stops = stops or _stops_of(part)
    reach = max(map(abs, stops)) if stops and shape_of(part) == "winding" else REACH
    if isinstance(part, Valve):
        leads = (Box(-REACH, -_HAIR, 0, _HAIR),)
    elif place.is_upright or place.root_rows:
        leads = (Box(-_HAIR, -reach, _HAIR, reach),)
    else:
        leads = (Box(-reach, -_HAIR, reach, _HAIR),)
    marked = part.name in notes.marks
    signs = {} if place.root_rows else _signs(place)
    return Fit(part, place.angle, place.mirror, stops, tuple(captions), marked, leads, signs)


def _signs(place: Place) -> dict[int, tuple[float, float]]:
    """Signs for ground at terminals that are not the foot of an upright part."""
    part = place.part
    grounded = [k for k, (_, node) in enumerate(part.terminals) if node == GROUND]
    last = len(part.terminals) - 1
    foot, top = (last, 0) if place.angle == 90 else (0, last)
    right = 1.0 if isinstance(part, Pot) and _is_wiper_right(place) else -1.0
    if isinstance(part, Valve):
        return dict.fromkeys(grounded, (-REACH - _SIDE / 2, 0.0))
    if not place.is_upright:
        return {k: (-REACH - _SIDE if k == 0 else REACH + _SIDE, 0.0) for k in grounded}
    found = {top: (right * _SIDE, -float(REACH))} if top in grounded else {}
    if isinstance(part, Pot) and 1 in grounded:
        found[1] = (right * 2 * _SIDE, 0.0)
    return {k: v for k, v in found.items() if k != foot}


def _is_wiper_right(place: Place) -> bool:
    """Whether the wiper of an upright pot leaves to the right."""
    return (place.angle == 90) != place.mirror


def _side(place: Place) -> float:
    """From the middle of an upright symbol to the side on which its caption stands. [unit]"""
    side = body(shape_of(place.part), place.angle, place.mirror, _stops_of(place.part))
    return -side.left if isinstance(place.part, Pot) and _is_wiper_right(place) else side.right


def _stops_of(part: Part) -> tuple[float, ...]:
    """The terminals along a winding that stands among other parts; empty for other parts."""
    if shape_of(part) != "winding":
        return ()
    last = len(part.terminals) - 1
    return tuple(2.0 * REACH * k / last - REACH for k in range(last + 1))


def _beside(lines: Sequence[Line], side: float, *, is_left: bool) -> Caption:
    """Lines beside a symbol, their middle on its middle."""
    _, height = block_size(lines)
    x = -side - _BESIDE if is_left else side + _BESIDE
    return Caption(lines, x, -height / 2, "end" if is_left else "start")


def _above_and_below(place: Place, names: Sequence[Line], values: Sequence[Line]) -> list[Caption]:
    """The name above a symbol that lies in a row, the value below it."""
    around_it = body(shape_of(place.part), place.angle, place.mirror, _stops_of(place.part))
    _, height = block_size(names)
    return [
        Caption(names, 0.0, around_it.top - _GAP - height, "middle"),
        Caption(values, 0.0, around_it.bottom + _GAP, "middle"),
    ]


def _clockwise(pot: Pot, place: Place) -> Caption:
    """The mark at the end that the wiper reaches when turned clockwise."""
    is_above = (pot.clockwise == "top") == (place.angle == 90)
    is_right = _is_wiper_right(place)
    top = -REACH - 1 if is_above else REACH + 1 - lettering.height("end")
    x = _BESIDE if is_right else -_BESIDE
    return Caption([Line("end", "cw")], x, top, "start" if is_right else "end")
