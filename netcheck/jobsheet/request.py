"""What a job sheet is asked for, and what stands where something could not be found out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from ..errors import EngineError, EngineMissing, InputError
from ..finding import Finding
from ..netlist import Circuit
from ..readings import Sheet, Stage

T = TypeVar("T")


@dataclass(frozen=True)
class Words:
    """What the user says of the job.

    Parameters
    ----------
    amplifier : str
        What it is about.
    job : str
        What was asked for; may be empty.
    workshop : str
        Who did it; may be empty.
    date : str
        Of the sheet, as it stands on it.
    """

    amplifier: str
    job: str = ""
    workshop: str = ""
    date: str = ""


@dataclass(frozen=True)
class Request:
    """What the sheet is made of.

    Parameters
    ----------
    name : str
        Of the circuit file, as the user gave it.
    circuit : Circuit
        As drawn; after a repair as it was left.
    words : Words
        What the user says of it.
    year : int
        In which the sheet is made: parts are as old. [year]
    before : Circuit or None
        As it was before the repair, where that was stated.
    readings : str
        Name of the sheet of readings, as the user gave it; empty without.
    sheets : mapping of Stage to Sheet
        The readings by stage, nodes filled in.
    doubts : tuple of Finding
        About the sheet of readings.
    window : (float, float) or None
        Plate dissipation wanted, of the limit; None for the usual. [1]
    """

    name: str
    circuit: Circuit
    words: Words
    year: int
    before: Circuit | None = None
    readings: str = ""
    sheets: Mapping[Stage, Sheet] = field(default_factory=dict)
    doubts: tuple[Finding, ...] = ()
    window: tuple[float, float] | None = None


@dataclass(frozen=True)
class Missing:
    """What stands in the place of a part of the sheet that is not to be had.

    Parameters
    ----------
    why : str
        The reason, a clause.
    is_unanswered : bool
        Whether the simulation could not answer; else there was nothing to ask.
    """

    why: str
    is_unanswered: bool = False


def tried(work: Callable[[], T]) -> T | Missing:
    """What some work gives, or why it does not: the rest of the sheet stands.

    Raises
    ------
    EngineMissing
        Without a simulator there is no sheet.
    """
    try:
        return work()
    except EngineMissing:
        raise
    except EngineError as error:
        return Missing(str(error), True)
    except InputError as error:
        return Missing(str(error))
