"""What is turned: a part, whether the box lies across it or in its place, and the values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from ..assumed import comes_with
from ..engine.elements import Resistance
from ..model import Value
from ..netlist import (
    OPEN,
    Capacitor,
    Part,
    Pot,
    Resistor,
    Supply,
    Winding,
    Zener,
)
from ..predictor import Predictor
from ..preferred import parallel
from ..quantity import Dimension


class Way(Enum):
    """Where the box is put."""

    ACROSS = "across"
    IN_PLACE = "in place"


DIMENSION: dict[type[Part], Dimension] = {
    Resistor: Dimension.OHM,
    Pot: Dimension.OHM,
    Capacitor: Dimension.FARAD,
    Winding: Dimension.VOLT_AC,
    Supply: Dimension.VOLT,
    Zener: Dimension.VOLT,
}
"""What can be put in the place of a part, by its class."""


@dataclass(frozen=True, slots=True)
class Knob:
    """A part and what is put across it or in its place.

    Parameters
    ----------
    part : Part
        The part.
    way : Way
        Across the part, which stays, or in its place.
    dimension : Dimension
        Of the values.
    fitted : float or None
        What the part has, with the changes of the command; None for one without such a value.
        [SI unit]
    values : tuple of (float or None)
        In the order in which the knob is turned; None where nothing is across the part.
        [SI unit]
    """

    part: Part
    way: Way
    dimension: Dimension
    fitted: float | None
    values: tuple[float | None, ...]

    @property
    def at_fitted(self) -> int:
        """Which of the values leaves the part as it is. [count]"""
        return self.values.index(None if self.way is Way.ACROSS else self.fitted)

    def acts_as(self, value: float | None) -> float | None:
        """Resistance that the part and the box make together; None where that says nothing. [ohm]

        Parameters
        ----------
        value : float or None
            Of the box. [ohm]
        """
        if self.way is Way.IN_PLACE or self.fitted is None or self.dimension is not Dimension.OHM:
            return None
        return self.fitted if value is None else parallel(self.fitted, value)


def terminals(part: Part) -> tuple[str, str]:
    """The two nodes that a box across a part joins.

    Of a pot they are its ends; of a rheostat with an end open, the other end and the wiper.
    """
    if isinstance(part, Pot):
        ends = [node for node in (part.top, part.bottom) if node != OPEN]
        return (ends[0], ends[1]) if len(ends) == 2 else (ends[0] if ends else OPEN, part.wiper)
    (_, first), *_, (_, last) = part.terminals
    return first, last


def state_of(
    predictor: Predictor, settings: Sequence[tuple[Knob, float | None]]
) -> tuple[dict[str, Value], list[Resistance]]:
    """What knobs change: the parameters, and the resistances that are added.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    settings : sequence of (Knob, float or None)
        Knobs with the value that each is turned to. [SI unit]
    """
    changes: dict[str, Value] = {}
    added: list[Resistance] = []
    for knob, value in settings:
        if value is None:
            continue
        if knob.way is Way.ACROSS:
            a, b = map(predictor.section.at, terminals(knob.part))
            if a != b and OPEN not in (a, b):
                added.append(Resistance(f"box across {knob.part.name}", a, b, value))
        elif value != knob.fitted:
            changes[knob.part.name] = value
            changes |= {name: other for name, other in comes_with(knob.part, value).items()
                        if name not in predictor.changes}  # fmt: skip
    return changes, added
