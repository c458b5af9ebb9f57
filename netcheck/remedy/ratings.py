"""What a new part has to bear, and the rating to buy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..derating import (
    POWER_SHARE,
    POWERS,
    V_STYLE_MOST,
    VOLTS_SHARE,
    power_to_buy,
    style_volts,
)
from ..netlist import Capacitor, Circuit, Pot, Resistor
from ..stress import Stress

_LEAST = 0.25  # the smallest that one solders by hand [W]
_MORE = 1.05  # what a part bore before is not held against a remedy [1]


@dataclass(frozen=True, slots=True)
class Buy:
    """A part to buy.

    Parameters
    ----------
    name : str
        Its name in the circuit.
    r : float
        Resistance. [ohm]
    p : float
        Its greatest dissipation, mains and windings at the top of their tolerance; of a pot
        counted for the whole track. [W]
    v_peak : float
        The greatest volts across it there. [V]
    power : float
        Rating to buy. [W]
    v_working : float or None
        Working volts that it must have; None where any part of that power has them. [V]
    is_pot : bool
        Whether it is a pot.
    """

    name: str
    r: float
    p: float
    v_peak: float
    power: float
    v_working: float | None
    is_pot: bool


def buy(part: Resistor | Pot, stress: Stress, *, as_drawn: bool = False) -> Buy:
    """The rating to buy of a part.

    Parameters
    ----------
    part : Resistor or Pot
        The part.
    stress : Stress
        What it has to bear.
    as_drawn : bool
        Whether it is to have the rating that is drawn, at least.
    """
    p = dissipated(part, stress)
    power = power_to_buy(p, max(_LEAST, (part.power or 0.0) if as_drawn else 0.0))
    if isinstance(part, Pot):
        return Buy(part.name, part.r, p, stress.v_peak, power, None, True)
    bears = [w for w in POWERS if w >= power and _stands(w) >= stress.v_peak]
    if bears:
        return Buy(part.name, part.r, p, stress.v_peak, bears[0], None, False)
    return Buy(part.name, part.r, p, stress.v_peak, power, stress.v_peak / VOLTS_SHARE, False)


def dissipated(part: Resistor | Pot, stress: Stress) -> float:
    """What counts as the dissipation of a part: a pot's for the whole track. [W]"""
    if isinstance(part, Pot):
        return max(stress.power, stress.i_rms**2 * part.r)
    return stress.power


def _stands(power: float) -> float:
    """The volts that a resistor of a power may have across it. [V]"""
    return VOLTS_SHARE * (style_volts(power) or V_STYLE_MOST)


def over_stressed(
    circuit: Circuit, now: Mapping[str, Stress], before: Mapping[str, Stress]
) -> list[str]:
    """The parts that would have to bear more than they are rated for, and did not before.

    Parameters
    ----------
    circuit : Circuit
        With the remedy in it.
    now, before : mapping of part name to Stress
        What parts bear with the remedy and without it.
    """
    found = []
    for part in circuit.parts:
        if part.name not in now:
            continue
        load = _load(part, now[part.name])
        was = _load(part, before[part.name]) if part.name in before else 0.0
        if load > 1.0 and load > _MORE * was:
            found.append(part.name)
    return found


def _load(part: object, stress: Stress) -> float:
    """What a part bears, of what it may. [1]"""
    if isinstance(part, Resistor | Pot) and part.power is not None:
        return dissipated(part, stress) / (POWER_SHARE * part.power)
    if isinstance(part, Capacitor) and part.v_rated is not None:
        return stress.v_peak / part.v_rated
    return 0.0
