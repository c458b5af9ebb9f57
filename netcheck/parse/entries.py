"""The lines of a sheet of readings as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ..quantity import Dimension
from ..readings import Accuracy, Function, Position, Stage
from ..source import NOWHERE, Span


@dataclass(frozen=True, slots=True)
class Header:
    """The line that names the circuit of the sheet."""

    circuit: str
    span: Span = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Remark:
    """A note on the job as a whole."""

    text: str


@dataclass(frozen=True, slots=True)
class MeterLine:
    """What one line says of a meter.

    Parameters
    ----------
    name : str
        Its name.
    r_input : float or None
        Input resistance; None if the line does not state it. [ohm]
    ohm_per_volt : float or None
        Of a pointer instrument. [ohm/V]
    accuracy : mapping of Function to Accuracy
        Of the functions on this line.
    v_test : float or None
        Volts at the leads, on ohms. [V]
    span : Span
        Where its name stands.
    marks : mapping of str to Span
        Where each thing that is stated once for a meter stands.
    """

    name: str
    r_input: float | None = None
    ohm_per_volt: float | None = None
    accuracy: Mapping[Function, Accuracy] = field(default_factory=dict)
    v_test: float | None = None
    span: Span = field(default=NOWHERE, compare=False, repr=False)
    marks: Mapping[str, Span] = field(default_factory=dict, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class UseMeter:
    """From here on readings are taken with this meter."""

    name: str
    span: Span = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class StageHead:
    """As found or as left."""

    stage: Stage


@dataclass(frozen=True, slots=True)
class PowerHead:
    """The power was switched."""

    live: bool
    discharged: bool = False


@dataclass(frozen=True, slots=True)
class ValvesHead:
    """The output valves were pulled out or put in."""

    out: bool


@dataclass(frozen=True, slots=True)
class Settings:
    """Pots were set, in the order of the line."""

    pots: Mapping[str, Position]


Place = Literal["", "mains", "node", "part", "between"]
"""How the place of a reading is named: "" leaves it open whether it is a node or a part."""

Word = Literal["", "ripple", "lifted", "esr", "forward", "reverse",
               "cathode", "plate", "screen", "grid"]  # fmt: skip
"""The word in front of what was read."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A value as read.

    Parameters
    ----------
    word : str
        The word in front of it.
    nominal : float
        What was shown. [SI unit of `dimension`]
    last_digit : float
        One step of the last digit written down; 0 for OL. [SI unit of `dimension`]
    dimension : Dimension
        What it is measured in.
    span : Span
        Where the value stands.
    """

    word: Word
    nominal: float
    last_digit: float
    dimension: Dimension
    span: Span = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Taken:
    """Readings of one place.

    Parameters
    ----------
    place : str
        How the place is named.
    names : tuple of str
        The node or part; two nodes, the red lead's first, where it is "between".
    measures : tuple of Measure
        What was read.
    meter : str or None
        The meter, where the line names one.
    note : str or None
        The remark on the line.
    """

    place: Place
    names: tuple[str, ...]
    measures: tuple[Measure, ...]
    meter: str | None = None
    note: str | None = None
    meter_span: Span = field(default=NOWHERE, compare=False, repr=False)


Heading = UseMeter | StageHead | PowerHead | ValvesHead | Settings
SheetEntry = Header | Remark | MeterLine | Heading | Taken


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line of a sheet as data: what it says and the comment on it.

    Parameters
    ----------
    entry : SheetEntry or None
        None for an empty line, a comment alone, and a line with an error in it.
    comment : str or None
        The comment without its mark, None where there is none.
    """

    entry: SheetEntry | None
    comment: str | None = None
