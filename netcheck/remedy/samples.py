"""Valves that were measured, beside an average one of their type."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..graph import Section
from ..idle.matching import Match, match
from ..idling import idle
from ..tolerance import Z_95
from ..valves.practice import SAMPLE_SPREAD
from .aim import Aim, Mark, typical

FAR = math.exp(Z_95 * SAMPLE_SPREAD)
"""A current so many times that of an average valve, or less than one over it, is drawn by one
sample of twenty. [1]"""


@dataclass(frozen=True, slots=True)
class Sample:
    """A valve that was measured.

    Parameters
    ----------
    name : str
        The valve.
    v_grid : float
        The grid voltage at which an average valve idles in the middle of the window. [V]
    i_cathode : float
        What this one draws there. [A]
    ratio : float
        The same, of what an average one draws. [1]
    """

    name: str
    v_grid: float
    i_cathode: float
    ratio: float

    @property
    def is_far(self) -> bool:
        """Whether fewer than one sample of twenty draws so much, or so little."""
        return not 1.0 / FAR <= self.ratio <= FAR


def samples(section: Section, goal: Aim) -> Iterator[Sample]:
    """The valves that were measured.

    Parameters
    ----------
    section : Section
        The section.
    goal : Aim
        What is wanted.
    """
    for mark in goal.marks:
        if mark.valve is not None and mark.law is not None and mark.valve.valve.readings:
            yield _sample(section, mark)


def _sample(section: Section, mark: Mark) -> Sample:
    assert mark.valve is not None
    assert mark.law is not None
    average = typical(mark.valve)
    v = mark.law.v_grid
    (drawn,) = idle([average], [v], section.circuit.high_tension)
    wanted = float(mark.law.shares(mark.v_middle))
    share = drawn.p_plate / average.type.limits.p_plate
    v_grid = float(np.interp(wanted, share, v))
    i_average = float(np.interp(v_grid, v, drawn.i_cathode))
    i_cathode = float(mark.law.current(v_grid))
    return Sample(mark.name, v_grid, i_cathode, i_cathode / i_average)


def matching(found: Sequence[Sample]) -> Match | None:
    """How well valves match that were measured, at one grid voltage; None for fewer than two."""
    return match([one.i_cathode for one in found]) if len(found) > 1 else None
