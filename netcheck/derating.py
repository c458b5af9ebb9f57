"""How far parts may be loaded in a hot chassis, and the ratings they are sold with."""

from __future__ import annotations

POWER_SHARE = 0.6
"""Of a resistor's rating that it may dissipate. Full power holds up to 70 degrees Celsius only,
which a chassis full of valves reaches; half the rating is common practice. [1]"""
VOLTS_SHARE = 0.9
"""Of a capacitor's rating, and of a resistor's working volts; common practice for something that
must never fail. [1]"""
REVERSE_SHARE = 0.8
"""Of a diode's rating: the mains has spikes; common practice. [1]"""
RESERVE_POWER = 2.0
"""A part is bought for so many times what it dissipates; common practice. [1]"""
POWERS = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 17.0, 25.0, 50.0, 100.0)
"""Usual ratings of resistors and pots. [W]"""
_STYLE_VOLTS = ((0.3, 250.0), (0.6, 350.0), (2.0, 500.0))
"""Working volts of resistor styles by their power: 1/4 W, 1/2 W, 1 W; from memory. [W], [V]"""


V_STYLE_MOST = 500.0
"""Working volts of the largest style: no resistor of high value stands more; from memory. [V]"""


def style_volts(power: float) -> float | None:
    """Working volts of a resistor's style; None for wire-wound ones, which only power limits. [V]

    Parameters
    ----------
    power : float
        Rating. [W]
    """
    return next((v for largest, v in _STYLE_VOLTS if power <= largest), None)


def power_to_buy(p: float, least: float = POWERS[0]) -> float:
    """The usual rating for a dissipation, `RESERVE_POWER` in hand. [W]

    Parameters
    ----------
    p : float
        Dissipation. [W]
    least : float
        No smaller rating than this. [W]
    """
    wanted = max(RESERVE_POWER * p, least)
    return next((rating for rating in POWERS if rating >= wanted), wanted)
