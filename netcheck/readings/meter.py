"""Meters, and how far a reading of one may be off."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from ..source import NOWHERE, Span


class Function(Enum):
    """What a meter is switched to."""

    DC_VOLTS = "dcv"
    AC_VOLTS = "acv"
    CURRENT = "amps"
    OHMS = "ohms"
    CAPACITANCE = "capacitance"


@dataclass(frozen=True, slots=True)
class Range:
    """A range of a meter.

    Parameters
    ----------
    full : float
        The largest value it shows. [SI unit of the function]
    resolution : float or None
        What its last digit is worth; None if not stated. [SI unit of the function]
    """

    full: float
    resolution: float | None = None


@dataclass(frozen=True, slots=True)
class Accuracy:
    """The limits of error of one function of a meter, as its data sheet states them.

    Parameters
    ----------
    share : float
        Of the reading, or of full scale for a pointer instrument. [1]
    digits : float
        Steps of the last digit on top. [count]
    ranges : tuple of Range
        Its ranges, the smallest first; empty if not stated.
    of_full_scale : bool
        Whether `share` is of full scale.
    """

    share: float
    digits: float = 0.0
    ranges: tuple[Range, ...] = ()
    of_full_scale: bool = False

    def range_for(self, size: float) -> Range | None:
        """The smallest range that holds a value of this size, else the largest; None if none."""
        holding = (r for r in self.ranges if size <= r.full * 1.0000001)
        return next(holding, self.ranges[-1] if self.ranges else None)


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """How far a reading may be off.

    Parameters
    ----------
    gain : float
        Limit of error in proportion to the reading: the same for all readings of one meter
        on one function, or nearly so. [1]
    floor : float
        Limit of error beside that: digits, the pointer's scale, half the last digit read. [SI]
    """

    gain: float
    floor: float


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter.

    Parameters
    ----------
    name : str
        As typed, such as "dmm".
    r_input : float
        Input resistance on volts; for a pointer instrument see `ohm_per_volt`. [ohm]
    ohm_per_volt : float or None
        Of a pointer instrument, whose resistance is this times the range's full scale;
        None for one whose resistance is the same on every range. [ohm/V]
    accuracy : mapping of Function to Accuracy
        What was stated of each function; `ASSUMED` where nothing was.
    v_test : float or None
        Open-circuit volts at its leads on ohms; None if not stated. [V]
    """

    name: str
    r_input: float = 10e6
    ohm_per_volt: float | None = None
    accuracy: Mapping[Function, Accuracy] = field(default_factory=dict)
    v_test: float | None = None
    span: Span = field(default=NOWHERE, compare=False, repr=False)

    def on(self, function: Function) -> Accuracy:
        """The accuracy on a function, stated or assumed."""
        return self.accuracy.get(function, ASSUMED[function])

    def resistance(self, function: Function, size: float) -> float:
        """What the meter puts across its leads while it reads volts of this size. [ohm]"""
        if self.ohm_per_volt is None:
            return self.r_input
        span = self.on(function).range_for(size)
        return self.ohm_per_volt * (span.full if span is not None else max(size, 1.0))

    def uncertainty(self, function: Function, nominal: float, last_digit: float) -> Uncertainty:
        """How far a reading may be off.

        Parameters
        ----------
        function : Function
            What the meter was switched to.
        nominal : float
            What it showed. [SI]
        last_digit : float
            One step of the last digit that was written down. [SI]
        """
        accuracy = self.on(function)
        span = accuracy.range_for(abs(nominal))
        resolution = last_digit
        if span is not None and span.resolution is not None:
            # A finer digit was read on a range that is not stated.
            resolution = min(span.resolution, last_digit or span.resolution)
        floor = accuracy.digits * resolution
        gain = accuracy.share
        if accuracy.of_full_scale:
            floor += accuracy.share * (span.full if span is not None else abs(nominal))
            gain = 0.0
        # What was rounded when it was written down is off by half a step on top.
        return Uncertainty(gain, math.hypot(floor, 0.5 * max(last_digit, resolution)))


ASSUMED: Mapping[Function, Accuracy] = {
    Function.DC_VOLTS: Accuracy(0.005, 2),
    Function.AC_VOLTS: Accuracy(0.01, 3),
    Function.CURRENT: Accuracy(0.015, 3),
    Function.OHMS: Accuracy(0.01, 2),
    Function.CAPACITANCE: Accuracy(0.04, 5),
}
"""Of a usual hand-held digital multimeter of 3 1/2 digits; common practice."""

UNSTATED = Meter("meter")
"""The meter of a sheet that states none: 10 Mohm, with the accuracy assumed."""
