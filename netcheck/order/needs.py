"""Why a part is to be ordered: what the drawing, its years and a simulation tell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..finding import Finding
from ..graph import Section
from ..netlist import Capacitor, Circuit, Diode, Part, Pot, Resistor
from ..quantity import Dimension, show, show_part
from ..remedy.ratings import dissipated
from ..rules import check
from ..source import NOWHERE
from . import shelf
from .bearing import Bearing
from .purchase import Purchase, replacement

PRACTICE = "common practice"
SURGE = 1.15
"""An electrolytic stands so many times its rating for a short while, which the loss of its load
is (IEC 60384-4; from memory). [1]"""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why, in a sentence, and by what rule.

    Parameters
    ----------
    text : str
        What follows the part's name: no capital, no full stop.
    source : str
        Where the rule comes from: "common practice", "the readings", "simulation".
    """

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Need:
    """A part that is needed.

    Parameters
    ----------
    part : str
        In place of what, or for what: "R3", "V1 and V2".
    purchase : Purchase
        What is bought.
    reason : Reason
        Why.
    condition : str
        What has to be found first; empty if it is needed in any case.
    count : int
        How many. [count]
    is_own_value : bool
        Whether it has another value than the drawing: then it stands whatever else is needed.
    """

    part: str
    purchase: Purchase
    reason: Reason
    condition: str = ""
    count: int = 1
    is_own_value: bool = False


def drawing_needs(section: Section, bearing: Bearing, year: int) -> Iterator[Need]:
    """What age and ratings ask for.

    Parameters
    ----------
    section : Section
        As drawn.
    bearing : Bearing
        What the parts have to bear.
    year : int
        In which the list is made. [year]
    """
    found = check(section, bearing.loaded)
    for part in section.circuit.parts:
        bought = replacement(part, bearing)
        if bought is None:
            continue
        own = {finding.slug for finding in found if _is_at(finding, part)}
        for reason in _reasons(part, own, bearing, bought, year):
            yield Need(part.name, bought, reason)


def _is_at(finding: Finding, part: Part) -> bool:
    return finding.span != NOWHERE and finding.span in (part.span, *part.marks.values())


def _reasons(part: Part, slugs: set[str], bearing: Bearing, bought: Purchase, year: int
             ) -> Iterator[Reason]:  # fmt: skip
    if isinstance(part, Capacitor):
        yield from _of_capacitor(part, slugs, bearing, year)
    elif isinstance(part, Diode) and part.material != "selenium" and "reverse-volts" in slugs:
        v = show(bearing.stress(part.name).v_forward, Dimension.VOLT)
        yield Reason(f"blocks up to {v} at high mains, and is bought for twice that", PRACTICE)
    if "dissipation" in slugs:
        yield _burns(part, bearing)
    if "working-volts" in slugs:
        v = show(bearing.stress(part.name).v_peak, Dimension.VOLT)
        need = "a larger style" if bought.v_rated is None else "that working voltage"
        yield Reason(f"has up to {v} across it, more than its style stands: {need}, or two in "
                     "series", PRACTICE)  # fmt: skip


def _of_capacitor(part: Capacitor, slugs: set[str], bearing: Bearing, year: int
                  ) -> Iterator[Reason]:  # fmt: skip
    if "electrolytic-old" in slugs and part.year is not None:
        yield Reason(f"of {part.year}, {year - part.year} years old; electrolytics are replaced "
                     "after 15 to 20, by the same or somewhat more", PRACTICE)  # fmt: skip
        yield Reason(f"{volts_words(part, bearing)}; bought for {shelf.RESERVE:g} times that, and "
                     "no less than was fitted", PRACTICE)  # fmt: skip
    if part.v_rated is None:
        return
    unloaded = bearing.unloaded.get(part.name, 0.0)
    is_over = part.polarised and not bearing.is_dropped and unloaded > SURGE * part.v_rated
    if "capacitor-volts" in slugs or is_over:
        yield Reason(f"is rated {show_part(part.v_rated, Dimension.VOLT)} and has "
                     f"{volts_words(part, bearing)}; it is bought for {shelf.RESERVE:g} times that",
                     PRACTICE)  # fmt: skip


def volts_words(part: Capacitor, bearing: Bearing) -> str:
    """What a capacitor bears: "up to 65.3 V at high mains, 68.3 V if its load breaks"."""
    loaded, unloaded = bearing.stress(part.name).v_peak, bearing.unloaded.get(part.name, 0.0)
    told = f"up to {show(loaded, Dimension.VOLT)} at high mains"
    if unloaded > 1.01 * loaded and not bearing.is_dropped:
        told += f", {show(unloaded, Dimension.VOLT)} if its load breaks"
    return told


def _burns(part: Part, bearing: Bearing) -> Reason:
    stress = bearing.stress(part.name)
    p = dissipated(part, stress) if isinstance(part, Resistor | Pot) else stress.power
    power: float = getattr(part, "power", None) or 0.0
    return Reason(f"dissipates up to {show(p, Dimension.WATT)} at high mains and is rated "
                  f"{show_part(power, Dimension.WATT)}; it is bought for twice that",
                  PRACTICE)  # fmt: skip


def dated(circuit: Circuit, year: int) -> Circuit:
    """A circuit in which every part without a year of its own is of one year. [year]"""
    parts = (part if part.year is not None else replace(part, year=year) for part in circuit.parts)
    return replace(circuit, parts=tuple(parts))
