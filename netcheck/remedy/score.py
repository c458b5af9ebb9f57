"""How good a remedy is, as one number, and what it is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .figures import Figures
from .ways import Kind, Way

WEIGHTS: Mapping[str, float] = MappingProxyType({
    "off middle": 50.0,
    "window missed": 60.0,
    "valves apart": 20.0,
    "little range": 20.0,
    "coarse": 10.0,
    "hot end": 20.0,
})  # fmt: skip
"""The most points that each shortcoming costs; effort and series cost points of their own."""
EFFORT: Mapping[Kind, float] = MappingProxyType({
    Kind.STRAP: 2.0,
    Kind.STRAP_POT: 2.0,
    Kind.RESISTOR: 5.0,
    Kind.RESTORE: 5.0,
    Kind.SERIES: 6.0,
    Kind.POT: 9.0,
})  # fmt: skip
"""Points that the work costs, for each part: a strap needs no unsoldering, a resistor two
joints, one in series with a pot a lug freed as well, a pot three joints and a new hole
perhaps."""
E24_ONLY = 2.0
"""Points that a value costs that is not in every drawer."""

ROOM = 0.20
"""Travel wanted each side of the window. [1]"""
SMOOTH, JUMPY = 1.0, 4.0
"""Widths of the window that a tenth of the travel may take: at the first it is easy to set, at
the second it is a matter of luck. [1]"""
WORST = (1.0, 3.0)
"""Dissipation at the hot end in the worst case, of the limit, that costs nothing, and that
costs all. [1]"""
NEAR_END = 0.20
"""A middle of the window nearer to an end of the travel is not near the middle. [1]"""


@dataclass(frozen=True, slots=True)
class Score:
    """What a remedy is worth.

    Parameters
    ----------
    terms : mapping of str to float
        Points lost, by shortcoming; see `WEIGHTS`. [1]
    """

    terms: Mapping[str, float]

    @property
    def total(self) -> float:
        """Points left of a hundred; below zero for what is of no use. [1]"""
        return 100.0 - sum(self.terms.values())


def score(found: Figures, way: Way | None = None, before: Way | None = None) -> Score:
    """What a remedy is worth.

    Parameters
    ----------
    found : Figures
        What it makes of the travel.
    way : Way or None
        What is done; None for nothing.
    before : Way or None
        What is done besides, before it.

    Notes
    -----
    The points lost are, with the weights above:

    - off middle: by the square of the distance of the window's middle from half travel, of
      half the travel; without a pot by the square of that from the window's middle, of half
      its width;
    - window missed: the share of it that no position reaches;
    - valves apart: the share of the window that the valves of one pot do not share;
    - little range: as far as the travel on the worse side of the window falls short of `ROOM`;
    - coarse: from `SMOOTH` to `JUMPY` windows in a tenth of the travel;
    - hot end: from the first to the second of `WORST`, at the hot end in the worst case;
    - effort and series: `EFFORT` for each part, and `E24_ONLY`.
    """
    terms = {
        "off middle": WEIGHTS["off middle"] * _off(found) ** 2,
        "window missed": WEIGHTS["window missed"] * (1.0 - found.covered),
        "valves apart": WEIGHTS["valves apart"] * found.apart,
        "little range": WEIGHTS["little range"] * _short_of_room(found),
        "coarse": WEIGHTS["coarse"] * _share(found.steepness, SMOOTH, JUMPY),
        "hot end": WEIGHTS["hot end"] * _share(found.share_worst or 0.0, *WORST),
        "effort": sum(EFFORT[w.kind] * len(w.parts) for w in (way, before) if w is not None),
        "series": 0.0 if way is None or way.is_e12 else E24_ONLY,
    }
    return Score(terms)


def serves(found: Figures) -> bool:
    """Whether the idle current wanted can be set, and not right at an end of the travel."""
    if not found.has_travel:
        return abs(found.off) <= 1.0
    middle = found.middle
    return middle is not None and NEAR_END <= middle <= 1.0 - NEAR_END


def _off(found: Figures) -> float:
    if not found.has_travel:
        return min(abs(found.off), 2.0)
    return 1.0 if found.middle is None else abs(found.middle - 0.5) / 0.5


def _short_of_room(found: Figures) -> float:
    if not found.has_travel:
        return 0.0
    return 1.0 if found.room is None else max(0.0, 1.0 - min(found.room) / ROOM)


def _share(value: float, nothing: float, all_of_it: float) -> float:
    return min(max((value - nothing) / (all_of_it - nothing), 0.0), 1.0)
