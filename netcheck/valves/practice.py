"""What the trade takes for granted about idle current, and the arithmetic of it.

The cathode current is what a probe or a cathode resistor reads: plate and screen current
together. Dissipation is of the plate alone.
"""

from __future__ import annotations

from .valve_type import ScreenShare, ValveType

WINDOW = (0.60, 0.70)
"""Idle plate dissipation aimed at in fixed-bias class AB, of the limit; common practice. [1]"""

USUAL_WINDOW = (0.50, 0.70)
"""Idle plate dissipation that is accepted, of the limit; common practice. [1]"""

SAMPLE_SPREAD = 0.22
"""Standard deviation of ln(plate current) between samples of one type at equal voltages.

28 EL34 of several makers, measured at one point, had a standard deviation of 24 % of the mean;
20 to 25 % is usual across makers, a few per cent within one factory batch. [1]
"""

USUAL_SHARE = ScreenShare(0.05, 0.02, 0.15)
"""Screen share at idle where no row tells it.

Some 5 % is common practice; the bounds are those of the published rows. [1]
"""


def screen_share(valve: ValveType) -> ScreenShare:
    """Screen current for each ampere of plate current, as published or else the usual.

    Parameters
    ----------
    valve : ValveType
        The type.

    Returns
    -------
    ScreenShare
        Of plate current, not of cathode current. [1]
    """
    return valve.screen_share or USUAL_SHARE
