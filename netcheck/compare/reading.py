"""One reading beside what the drawing says."""

from __future__ import annotations

from dataclasses import dataclass

from ..readings import OVERLOAD, Reading
from ..readout.junctions import Conduction


@dataclass(frozen=True, slots=True)
class Compared:
    """One reading beside what the drawing says.

    Parameters
    ----------
    reading : Reading
        What was read.
    predicted : float or None
        What the meter would show on the chassis as drawn, `OVERLOAD` for OL; None where the
        drawing does not tell. [SI]
    band : (float, float) or None
        Between these it lies on 95 of 100 sound chassis, the error of the meter included; None
        where only the drawn value is known. [SI]
    deviation : float or None
        Distance from the mean of sound chassis, in standard deviations of chassis and meter
        together. [1]
    apart : float or None
        Distance from what the other readings say of a sound chassis, in standard deviations of
        what is then left open; those that carry a disagreement are left aside if the rest then
        agrees. None for what does not count towards the verdict. [1]
    conduction : tuple of Conduction
        Ways in which junctions may conduct while this resistance is read.
    explained : bool
        Whether a conducting junction explains the reading, which therefore does not count.
    """

    reading: Reading
    predicted: float | None
    band: tuple[float, float] | None = None
    deviation: float | None = None
    apart: float | None = None
    conduction: tuple[Conduction, ...] = ()
    explained: bool = False

    @property
    def difference(self) -> float | None:
        """Measured less predicted; None with OL or without a prediction. [SI]"""
        if self.predicted is None or OVERLOAD in (self.predicted, self.reading.nominal):
            return None
        return self.reading.nominal - self.predicted

    @property
    def share(self) -> float | None:
        """Measured over predicted, less 1; None where the prediction is nothing. [1]"""
        if self.difference is None or not self.predicted:
            return None
        return self.difference / self.predicted

    @property
    def is_outside(self) -> bool:
        """Whether it lies outside the band."""
        return self.band is not None and not self.band[0] <= self.reading.nominal <= self.band[1]
