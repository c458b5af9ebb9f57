"""Readings taken on a chassis, and the conditions they were taken under."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Literal

from ..quantity import Dimension
from ..source import NOWHERE, Source, Span
from .meter import Function, Meter

OVERLOAD = math.inf
"""What a meter shows as OL: more than its largest range holds. [SI]"""

Stage = Literal["as found", "as left"]


class Kind(Enum):
    """What a reading is of."""

    MAINS = "mains"
    """The mains. [V rms]"""
    DC = "dc"
    """Mean voltage of a node against another. [V]"""
    AC = "ac"
    """Alternating part of a node's voltage, as an a.c. meter reads it. [V rms]"""
    RIPPLE = "ripple"
    """The same peak to peak, as an oscilloscope shows it. [Vpp]"""
    CURRENT = "current"
    """Cathode current of a valve, plate and screen together. [A]"""
    CATHODE = "cathode"
    """Voltage across a valve's cathode resistor. [V]"""
    PLATE = "plate"
    """A valve's plate against ground. [V]"""
    SCREEN = "screen"
    """A valve's screen against ground. [V]"""
    OHMS = "ohms"
    """Resistance between two nodes, power off, all parts in place. [ohm]"""
    FORWARD = "forward"
    """A rectifier on a meter's diode test, power off, red lead on the anode. [V]"""
    REVERSE = "reverse"
    """The same with the red lead on the cathode. [V]"""
    LIFTED = "lifted"
    """Resistance of a part with one leg lifted, or of a pot's track alone. [ohm]"""
    CAPACITANCE = "capacitance"
    """Of a capacitor with one leg lifted. [F]"""
    ESR = "esr"
    """Series resistance of a capacitor, with an instrument made for it. [ohm]"""


_FUNCTION = {
    Kind.MAINS: Function.AC_VOLTS,
    Kind.DC: Function.DC_VOLTS,
    Kind.AC: Function.AC_VOLTS,
    Kind.RIPPLE: Function.AC_VOLTS,
    Kind.CURRENT: Function.CURRENT,
    Kind.CATHODE: Function.DC_VOLTS,
    Kind.PLATE: Function.DC_VOLTS,
    Kind.SCREEN: Function.DC_VOLTS,
    Kind.OHMS: Function.OHMS,
    Kind.FORWARD: Function.DC_VOLTS,
    Kind.REVERSE: Function.DC_VOLTS,
    Kind.LIFTED: Function.OHMS,
    Kind.CAPACITANCE: Function.CAPACITANCE,
    Kind.ESR: Function.OHMS,
}


_DIMENSION = {
    Kind.MAINS: Dimension.VOLT,
    Kind.DC: Dimension.VOLT,
    Kind.AC: Dimension.VOLT_AC,
    Kind.RIPPLE: Dimension.VOLT_PP,
    Kind.CURRENT: Dimension.AMPERE,
    Kind.CATHODE: Dimension.VOLT,
    Kind.PLATE: Dimension.VOLT,
    Kind.SCREEN: Dimension.VOLT,
    Kind.OHMS: Dimension.OHM,
    Kind.FORWARD: Dimension.VOLT,
    Kind.REVERSE: Dimension.VOLT,
    Kind.LIFTED: Dimension.OHM,
    Kind.CAPACITANCE: Dimension.FARAD,
    Kind.ESR: Dimension.OHM,
}


def dimension_of(kind: Kind) -> Dimension:
    """What a kind of reading is measured in, as it is written in a sheet."""
    return _DIMENSION[kind]


DIODE_TEST = frozenset({Kind.FORWARD, Kind.REVERSE})
"""What a meter's diode test reads."""

SOLDERED_IN = DIODE_TEST | {Kind.OHMS}
"""What is read with the power off and all parts in place."""

WITH_OVERLOAD = SOLDERED_IN | {Kind.LIFTED}
"""What can be beyond a meter's largest range."""

POWER_OFF = WITH_OVERLOAD | {Kind.CAPACITANCE, Kind.ESR}
"""What is read with the power off."""

