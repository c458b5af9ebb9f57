"""The ways in which the parts of a section fail, one at a time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from ..graph import Section
from ..netlist import (
    OPEN,
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
from ..quantity import show_part

R_SHORT = 0.2
"""Of a short: a solder bridge, a burnt-through junction. [ohm]"""
R_LEAKY = 10e3
"""Of a leaky electrolytic or diode: some milliamperes at the volts of a bias supply, at which an
electrolytic is past use; common practice. [ohm]"""
R_GRID_LEAKY = 100e3
"""From grid to cathode of a valve with a leak between the two: what a valve tester calls bad by
far (it draws the line at some megohms; from memory). [ohm]"""
DRY_SHARE, DRY_ESR = 0.05, 100.0
"""What a dried-out electrolytic has left [1], and in series [ohm]; common practice."""


class Mode(Enum):
    """How a part fails; the value is what is said of it."""

    OPEN = "open"
    SHORT = "short"
    LEAKY = f"leaky ({show_part(R_LEAKY)})"
    DRIED_OUT = "dried out"
    WIPER_LIFTED = "wiper lifted"
    TOP_BROKEN = "top broken off"
    BOTTOM_BROKEN = "bottom broken off"
    SHORT_ENDS = "short from end to end"
    DEAD = "dead"
    FIRST_HALF_DEAD = "half from its start dead"
    SECOND_HALF_DEAD = "half to its end dead"
    GRID_LEAKY = f"grid to cathode {show_part(R_GRID_LEAKY)}"
    GRID_SHORT = "grid to cathode short"


@dataclass(frozen=True, slots=True)
class Failure:
    """A part and how it fails.

    Parameters
    ----------
    part : str
        Its name.
    mode : Mode
        The way.
    """

    part: str
    mode: Mode

    @property
    def words(self) -> str:
        """What is said of it, such as "R4 open"."""
        return f"{self.part} {self.mode.value}"


def failures_of(section: Section) -> list[Failure]:
    """Every part of a section in every way, in the order of the file."""
    return [Failure(part.name, mode) for part in section.circuit.parts
            for mode in _modes(section, part)]  # fmt: skip


def _modes(section: Section, part: Part) -> Iterator[Mode]:
    if isinstance(part, Pot):
        yield from _pot_modes(part)
    elif isinstance(part, Capacitor):
        yield from (Mode.OPEN, Mode.SHORT)
        yield from (Mode.LEAKY, Mode.DRIED_OUT) if part.polarised else (Mode.LEAKY,)
    elif isinstance(part, Diode):
        yield from (Mode.OPEN, Mode.SHORT, Mode.LEAKY)
    elif isinstance(part, Resistor | Zener | Tremolo):
        yield from (Mode.OPEN, Mode.SHORT)
    elif isinstance(part, Link):
        yield Mode.OPEN
    elif isinstance(part, Winding):
        yield Mode.DEAD
        if part.centre is not None:
            yield from _half_modes(section, part)
    elif isinstance(part, Supply):
        yield Mode.DEAD
    elif isinstance(part, Valve):
        yield from (Mode.GRID_LEAKY, Mode.GRID_SHORT)


def _pot_modes(pot: Pot) -> Iterator[Mode]:
    yield Mode.WIPER_LIFTED
    if pot.top != OPEN:
        yield Mode.TOP_BROKEN
    if pot.bottom != OPEN:
        yield Mode.BOTTOM_BROKEN
    if OPEN not in (pot.top, pot.bottom):
        yield Mode.SHORT_ENDS


def _half_modes(section: Section, winding: Winding) -> Iterator[Mode]:
    """The halves of a centre-tapped winding to which something is joined in the section."""
    others = {node for part in section.circuit.parts if part is not winding
              for _, node in part.terminals}  # fmt: skip
    if winding.start in others:
        yield Mode.FIRST_HALF_DEAD
    if {winding.end, *(tap.node for tap in winding.taps)} & others:
        yield Mode.SECOND_HALF_DEAD
