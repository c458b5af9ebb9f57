"""A bias section as plain data: its parts, what feeds it, and the text it was read from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from ..source import NOWHERE, Source, Span
from ..valves import ValveType
from .parts import OPEN, Part

P = TypeVar("P", bound=Part)


@dataclass(frozen=True, slots=True)
class Mains:
    """The mains.

    Parameters
    ----------
    v_nominal : float
        For which the winding voltages are stated. [V rms]
    frequency : float
        Frequency. [Hz]
    v_actual : float or None
        As measured; None if not stated. [V rms]
    tolerance : float or None
        Of the mains where it was not measured, as a fraction; None if not stated. [1]
    """

    v_nominal: float
    frequency: float
    v_actual: float | None = None
    tolerance: float | None = None
    span: Span = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class HighTension:
    """How the plate and screen volts of all valves fall as they draw more.

    Parameters
    ----------
    r_source : float or None
        Source resistance of the supply; None if it was not stated. [ohm]
    i_stated : float or None
        The cathode current of all valves together at which the volts of the valves' lines
        hold; None if not stated. [A]
    readings : tuple of (float, float)
        Plate volts measured at two currents of all valves together, instead of `r_source`
        and `i_stated`; empty or two. [V], [A]
    rectifier : str or None
        "silicon", "selenium" or "vacuum": what makes it; None if not stated.
    standby : bool
        Whether a standby switch connects it while the valves are hot.
    """

    r_source: float | None = None
    i_stated: float | None = None
    readings: tuple[tuple[float, float], ...] = ()
    rectifier: str | None = None
    standby: bool = False
    span: Span = field(default=NOWHERE, compare=False, repr=False)

    def line(self, v_plate: float) -> tuple[float, float] | None:
        """Source resistance, and the current at which plate volts stated elsewhere hold.

        Parameters
        ----------
        v_plate : float
            The plate volts stated. [V]

        Returns
        -------
        (float, float) or None
            None where the fall of the volts is not known. [ohm], [A]
        """
        if self.readings:
            (v_a, i_a), (v_b, i_b) = self.readings
            r = (v_a - v_b) / (i_b - i_a)
            return r, i_a + (v_a - v_plate) / r
        return None if self.r_source is None else (self.r_source, self.i_stated or 0.0)


@dataclass(frozen=True, slots=True)
class Circuit:
    """A bias section.

    Parameters
    ----------
    title : str
        As the user wrote it; may be empty.
    mains : Mains or None
        None where no winding needs it.
    parts : tuple of Part
        In the order of the file.
    elsewhere : tuple of str
        Nodes that go on outside the section drawn.
    source : Source
        The text it was read from.
    high_tension : HighTension or None
        None where the file says nothing of it.
    own_types : tuple of ValveType
        Valve types of the user's own, known beside those of the table.
    """

    title: str
    mains: Mains | None
    parts: tuple[Part, ...]
    elsewhere: tuple[str, ...] = ()
    source: Source = field(default=Source("(made by program)", ""), compare=False, repr=False)
    high_tension: HighTension | None = None
    own_types: tuple[ValveType, ...] = field(default=(), compare=False, repr=False)

    def part(self, name: str) -> Part | None:
        """The part of that name, or None."""
        return next((part for part in self.parts if part.name == name), None)

    def of(self, kind: type[P]) -> Iterator[P]:
        """The parts of one class, in the order of the file."""
        return (part for part in self.parts if isinstance(part, kind))

    @property
    def nodes(self) -> tuple[str, ...]:
        """All node names, in the order of their first use; `OPEN` is none."""
        seen = (node for part in self.parts for _, node in part.terminals if node != OPEN)
        return tuple(dict.fromkeys(seen))