ANYWHERE = (POWER_OFF - {Kind.OHMS}) | {Kind.MAINS}
"""What does not, or hardly, hang on where the pots stand."""


def function_of(kind: Kind) -> Function:
    """What the meter is switched to for a kind of reading."""
    return _FUNCTION[kind]


@dataclass(frozen=True, slots=True)
class Position:
    """Where a pot stands.

    Parameters
    ----------
    travel : float
        Rotation, 0 fully anticlockwise to 1 fully clockwise. [1]
    by_eye : bool
        Whether it was judged by eye; a stop is certain.
    turn : int
        The turn of the stage (see `State`) at which it was set there. A pot that was judged by
        eye and not touched since is off by the same error in all readings. [count]
    span : Span
        Where the pot is named in the sheet.
    """

    travel: float
    by_eye: bool = False
    turn: int = 0
    span: Span = field(default=NOWHERE, compare=False, repr=False)

    def same_place(self, other: Position) -> bool:
        """Whether both were set alike, whenever that was."""
        return (self.travel, self.by_eye) == (other.travel, other.by_eye)


@dataclass(frozen=True, slots=True)
class State:
    """The conditions a reading was taken under.

    Parameters
    ----------
    stage : str
        "as found" or "as left".
    live : bool
        Whether the amplifier was on.
    pots : mapping of pot name to Position
        Where pots were turned to; what it leaves out stood anywhere.
    valves_out : bool
        Whether the output valves were out of their sockets.
    discharged : bool
        Whether the capacitors had been discharged and checked, power off.
    turn : int
        Number of the pot setting within the stage: readings of one number were taken
        without touching the pots between them. It counts up when pots are set, or the stage
        is headed again, after a reading. [count]
    """

    stage: Stage = "as found"
    live: bool = True
    pots: Mapping[str, Position] = field(default_factory=dict)
    valves_out: bool = False
    discharged: bool = False
    turn: int = 0


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading.

    Parameters
    ----------
    kind : Kind
        What it is of.
    nominal : float
        What the meter showed; `OVERLOAD` for OL. [SI]
    last_digit : float
        One step of the last digit written down; 0 for OL. [SI]
    state : State
        The conditions.
    meter : Meter
        What it was taken with.
    plus, minus : str
        Nodes of the red and the black lead, for what is read between nodes; else empty.
    part : str
        The part it is of: a valve, a resistor read across itself, a lifted part; else empty.
        Until the circuit is known the nodes of a part stand open: `plus` and `minus` are empty
        for what is read across it. `minus` alone is ground for what is read at a valve's grid,
        and for ohms where the name may be a node's.
    note : str or None
        The user's remark.
    span : Span
        Where the value stands in the sheet.
    """

    kind: Kind
    nominal: float
    last_digit: float
    state: State
    meter: Meter
    plus: str = ""
    minus: str = ""
    part: str = ""
    note: str | None = None
    span: Span = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of readings.

    Parameters
    ----------
    circuit : str
        The circuit file it belongs to, as typed.
    meters : tuple of Meter
        The meters, the first is the one used where a reading names none.
    readings : tuple of Reading
        In the order of the file.
    notes : tuple of str
        Remarks on the job as a whole.
    source : Source
        The text it was read from.
    span : Span
        Where the circuit file is named in it.
    """

    circuit: str
    meters: tuple[Meter, ...]
    readings: tuple[Reading, ...]
    notes: tuple[str, ...] = ()
    source: Source = field(default=Source("(made by program)", ""), compare=False, repr=False)
    span: Span = field(default=NOWHERE, compare=False, repr=False)

    def at(self, stage: Stage) -> Iterator[Reading]:
        """The readings of one stage, in the order of the file."""
        return (reading for reading in self.readings if reading.state.stage == stage)

    @property
    def stages(self) -> tuple[Stage, ...]:
        """The stages that hold a reading, in their order in time."""
        held = {reading.state.stage for reading in self.readings}
        order: tuple[Stage, Stage] = ("as found", "as left")
        return tuple(stage for stage in order if stage in held)
