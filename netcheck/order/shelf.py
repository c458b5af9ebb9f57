"""Values and ratings in which capacitors and rectifiers are on the shelf; common practice."""

from __future__ import annotations

import math
from collections.abc import Sequence

ELECTROLYTIC_VOLTS = (
    25.0, 35.0, 50.0, 63.0, 100.0, 160.0, 200.0, 250.0, 350.0, 400.0, 450.0, 500.0,
)  # fmt: skip
"""Usual ratings of electrolytics. [V]"""
FILM_VOLTS = (63.0, 100.0, 160.0, 250.0, 400.0, 630.0, 1000.0, 1600.0)
"""Usual ratings of film capacitors. [V]"""
FIGURES = (1.0, 2.2, 3.3, 4.7)
"""Usual values of electrolytics in each decade. [uF]"""
RESERVE = 1.25
"""A capacitor is rated for so many times the largest volts across it. [1]"""
V_REVERSE_RESERVE = 2.0
"""A rectifier is rated for so many times the volts that it blocks: the mains has spikes. [1]"""
RECTIFIER, V_RECTIFIER = "1N4007", 1000.0
"""What a bias supply takes, and its reverse volts (data sheet; from memory). [V]"""
ZENER_POWERS = (0.5, 1.3, 5.0)
"""Usual ratings of zeners. [W]"""
_AS_GOOD = 0.9  # today's 47 uF stands for the 50 uF of old [1]


def rating(usual: Sequence[float], least: float) -> float | None:
    """The smallest usual rating that is not below `least`; None if none is. [V] or [W]"""
    return next((one for one in usual if one >= least * (1.0 - 1e-9)), None)


def electrolytic(c: float) -> float:
    """The usual value of an electrolytic: the same or somewhat more.

    Parameters
    ----------
    c : float
        As drawn. [F]

    Returns
    -------
    float
        [F]
    """
    micro = c * 1e6
    decade = math.floor(math.log10(micro))
    every = (float(f"{figure}e{decade + k}") for k in (-1, 0, 1) for figure in FIGURES)
    return float(f"{next(one for one in every if one >= _AS_GOOD * micro)}e-6")
