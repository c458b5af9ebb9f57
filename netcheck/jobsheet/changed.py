"""What was changed in a circuit by a repair, part by part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..compare.earlier import R_OPEN
from ..compare.repair import changed_parts
from ..diagnose.words import drawn
from ..netlist import Circuit, Part, Resistor


@dataclass(frozen=True)
class Changed:
    """One part before and after.

    Parameters
    ----------
    name : str
        The part.
    before, after : Part or None
        None where it was not there, or is no more.
    """

    name: str
    before: Part | None
    after: Part | None

    @property
    def was(self) -> str:
        """Its value before: "open", "20.2k"; empty where it was not there."""
        return _value(self.before)

    @property
    def now(self) -> str:
        """Its value after."""
        return _value(self.after)

    @property
    def was_open(self) -> bool:
        """Whether it led no current."""
        return isinstance(self.before, Resistor) and self.before.r >= R_OPEN

    @property
    def words(self) -> str:
        """What was done, a sentence without a full stop."""
        if self.before is None:
            return f"{self.name} ({self.now or 'a ' + _kind(self.after)}) was added"
        if self.after is None:
            return f"{self.name} ({self.was or 'a ' + _kind(self.before)}) was taken out"
        if self.was == self.now:
            return f"{self.name} was changed"
        return f"{self.name} was {self.was} and is {self.now} now"


def changed(before: Circuit, after: Circuit) -> Iterator[Changed]:
    """What differs, in the order of the circuit after; what is gone comes last.

    Parameters
    ----------
    before, after : Circuit
        The two.
    """
    names = changed_parts(before, after)
    order = dict.fromkeys(part.name for part in (*after.parts, *before.parts))
    for name in order:
        if name in names:
            yield Changed(name, before.part(name), after.part(name))


def _value(part: Part | None) -> str:
    if isinstance(part, Resistor) and part.r >= R_OPEN:
        return "open"
    return drawn(part).removesuffix(" drawn").removeprefix("a ")


def _kind(part: Part | None) -> str:
    return "part" if part is None else part.kind
