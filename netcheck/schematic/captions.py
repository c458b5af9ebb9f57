"""What stands beside a part and a node: lines of text, and blocks of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ..netlist import (
    Capacitor,
    Diode,
    Link,
    Part,
    Pot,
    Resistor,
    Supply,
    Tremolo,
    Valve,
    Winding,
    Zener,
)
from ..quantity import Dimension, show_part
from . import lettering
from .drawing import Box, Text
from .notes import Notes

MOST = 3
"""Readings shown at one place; of more the others are counted. [count]"""

BADGE = 15.0
"""Diameter of the disc with a number, and the room it takes in a line. [unit]"""

_AFTER_BADGE = 4.0  # room behind a disc [unit]
_LONGEST = 150.0  # of a user's name in a drawing [unit]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text in a style, with numbers on discs in front of it."""

    style: str
    text: str
    numbers: tuple[int, ...] = ()

    @property
    def width(self) -> float:
        """Room from left to right. [unit]"""
        room = lettering.width(self.text, self.style)
        return room + len(self.numbers) * (BADGE + _AFTER_BADGE)

    @property
    def height(self) -> float:
        """Room from top to bottom. [unit]"""
        return max(lettering.height(self.style), BADGE + 2 if self.numbers else 0)


def block_size(lines: Sequence[Line]) -> tuple[float, float]:
    """Width and height of lines below each other. [unit]"""
    return max((line.width for line in lines), default=0.0), sum(line.height for line in lines)


def block_texts(
    lines: Sequence[Line], x: float, top: float, anchor: str, *, part: str = "", node: str = ""
) -> Iterator[Text]:
    """The lines of a block at their place.

    Parameters
    ----------
    lines : sequence of Line
        The lines.
    x : float
        Where the block begins, ends or has its middle, as `anchor` says. [unit]
    top : float
        Its upper side. [unit]
    anchor : str
        "start", "middle" or "end".
    part, node : str
        What it stands beside.
    """
    share = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    for line in lines:
        left = x - share * line.width
        for number in line.numbers:
            box = Box(left, top + 1, left + BADGE, top + 1 + BADGE)
            middle = top + 1 + BADGE / 2 + 0.35 * lettering.SIZES["badge"]
            yield Text(str(number), "badge", left + BADGE / 2, middle, "middle", box, part, node)
            left += BADGE + _AFTER_BADGE
        size = lettering.SIZES[line.style]
        room = lettering.width(line.text, line.style)
        slack = line.height - lettering.height(line.style)
        base = top + slack / 2 + lettering.ASCENT * size
        box = Box(left, base - lettering.ASCENT * size, left + room,
                  base + lettering.DESCENT * size)  # fmt: skip
        if line.text:
            yield Text(line.text, line.style, left + share * room, base, anchor, box, part, node)
        top += line.height


# ------------------------------------------------------------------------------- parts


def name_lines(part: Part, notes: Notes) -> list[Line]:
    """The part's mark, if it has one, and its name."""
    mark = notes.marks.get(part.name)
    lines = [Line("mark", mark.chance, mark.numbers)] if mark is not None else []
    name = lettering.shortened(lettering.printable(part.name), "part", _LONGEST)
    return [*lines, Line("part", name)]


def value_lines(part: Part, notes: Notes) -> list[Line]:
    """The part's value, its rating, and what was read at it."""
    value, ratings = _VALUES[type(part)](part)
    lines = [Line("value", _plain(value, "value"))] if value else []
    lines += [Line("rating", _plain(text, "rating")) for text in ratings if text]
    return lines + reading_lines(notes.part_readings.get(part.name, ()))


def reading_lines(readings: Sequence[str]) -> list[Line]:
    """Readings, of many the first ones."""
    lines = (line for text in readings[:MOST] for line in text.splitlines())
    shown = [Line("read", _plain(line, "read")) for line in lines]
    more = len(readings) - MOST
    return [*shown, Line("read", f"+{more} more")] if more > 0 else shown


def node_lines(node: str, notes: Notes) -> list[Line]:
    """The node's name, what it should have, and what was read there."""
    lines = [Line("node", _plain(node, "node"))]
    for text in notes.volts.get(node, "").splitlines():
        lines.append(Line("volts", _plain(text, "volts")))
    return lines + reading_lines(notes.readings.get(node, ()))


def _plain(text: str, style: str) -> str:
    return lettering.shortened(lettering.printable(text), style, _LONGEST)


def _rated(*values: tuple[float | None, Dimension]) -> str:
    return " ".join(show_part(v, dimension) for v, dimension in values if v is not None)


def _resistor(p: Resistor) -> tuple[str, list[str]]:
    return show_part(p.r), [_rated((p.power, Dimension.WATT), (p.v_rated, Dimension.VOLT))]


def _capacitor(p: Capacitor) -> tuple[str, list[str]]:
    return show_part(p.c, Dimension.FARAD), [_rated((p.v_rated, Dimension.VOLT))]


def _diode(p: Diode) -> tuple[str, list[str]]:
    material = p.material if p.material != "silicon" else ""
    return p.type or "", [material, _rated((p.v_reverse, Dimension.VOLT))]


def _zener(p: Zener) -> tuple[str, list[str]]:
    return show_part(p.v_zener, Dimension.VOLT), [_rated((p.power, Dimension.WATT))]


def _pot(p: Pot) -> tuple[str, list[str]]:
    taper = "" if p.taper == "linear" else p.taper
    return show_part(p.r), [taper, _rated((p.power, Dimension.WATT))]


def _winding(p: Winding) -> tuple[str, list[str]]:
    volts = show_part(p.v_rms, Dimension.VOLT_AC)
    if p.centre is not None:
        figure = volts.split(" ")[0]
        volts = f"{figure}-0-{volts}"
    taps = [f"tap {show_part(tap.v_rms, Dimension.VOLT_AC)}" for tap in p.taps]
    return volts, [*taps, _rated((p.r_source, Dimension.OHM))]


def _supply(p: Supply) -> tuple[str, list[str]]:
    return show_part(p.v, Dimension.VOLT), [_rated((p.r_source or None, Dimension.OHM))]


def _tremolo(p: Tremolo) -> tuple[str, list[str]]:
    return show_part(p.v_pp, Dimension.VOLT_PP), [show_part(p.frequency, Dimension.HERTZ)]


def _valve(p: Valve) -> tuple[str, list[str]]:
    stated = (("plate", p.v_plate, Dimension.VOLT), ("cathode", p.r_cathode or None, Dimension.OHM))
    return p.type, [f"{word} {show_part(v, d)}" for word, v, d in stated if v is not None]


def _link(_: Link) -> tuple[str, list[str]]:
    return "", []


_VALUES: dict[type[Part], Callable[[Any], tuple[str, list[str]]]] = {
    Resistor: _resistor,
    Capacitor: _capacitor,
    Diode: _diode,
    Zener: _zener,
    Pot: _pot,
    Winding: _winding,
    Supply: _supply,
    Tremolo: _tremolo,
    Valve: _valve,
    Link: _link,
}
