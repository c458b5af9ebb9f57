"""What would make a part act as it does: a preferred value, a strap, a decade misread."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from ..netlist import Capacitor, Part, Pot, Resistor
from ..preferred import Series, is_preferred, parallel, values_between
from ..quantity import Dimension, show_part, write_exact
from ..readout.links import is_link

_ROUND_POTS = (1.0, 2.0, 2.2, 2.5, 4.7, 5.0)
"""Values of pots in each decade: E3, and 1-2-2.5-5 of today's; common practice."""
_USUAL = 0.05
"""Tolerance of a resistor that somebody fitted; common practice. [1]"""
_MOST = 3


@dataclass(frozen=True, slots=True)
class Fitted:
    """A value that explains the readings.

    Parameters
    ----------
    coordinate : str
        Of what: "R3", "C1.leak", "V1.grid current".
    nominal : float
        The most probable value. [SI]
    low, high : float
        Between these it lies in 90 of 100 cases. [SI]
    """

    coordinate: str
    nominal: float
    low: float
    high: float

    @property
    def log_sigma(self) -> float:
        """Standard deviation of the logarithm of the value. [1]"""
        return max((math.log(self.high) - math.log(self.low)) / (2 * 1.645), 1e-4)


@dataclass(frozen=True, slots=True)
class Explanation:
    """One way in which a part comes to act as it does.

    Parameters
    ----------
    text : str
        "82k across the 27k drawn".
    acts : float
        What it would make of the part. [SI]
    weight : float
        How well that agrees with the fitted value, beside the others. [1]
    """

    text: str
    acts: float
    weight: float


CAUSES: Mapping[str, str] = {
    "resistor open": "burnt out, cracked, or a dry joint",
    "resistor short": "a solder bridge, or a wire across it",
    "pot wiper lifted": "a worn track, or a dry joint at the wiper",
    "pot top end open": "a broken track, or a dry joint at its lug",
    "pot bottom end open": "a broken track, or a dry joint at its lug",
    "pot wired the other way": "its ends exchanged, as by whoever replaced it",
    "winding low": "another tap, a wrong transformer, or low mains where that was not read",
    "winding high": "another tap, a wrong transformer, or high mains where that was not read",
    "winding no volts": "an open winding, a fuse, or a wire off",
    "winding open": "a broken wire inside, or a dry joint at its lug",
    "valve draws grid current": "gas in the valve, or a leak from its socket or coupling capacitor",
    "leak not drawn": "dirt, damp or burning across a tag strip, board or socket, a wrong wire",
    "mains low": "the supply, or another voltage selected at the primary",
    "mains high": "the supply, or another voltage selected at the primary",
}
"""What makes a part fail in a way, by kind of part and mode; common practice."""


def cause(part: Part | None, label: str, mode: str) -> str:
    """What makes a part fail in a way; empty where the way says it.

    Parameters
    ----------
    part : Part or None
        The part; None for what is none, such as the mains.
    label : str
        Its name.
    mode : str
        The way.
    """
    kind = label.partition(" ")[0] if part is None else part.kind
    return CAUSES.get(f"{kind} {mode}", "")


def explanations(part: Part, fitted: Fitted) -> list[Explanation]:
    """What would make a resistor, a pot or a capacitor act as it does, the likeliest first.

    Parameters
    ----------
    part : Part
        As drawn.
    fitted : Fitted
        What it acts as.
    """
    if fitted.coordinate != part.name or is_link(part):
        return []
    if isinstance(part, Resistor):
        found = _of_resistor(part.r, fitted)
    elif isinstance(part, Pot):
        found = [_of(f"a {_ohms(r)} pot", r, fitted, 1.0, part.tolerance or 0.2)
                 for r in _pot_values(part.r)]  # fmt: skip
    elif isinstance(part, Capacitor) and not part.polarised:
        found = [_of(f"{write_exact(c, Dimension.FARAD)} fitted", c, fitted, 1.0, 0.1)
                 for c in values_between(part.c / 20, part.c * 20, Series.E6)]  # fmt: skip
    else:
        found = []
    likely = sorted((e for e in found if e.weight > 0.02), key=lambda e: -e.weight)
    return likely[:_MOST]


def _of_resistor(r: float, fitted: Fitted) -> list[Explanation]:
    found = []
    for acts in values_between(r / 50, r * 50, Series.E24):
        if abs(acts / r - 1.0) < 1e-6:
            continue
        weight = 1.0 if is_preferred(acts, Series.E12) else 0.4
        decade = any(abs(acts / (r * f) - 1.0) < 1e-6 for f in (0.1, 10.0, 100.0, 0.01))
        told = f"{_ohms(acts)} fitted" + (f": {_ohms(r)} misread by a decade" if decade else "")
        found.append(_of(told, acts, fitted, weight * (2.0 if decade else 1.0), _USUAL))
    for strap in values_between(r / 10, r * 30, Series.E12):
        told = f"{_ohms(strap)} across the {_ohms(r)} drawn"
        found.append(_of(told, parallel(r, strap), fitted, 0.8, _USUAL))
    drift = fitted.nominal / r
    if 1.0 < drift < 2.5:
        found.append(Explanation(f"the {_ohms(r)} drawn, drifted upwards by {drift - 1:.0%}",
                                 fitted.nominal, 0.6 / drift))  # fmt: skip
    return found


def _of(text: str, acts: float, fitted: Fitted, weight: float, tolerance: float) -> Explanation:
    spread = math.hypot(fitted.log_sigma, tolerance / math.sqrt(3.0))
    off = math.log(acts / fitted.nominal) / spread
    return Explanation(text, acts, weight * math.exp(-0.5 * off * off))


def _pot_values(r: float) -> list[float]:
    decade = 10.0 ** math.floor(math.log10(r))
    every = [v * decade * f for f in (0.1, 1.0, 10.0) for v in _ROUND_POTS]
    return [v for v in every if abs(v / r - 1.0) > 0.02]


def _ohms(r: float) -> str:
    return show_part(r, Dimension.OHM)
