"""Curves drawn with characters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..engine.elements import Floats

WIDTH, HEIGHT = 61, 15
"""Of the field that curves are drawn in. [count]"""


def plot(travel: Floats, mean: Floats, band: tuple[Floats, Floats],
         worst: tuple[Floats, Floats] | None = None,
         marks: Sequence[tuple[float, float]] = ()) -> list[str]:  # fmt: skip
    """Volts over travel: "*" the mean, ":" the 95 % band, "." the worst case, "O" readings.

    Parameters
    ----------
    travel : array, shape (n,)
        Rotation, rising, 0 to 1. [1]
    mean : array, shape (n,)
        Predicted mean. [V]
    band : tuple of two arrays, shape (n,)
        Limits, low and high. [V]
    worst : tuple of two arrays, shape (n,), optional
        Limits, low and high; left out if not given. [V]
    marks : sequence of (travel, volts)
        Single readings. [1], [V]

    Returns
    -------
    list of str
        Lines of at most 72 characters.
    """
    at = np.linspace(travel[0], travel[-1], WIDTH)
    limits = [(".", worst), (":", band)] if worst is not None else [(":", band)]
    bands = [(sign, *(np.interp(at, travel, y) for y in pair)) for sign, pair in limits]
    curve = np.interp(at, travel, mean)
    every = np.concatenate([curve, *(y for _, *pair in bands for y in pair),
                            [volts for _, volts in marks]])  # fmt: skip
    low, high, step = round_limits(every.min(), every.max())
    field = [[" "] * WIDTH for _ in range(HEIGHT)]
    for sign, lower, upper in bands:
        _fill(field, sign, rows(upper, low, high), rows(lower, low, high))
    for column, row in enumerate(rows(curve, low, high)):
        field[row][column] = "*"
    for where, volts in marks:
        column = int(np.argmin(np.abs(at - where)))
        field[rows(np.array([volts]), low, high)[0]][column] = "O"
    ends = (f"{travel[0]:.0%}".replace("%", " %"), f"{travel[-1]:.0%}".replace("%", " %"))
    return framed(field, (low, high, step), ends, "travel, clockwise")


def rows(volts: Floats, low: float, high: float) -> list[int]:
    """The row of the field for each value between the limits, 0 at the top."""
    share = (high - volts) / (high - low)
    return [int(r) for r in np.clip(np.round(share * (HEIGHT - 1)), 0, HEIGHT - 1)]


def _fill(field: list[list[str]], sign: str, top: Sequence[int], bottom: Sequence[int]) -> None:
    for column, (first, last) in enumerate(zip(top, bottom, strict=True)):
        for row in range(first, last + 1):
            field[row][column] = sign


def round_limits(low: float, high: float) -> tuple[float, float, float]:
    """Round limits, and the step between marked values."""
    span = max(high - low, 0.5)
    power = 10.0 ** np.floor(np.log10(span / 4))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= span / 5)
    return np.floor(low / step) * step, np.ceil(high / step) * step, float(step)


def framed(field: list[list[str]], limits: tuple[float, float, float], ends: tuple[str, str],
           along: str) -> list[str]:  # fmt: skip
    """A field with its axes.

    Parameters
    ----------
    field : list of list of str
        Rows of characters, `WIDTH` a row.
    limits : (float, float, float)
        As from `round_limits`.
    ends : (str, str)
        What stands at the two ends of the axis below.
    along : str
        What that axis shows.
    """
    low, high, step = limits
    marks = {
        round((high - v) / (high - low) * (HEIGHT - 1)): v
        for v in np.arange(low, high + step / 2, step)
    }
    digits = max(0, int(-np.floor(np.log10(step))))
    lines = []
    for row, cells in enumerate(field):
        label = f"{marks[row]:>8.{digits}f}" if row in marks else " " * 8
        lines.append(f"{label} {'+' if row in marks else '|'}{''.join(cells)}".rstrip())
    lines.append(" " * 9 + "+" + "-" * WIDTH)
    lines.append(" " * 10 + ends[0] + along.center(WIDTH - len("".join(ends))) + ends[1])
    return lines
