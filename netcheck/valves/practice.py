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


def screen_current(valve: ValveType, i_plate: float) -> float:
    """Screen current that goes with a plate current at idle.

    Parameters
    ----------
    valve : ValveType
        The type.
    i_plate : float
        Plate current. [A]

    Returns
    -------
    float
        Screen current, from the published share. [A]
    """
    return screen_share(valve).nominal * i_plate


def cathode_current(valve: ValveType, i_plate: float) -> float:
    """What a cathode probe reads at a plate current.

    Parameters
    ----------
    valve : ValveType
        The type.
    i_plate : float
        Plate current. [A]

    Returns
    -------
    float
        Cathode current. [A]
    """
    return i_plate + screen_current(valve, i_plate)


def plate_current_from_cathode(valve: ValveType, i_cathode: float) -> float:
    """Plate current that goes with what a cathode probe reads.

    Parameters
    ----------
    valve : ValveType
        The type.
    i_cathode : float
        Cathode current. [A]

    Returns
    -------
    float
        Plate current. [A]
    """
    return i_cathode / (1.0 + screen_share(valve).nominal)


def plate_dissipation(v_plate: float, i_plate: float) -> float:
    """Idle plate dissipation.

    Parameters
    ----------
    v_plate : float
        Plate against cathode. [V]
    i_plate : float
        Plate current. [A]

    Returns
    -------
    float
        Dissipation. [W]
    """
    return v_plate * i_plate


def plate_window(
    valve: ValveType, v_plate: float, window: tuple[float, float] = WINDOW
) -> tuple[float, float]:
    """Plate currents between which the idle dissipation lies in a window.

    Parameters
    ----------
    valve : ValveType
        The type.
    v_plate : float
        Plate against cathode, above zero. [V]
    window : tuple of float
        Least and greatest share of the dissipation limit. [1]

    Returns
    -------
    tuple of float
        Least and greatest plate current. [A]
    """
    low, high = window
    return low * valve.limits.p_plate / v_plate, high * valve.limits.p_plate / v_plate
