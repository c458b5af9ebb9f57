"""How far each column lies to the right of those before it."""

from __future__ import annotations

import itertools

from .drawing import Box
from .measured import ARROW_LENGTH, LEAD, SIDE, SIGN, Spaced, up
from .symbols import GRID, REACH

_GAP = 8.0  # between what stands in one column and in the next
_WIRE = 2.0  # half the room of a wire
_LANE, _COLUMN = 0, 1


def settle_columns(found: Spaced, spread: float) -> None:
    """Each column as far to the left as the boxes before it allow."""
    boxes = _column_boxes(found)
    gap = _GAP * spread
    x: dict[tuple[int, int], float] = {}
    for key in sorted(boxes):
        least = max(x.values()) + GRID if x else 0.0
        for before, at in x.items():
            for one, two in itertools.product(boxes[before], boxes[key]):
                if one.top < two.bottom + _WIRE and two.top < one.bottom + _WIRE:
                    least = max(least, at + one.right - two.left + gap)
        x[key] = up(least)
    found.lanes = {column: value for (column, kind), value in x.items() if kind == _LANE}
    last = 0.0
    for column in range(max((column for column, _ in boxes), default=0) + 1):
        last = x.get((column, _COLUMN), last)
        found.x[column] = last


def _column_boxes(found: Spaced) -> dict[tuple[int, int], list[Box]]:
    """What stands in each column, from top to bottom at its place, across from the column."""
    boxes: dict[tuple[int, int], list[Box]] = {}

    def own(column: int, kind: int = _COLUMN) -> list[Box]:
        return boxes.setdefault((column, kind), [])

    for place, fitted in found.fits.items():
        own(place.column).extend(box.moved(0.0, found.middles[place]) for box in fitted.boxes)
        if place.onto is not None:
            ends = sorted((place.onto.y, place.row.y))
            own(place.column).extend(Box(x - _WIRE, ends[0], x + _WIRE, ends[1])
                                     for x in (-REACH, REACH))  # fmt: skip
        if place.is_upright:
            foot = found.feet.get(place, place.lower.y if place.lower is not None else 0.0)
            own(place.column).append(Box(-_WIRE, place.row.y, _WIRE, max(foot, place.row.y)))
    for label in found.labels:
        own(label.column).append(label.box.moved(0.0, label.row.y))
    for thing, foot in found.feet.items():
        own(thing.column).append(Box(-10.0, foot, 10.0, foot + SIGN))
    for place, signs in found.sides.items():
        own(place.column).extend(Box(0.0, y - _WIRE, SIDE + 10.0, y + SIGN) for y in signs)
    for arrow in found.plan.arrows:
        length = LEAD + ARROW_LENGTH
        box = {90: Box(-7.0, 0.0, 7.0, length), 180: Box(-ARROW_LENGTH, -7.0, 0.0, 7.0)}.get(
            arrow.angle, Box(0.0, -7.0, ARROW_LENGTH, 7.0)
        )
        own(arrow.column).append(box.moved(0.0, arrow.row.y))
    for trunk in found.plan.trunks:
        kind = _COLUMN if trunk.after is None else _LANE
        own(trunk.column, kind).append(Box(-_WIRE, trunk.upper.y, _WIRE, trunk.lower.y))
    return boxes
