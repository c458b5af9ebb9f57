"""Preferred values of resistors and capacitors, the E series.

References
----------
IEC 60063, preferred number series for resistors and capacitors. The tolerance that belongs
to each series, and the formula with its exception, from memory.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from decimal import Decimal
from enum import Enum
from functools import cached_property

_SAME = 1e-9
"""Two values this close are the same but for rounding, as a fraction. [1]"""

_TYPED = {
    "E3": "10 22 47",
    "E6": "10 15 22 33 47 68",
    "E12": "10 12 15 18 22 27 33 39 47 56 68 82",
    "E24": "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91",
}
_ROUND = (100, 160, 200, 250, 300, 320, 400, 500, 600, 800)


def _by_formula(steps: int) -> tuple[int, ...]:
    """Three figures each; the standard has 920 where the formula gives 919."""
    figures = (round(100 * 10 ** (i / steps)) for i in range(steps))
    return tuple(920 if n == 919 and steps == 192 else n for n in figures)


class Series(Enum):
    """A series, by the number of values to the decade."""

    E3 = 3
    E6 = 6
    E12 = 12
    E24 = 24
    E48 = 48
    E96 = 96
    E192 = 192

    @cached_property
    def figures(self) -> tuple[int, ...]:
        """The values of one decade, from 100 to below 1000."""
        typed = _TYPED.get(self.name)
        if typed is None:
            return _by_formula(self.value)
        return tuple(10 * int(n) for n in typed.split())

    @property
    def tolerance(self) -> float:
        """The tolerance, as a fraction, at which the values of the series just meet."""
        return _TOLERANCES[self]


_TOLERANCES = {
    Series.E3: 0.4,
    Series.E6: 0.2,
    Series.E12: 0.1,
    Series.E24: 0.05,
    Series.E48: 0.02,
    Series.E96: 0.01,
    Series.E192: 0.005,
}


def series_for(tolerance: float | None) -> Series:
    """The series in which parts of a tolerance are made.

    Between two tolerances it is the finer series, and E24 where the tolerance is not known.

    Parameters
    ----------
    tolerance : float or None
        As a fraction. [1]

    Returns
    -------
    Series
    """
    if tolerance is None:
        return Series.E24
    reach = tolerance * (1 + _SAME)
    return next((series for series in Series if series.tolerance <= reach), Series.E192)


def is_preferred(value: float, series: Series) -> bool:
    """Whether the value is one of the series, in any decade.

    Raises
    ------
    ValueError
        As in all functions here, if the value is not positive or beyond 1e-30 to 1e30.
    """
    return _is_same(_at(_first_from(value, series), series), value)


def is_usual(value: float, tolerance: float | None) -> bool:
    """Whether parts of this tolerance are made with this value.

    Close-tolerance parts come in the values of E24 as well as of their own series.
    """
    series = series_for(tolerance)
    usual = (series,) if series.value <= Series.E24.value else (series, Series.E24)
    return any(is_preferred(value, one) for one in usual)


def is_round(value: float) -> bool:
    """Whether it is a round value as on pots and on parts older than the E series.

    1, 2, 2.5, 3, 4, 5, 6 and for electrolytics 8, 16 and 32; common practice, from memory.
    """
    figure = value / 10.0 ** (_decade(value) - 2)
    return any(_is_same(figure, one) for one in (*_ROUND, 1000))


def neighbours(value: float, series: Series) -> tuple[float, float]:
    """The next value of the series below, and the next above; never the value itself."""
    index = _first_from(value, series)
    above = index + 1 if _is_same(_at(index, series), value) else index
    return _at(index - 1, series), _at(above, series)


def nearest(value: float, series: Series) -> float:
    """The value of the series that is nearest by ratio."""
    index = _first_from(value, series)
    above, below = _at(index, series), _at(index - 1, series)
    return above if above / value < value / below else below


def values_between(lowest: float, highest: float, series: Series) -> tuple[float, ...]:
    """The values of the series from `lowest` to `highest`, both included, ascending."""
    first, after = _first_from(lowest, series), _first_from(highest, series)
    if _is_same(_at(after, series), highest):
        after += 1
    return tuple(_at(index, series) for index in range(first, after))


def parallel(a: float, b: float) -> float:
    """Resistance of two resistors in parallel, in the unit of both."""
    return a * b / (a + b)


def likely_meant(value: float, series: Series) -> list[tuple[float, str]]:
    """What may have been meant by a value that is not of the series.

    Parameters
    ----------
    value : float
        As read.
    series : Series
        In which the part is made.

    Returns
    -------
    list of tuple of (float, str)
        Value and reason, the likeliest first; empty for a value of the series.
    """
    if is_preferred(value, series):
        return []
    meant = {
        swapped: "two figures swapped"
        for swapped in _swapped(value)
        if is_preferred(swapped, series)
    }
    meant.setdefault(nearest(value, series), f"the nearest of {series.name}")
    return list(meant.items())


def _swapped(value: float) -> list[float]:
    """The value with two neighbouring figures swapped, of up to three."""
    _, figures, exponent = Decimal(repr(float(value))).normalize().as_tuple()
    if len(figures) > 3:
        return []
    swapped = []
    for i in range(len(figures) - 1):
        other = (*figures[:i], figures[i + 1], figures[i], *figures[i + 2 :])
        if other != figures and other[0] != 0:
            swapped.append(float(Decimal((0, other, int(exponent)))))
    return swapped


def _decade(value: float) -> int:
    if not 1e-30 <= value <= 1e30:
        raise ValueError(f"{value!r} is not the value of a part")
    return math.floor(math.log10(value))


def _first_from(value: float, series: Series) -> int:
    """Index of the first value of the series that is not below `value`; see `_at`."""
    decade = _decade(value)
    figure = value / 10.0 ** (decade - 2)
    return decade * series.value + bisect_left(series.figures, figure * (1 - _SAME))


def _at(index: int, series: Series) -> float:
    """The value at an index that counts on through the decades; 0 is 1.0."""
    decade, place = divmod(index, series.value)
    # By way of the decimal text, so that it is the very float that is read from "4k7".
    return float(f"{series.figures[place]}e{decade - 2}")


def _is_same(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=_SAME)
