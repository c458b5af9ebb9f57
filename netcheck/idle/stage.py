"""Output valves at work: their volts, the limits and the window that count, the verdicts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from ..valves import Kind, Limits, ValveType
from ..valves.practice import USUAL_WINDOW, WINDOW, screen_share

NEAREST = 0.005
"""Shares of a limit are judged, as they are shown, to the nearest percent. [1]"""

_CATHODE_BIAS = 30.0
"""Resistors for measuring have 1 to 10 ohm; one above this biases the valve. [ohm]"""


class Verdict(StrEnum):
    """What a plate dissipation is, against the window and the limit."""

    COLD = "cold"
    USUAL = "usual"
    """Outside of the window, but within the usual 50 to 70 %."""
    FINE = "fine"
    HOT = "hot"
    BEYOND = "beyond the limit"


class Spread(NamedTuple):
    """A figure and the range that it may lie in.

    Parameters
    ----------
    nominal, low, high : float
        The figure, and its bounds. [SI unit]
    """

    nominal: float
    low: float
    high: float

    def mapped(self, function: Callable[[float], float]) -> Spread:
        """What a function, rising or falling, makes of it."""
        ends = function(self.low), function(self.high)
        return Spread(function(self.nominal), min(ends), max(ends))


@dataclass(frozen=True, slots=True)
class Stage:
    """Output valves of one type, and what they are measured against.

    Parameters
    ----------
    valve : ValveType
        Their type.
    v_plate : float
        Plate against ground. [V]
    v_screen : float or None
        Screen against ground; None for a triode, or if not measured. [V]
    v_grid : float or None
        Grid against ground; None if not measured. [V]
    r_cathode : float
        Of each valve's own cathode resistor; 0 for none. [ohm]
    window : tuple of float or None
        Least and greatest share of the dissipation limit to aim at; None for what common
        practice aims at in class AB with fixed bias. [1]
    absolute : bool
        Count from the absolute limits, which the type must have, not from the design limits.
    """

    valve: ValveType
    v_plate: float
    v_screen: float | None = None
    v_grid: float | None = None
    r_cathode: float = 0.0
    window: tuple[float, float] | None = None
    absolute: bool = False

    @property
    def limits(self) -> Limits:
        """The limits that are counted from."""
        counted = self.valve.absolute if self.absolute else self.valve.limits
        assert counted is not None, "asked for absolute limits that are not known"
        return counted

    @property
    def aim(self) -> tuple[float, float]:
        """Least and greatest share of the dissipation limit to aim at. [1]"""
        return self.window or WINDOW

    @property
    def has_screen(self) -> bool:
        """False for a triode."""
        return self.valve.kind is not Kind.TRIODE

    @property
    def share(self) -> Spread:
        """Screen current for each ampere of plate current. [1]"""
        share = screen_share(self.valve)
        return Spread(share.nominal, share.low, share.high)

    @property
    def v_screen_taken(self) -> float | None:
        """Screen volts for the model: as measured, else those of the plate; 0 for a triode.

        None where neither is to be had, since the screen limit forbids the plate volts. [V]
        """
        if not self.has_screen:
            return 0.0
        if self.v_screen is not None:
            return self.v_screen
        limit = self.limits.v_screen
        return None if limit is None or exceeds(self.v_plate, limit) else self.v_plate

    @property
    def has_model(self) -> bool:
        """Whether a grid voltage can be told."""
        return bool(self.valve.rows) and self.v_screen_taken is not None

    @property
    def highest_dissipation(self) -> float:
        """More than this no plate can dissipate behind the cathode resistor. [W]"""
        if not self.r_cathode:
            return float("inf")
        return self.v_plate**2 / (4.0 * (1.0 + self.share.high) * self.r_cathode)

    @property
    def has_cathode_bias(self) -> bool:
        """Whether the cathode resistor is there for the bias and not for measuring."""
        return self.r_cathode > _CATHODE_BIAS


def exceeds(figure: float, limit: float) -> bool:
    """Whether a figure is above a limit, to the nearest percent."""
    return figure > limit * (1.0 + NEAREST)


def verdict(stage: Stage, of_limit: float) -> Verdict:
    """Judge a plate dissipation.

    Parameters
    ----------
    stage : Stage
        Whose window counts.
    of_limit : float
        Share of the dissipation limit. [1]

    Returns
    -------
    Verdict
        To the nearest percent.
    """
    low, high = stage.aim
    if exceeds(of_limit, 1.0):
        return Verdict.BEYOND
    if _within(of_limit, low, high):
        return Verdict.FINE
    if _within(of_limit, *USUAL_WINDOW):
        return Verdict.USUAL
    return Verdict.COLD if of_limit < low else Verdict.HOT


def _within(share: float, low: float, high: float) -> bool:
    return low - NEAREST <= share <= high + NEAREST
