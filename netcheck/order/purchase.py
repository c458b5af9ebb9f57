"""What is bought in place of a part."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..bands import write_bands
from ..netlist import Capacitor, Diode, Part, Pot, Resistor, Zener
from ..quantity import Dimension, ValueProblem, show_part
from ..remedy.ratings import Buy, buy
from ..remedy.ways import NEW_TOLERANCE
from ..stress import Stress
from . import shelf
from .bearing import Bearing


@dataclass(frozen=True, slots=True)
class Purchase:
    """A part as one asks for it at the counter.

    Parameters
    ----------
    kind : str
        "resistor", "pot", "electrolytic", "capacitor", "diode", "zener" or "valve".
    value : float or None
        Resistance, capacitance or zener volts. [SI]
    power : float or None
        Rating. [W]
    v_rated : float or None
        Rating; of a resistor None where any of that power stands the volts. [V]
    tolerance : float or None
        At most this. [1]
    type : str
        Type number, or the taper of a pot.
    """

    kind: str
    value: float | None = None
    power: float | None = None
    v_rated: float | None = None
    tolerance: float | None = None
    type: str = ""

    @property
    def dimension(self) -> Dimension | None:
        """What `value` is measured in."""
        return _DIMENSIONS.get(self.kind)

    @property
    def text(self) -> str:
        """In one line: "electrolytic 47 uF 100 V 105 C"."""
        words = [self.kind]
        if self.value is not None and self.dimension is not None:
            words.append(show_part(self.value, self.dimension))
        words.append(self.type)
        if self.tolerance is not None:
            words.append(f"{self.tolerance * 100:g}%")
        if self.power is not None:
            words.append(show_part(self.power, Dimension.WATT))
        if self.v_rated is not None:
            words.append(f"{self.v_rated:g} V")
        if self.kind == "electrolytic":
            words.append("105 C")
        return " ".join(filter(None, words))

    @property
    def bands(self) -> tuple[str, ...]:
        """The colours by which to find a resistor in the drawer; empty where it has none."""
        is_banded = self.kind == "resistor" and (self.power or 0.0) <= _W_BANDED
        if not is_banded or self.value is None or self.tolerance is None:
            return ()
        try:
            return write_bands(self.value, self.tolerance)
        except ValueProblem:
            return ()


_W_BANDED = 2.0
"""Beyond that the value is printed on the body (common practice). [W]"""

_DIMENSIONS = {
    "resistor": Dimension.OHM,
    "pot": Dimension.OHM,
    "electrolytic": Dimension.FARAD,
    "capacitor": Dimension.FARAD,
    "zener": Dimension.VOLT,
}


def replacement(part: Part, bearing: Bearing) -> Purchase | None:
    """What is bought in place of a part of a bias supply.

    Parameters
    ----------
    part : Part
        As drawn.
    bearing : Bearing
        What the parts have to bear.

    Returns
    -------
    Purchase or None
        None for what is not bought over the counter, such as a winding; valves are bought as
        sets (see `valves`).
    """
    stress = bearing.stress(part.name)
    match part:
        case Resistor() | Pot():
            return of_resistance(buy(part, stress, as_drawn=True), part)
        case Capacitor():
            return _capacitor(part, bearing.to_stand(part.name))
        case Diode():
            return None if part.material == "vacuum" else _diode(stress)
        case Zener():
            least = max(2.0 * stress.power, part.power or 0.0)
            power = shelf.rating(shelf.ZENER_POWERS, least) or least
            return Purchase("zener", part.v_zener, power=power)
    return None


def of_resistance(bought: Buy, part: Resistor | Pot) -> Purchase:
    """A resistor or a pot with the rating to buy."""
    if isinstance(part, Pot):
        return Purchase("pot", bought.r, power=bought.power, type=part.taper)
    tolerance = NEW_TOLERANCE if part.tolerance is None else min(part.tolerance, NEW_TOLERANCE)
    v = None if bought.v_working is None else float(math.ceil(bought.v_working / 50.0) * 50)
    return Purchase("resistor", bought.r, bought.power, v, tolerance)


def _capacitor(part: Capacitor, v: float) -> Purchase:
    """The same or somewhat more, for more volts; never for less than what was there."""
    least = max(shelf.RESERVE * v, part.v_rated or 0.0)
    if part.polarised:
        rated = shelf.rating(shelf.ELECTROLYTIC_VOLTS, least) or least
        return Purchase("electrolytic", shelf.electrolytic(part.c), v_rated=rated)
    return Purchase("capacitor", part.c, v_rated=shelf.rating(shelf.FILM_VOLTS, least) or least)


def _diode(stress: Stress) -> Purchase:
    """The usual one; where it does not stand the volts, one that does."""
    least = shelf.V_REVERSE_RESERVE * stress.v_forward
    if least <= shelf.V_RECTIFIER:
        return Purchase("diode", v_rated=shelf.V_RECTIFIER, type=shelf.RECTIFIER)
    return Purchase("diode", v_rated=float(math.ceil(least / 100.0) * 100))
