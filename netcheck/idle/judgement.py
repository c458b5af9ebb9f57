"""The window to aim at, and what a measured cathode current means."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from .samples import SAMPLES, average_current, grid_for
from .stage import Spread, Stage, Verdict, verdict

_LEAST_SHIFTED = 0.5e-3
"""Below this plate current the curve's tail is no guide to the grid voltage. [A]"""


@dataclass(frozen=True, slots=True)
class Target:
    """Currents at which the plate dissipates a certain share of its limit.

    Parameters
    ----------
    share : float
        Of the dissipation limit. [1]
    p_plate : float
        Plate dissipation. [W]
    i_plate : Spread
        Plate current; it has a range only where a cathode resistor takes volts away. [A]
    i_cathode : Spread
        Cathode current, over the range of the screen share. [A]
    v_grid : Spread or None
        Grid against ground, of the average valve and of 95 of 100 samples; None where no
        model can tell. [V]
    """

    share: float
    p_plate: float
    i_plate: Spread
    i_cathode: Spread
    v_grid: Spread | None


@dataclass(frozen=True, slots=True)
class Judged:
    """What a cathode current means.

    Parameters
    ----------
    name : str
        Of the valve.
    i_cathode : float
        Cathode current as measured. [A]
    i_plate, i_screen : Spread
        Its parts, over the range of the screen share. [A]
    p_plate : Spread
        Plate dissipation. [W]
    of_limit : Spread
        The same as a share of the limit counted from. [1]
    p_screen : Spread or None
        Screen dissipation; None for a triode or without screen volts. [W]
    screen_of_limit : Spread or None
        The same as a share of its limit. [1]
    verdict : Verdict
        On the plate dissipation.
    against_average : float or None
        Plate current for each ampere that an average valve would draw at the measured grid
        voltage; None if that was not measured. [1]
    v_grid_change : float or None
        Roughly by how much the grid must move for the middle of the window, negative for more
        negative; None where no model can tell. [V]
    """

    name: str
    i_cathode: float
    i_plate: Spread
    i_screen: Spread
    p_plate: Spread
    of_limit: Spread
    p_screen: Spread | None
    screen_of_limit: Spread | None
    verdict: Verdict
    against_average: float | None
    v_grid_change: float | None


def target(stage: Stage, share: float) -> Target:
    """Currents and grid voltage for a share of the dissipation limit.

    Parameters
    ----------
    stage : Stage
        The valves.
    share : float
        Of the limit, above zero. [1]

    Returns
    -------
    Target
        With ranges.

    Raises
    ------
    ValueError
        If the cathode resistor leaves too few volts for this dissipation.
    """
    p_plate = share * stage.limits.p_plate
    i_plate = stage.share.mapped(lambda s: _plate_current(stage, p_plate, s))
    i_cathode = stage.share.mapped(lambda s: (1.0 + s) * _plate_current(stage, p_plate, s))
    v_grid = None
    if stage.has_model:
        v_grid = SAMPLES.mapped(lambda k: grid_for(stage, i_plate.nominal, k))
    return Target(share, p_plate, i_plate, i_cathode, v_grid)


def _plate_current(stage: Stage, p_plate: float, share: float) -> float:
    """The smaller root of (v_plate - (1 + share) r i) i = p, free of cancellation."""
    r = (1.0 + share) * stage.r_cathode
    under_root = stage.v_plate**2 - 4.0 * r * p_plate
    if under_root < 0.0:
        raise ValueError("the cathode resistor leaves too few volts for this dissipation")
    return 2.0 * p_plate / (stage.v_plate + sqrt(under_root))


def judge(stage: Stage, name: str, i_cathode: float) -> Judged:
    """What a measured cathode current means.

    Parameters
    ----------
    stage : Stage
        Where the valve works.
    name : str
        Of the valve.
    i_cathode : float
        Cathode current, zero or more. [A]

    Returns
    -------
    Judged
        With ranges.
    """
    drop = i_cathode * stage.r_cathode
    i_plate = stage.share.mapped(lambda s: i_cathode / (1.0 + s))
    i_screen = stage.share.mapped(lambda s: i_cathode * s / (1.0 + s))
    p_plate = i_plate.mapped(lambda i: (stage.v_plate - drop) * i)
    of_limit = p_plate.mapped(lambda p: p / stage.limits.p_plate)
    p_screen = screen_of_limit = None
    if stage.has_screen and stage.v_screen is not None:
        v_screen = stage.v_screen - drop
        p_screen = i_screen.mapped(lambda i: v_screen * i)
        if limit := stage.limits.p_screen:
            screen_of_limit = p_screen.mapped(lambda p: p / limit)
    against = change = None
    if stage.has_model:
        against = _against_average(stage, i_plate.nominal, drop)
        change = _grid_change(stage, i_plate.nominal, against or 1.0)
    return Judged(name, i_cathode, i_plate, i_screen, p_plate, of_limit, p_screen,
                  screen_of_limit, verdict(stage, of_limit.nominal), against, change)  # fmt: skip


def _against_average(stage: Stage, i_plate: float, drop: float) -> float | None:
    if stage.v_grid is None:
        return None
    average = average_current(stage, stage.v_grid, drop)
    # Far beyond cut-off a ratio of two leakage currents says nothing.
    return i_plate / average if average > _LEAST_SHIFTED else None


def _grid_change(stage: Stage, i_plate: float, factor: float) -> float | None:
    if i_plate < _LEAST_SHIFTED:
        return None
    middle = sum(stage.aim) / 2.0 * stage.limits.p_plate
    wanted = _plate_current(stage, middle, stage.share.nominal)
    return grid_for(stage, wanted, factor) - grid_for(stage, i_plate, factor)
