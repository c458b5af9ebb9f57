"""The idle dissipation to aim at, as typed: "60-70%"."""

from __future__ import annotations

import re

from .quantity import ValueProblem

LEAST = 0.10
"""A window that begins lower is a slip of the keyboard. [1]"""

_WINDOW = re.compile(
    r"\s*([0-9]+(?:\.[0-9]+)?)\s*%?\s*(?:-|\N{EN DASH}|\.\.|to)\s*([0-9]+(?:\.[0-9]+)?)\s*%?\s*"
)
_EXAMPLE = "write two percentages, the lower one first, such as 60-70%"
_WHY = "it is the plate dissipation to aim at, as a share of its limit"
_LONGEST = 40  # characters of a text that are shown


def read_window(text: str) -> tuple[float, float]:
    """A window as shares of the limit. [1]

    Raises
    ------
    ValueProblem
        If it is no rising pair of percentages from 10 % up to the limit.
    """
    match = _WINDOW.fullmatch(text) if len(text) <= _LONGEST else None
    if match is None:
        raise ValueProblem(f'"{text[:_LONGEST]}" is not a window', "", _EXAMPLE)
    low, high = (float(end) / 100.0 for end in match.groups())
    shown = text.strip()
    if low >= high:
        raise ValueProblem(f"{shown} does not rise", _WHY, _EXAMPLE)
    if high > 1.0:
        raise ValueProblem(f"{shown} goes beyond the limit", _WHY, "end it at 100%")
    if low < LEAST:
        raise ValueProblem(f"{shown} begins too low", _WHY, "begin it at 10% or more")
    return low, high
