"""Where the window falls in the travel, and what goes with it: of many circuits at once."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from ..engine.elements import Floats
from .aim import Aim, Mark

POSITIONS = 11
"""Positions at which the grids are predicted: every tenth of the travel. [count]"""
_FINE = 401  # positions between which crossings are sought
_TENTH = 0.1  # of the travel, in which the sensitivity is stated


@dataclass(frozen=True, slots=True)
class Fall:
    """Where the window of one valve, or of one wanted grid voltage, falls.

    Parameters
    ----------
    mark : Mark
        What is wanted.
    inside : (float, float) or None
        The stretch of travel within the window; None where there is none. [1]
    middle : float or None
        The position of its middle; None where it is beyond an end. [1]
    covered : float
        Share of the window's volts that the travel reaches. [1]
    off : float
        Without a pot: how far the grid is from the middle, in half widths of the window;
        positive where too hot. 0 with one. [1]
    steepness : float
        Widths of the window, in volts, that a tenth of the travel takes at its middle. [1]
    i_per_tenth, v_per_tenth : float or None
        Change of the cathode current and of the grid in a tenth of the travel, about the
        middle; None where that is not reached, or no valve is modelled. [A], [V]
    share_most : float or None
        Greatest dissipation over the travel, of the limit. [1]
    v_least, v_most : float
        The most and the least negative grid voltage over the travel. [V]
    """

    mark: Mark
    inside: tuple[float, float] | None
    middle: float | None
    covered: float
    off: float
    steepness: float
    i_per_tenth: float | None
    v_per_tenth: float | None
    share_most: float | None
    v_least: float
    v_most: float


@dataclass(frozen=True, slots=True)
class Figures:
    """What one circuit makes of the travel.

    Parameters
    ----------
    falls : tuple of Fall
        One for each mark.
    inside : (float, float) or None
        The stretch of travel in which all valves that hang on one pot are within their windows
        at once; of several pots that of the worst; None where there is none. [1]
    apart : float
        Share of the narrowest window that the others do not have in common with it. [1]
    has_travel : bool
        Whether there is a pot.
    share_worst : float or None
        Greatest dissipation at an end of the travel with all parts at a limit of their
        tolerances and the mains high, of the limit. [1]
    """

    falls: tuple[Fall, ...]
    inside: tuple[float, float] | None
    apart: float
    has_travel: bool
    share_worst: float | None

    @property
    def middle(self) -> float | None:
        """The position of the middle that lies farthest from half travel. [1]"""
        middles = [fall.middle for fall in self.falls]
        if any(middle is None for middle in middles):
            return None
        return max((m for m in middles if m is not None), key=lambda m: abs(m - 0.5))

    @property
    def covered(self) -> float:
        """Share of the window that is reached, of the valve that fares worst. [1]"""
        return min(fall.covered for fall in self.falls)

    @property
    def off(self) -> float:
        """The largest distance from the window's middle where there is no pot. [1]"""
        return max((fall.off for fall in self.falls), key=abs)

    @property
    def steepness(self) -> float:
        """Of the valve that is set most coarsely. [1]"""
        return max(fall.steepness for fall in self.falls)

    @property
    def share_most(self) -> float | None:
        """Greatest dissipation over the travel, parts and mains as stated. [1]"""
        shares = [fall.share_most for fall in self.falls if fall.share_most is not None]
        return max(shares, default=None)

    @property
    def room(self) -> tuple[float, float] | None:
        """Travel left anticlockwise and clockwise of the window. [1]"""
        stretches = [fall.inside for fall in self.falls]
        if not self.has_travel or any(stretch is None for stretch in stretches):
            return None
        both = [stretch for stretch in stretches if stretch is not None]
        return min(s[0] for s in both), min(1.0 - s[1] for s in both)

    @property
    def is_common(self) -> bool:
        """Whether valves on one pot can be in their windows at once."""
        return self.inside is not None or not self.has_travel

    @property
    def over_runs(self) -> bool:
        """Whether some position alone, all else as stated, over-runs a valve."""
        return self.share_most is not None and self.share_most > 1.0


def figures(goal: Aim, v: Floats, shared: Sequence[Sequence[int]],
            worst: Sequence[float | None]) -> list[Figures]:  # fmt: skip
    """What circuits make of the travel.

    Parameters
    ----------
    goal : Aim
        What is wanted.
    v : array, shape (circuits, positions, watched)
        Mean grid voltages at `POSITIONS` even positions, or at one without a pot. [V]
    shared : sequence of sequence of int
        Marks, by their place, that one pot sets together; every mark is in one. [count]
    worst : sequence of float or None
        Of each circuit, see `Figures`. [1]
    """
    has_travel = v.shape[1] > 1
    fine = np.einsum("tp,cpw->ctw", _between(v.shape[1]), v) if has_travel else v
    falls = [_falls(mark, fine[:, :, mark.column]) for mark in goal.marks]
    return [
        _together([column[k] for column in falls], shared, has_travel, worst[k])
        for k in range(v.shape[0])
    ]


@functools.cache
def _between(positions: int) -> Floats:
    """What makes fine positions of a few, shape (`_FINE`, positions): a cubic spline."""
    at = np.linspace(0.0, 1.0, positions)
    return np.asarray(CubicSpline(at, np.eye(positions))(np.linspace(0.0, 1.0, _FINE)))


def _falls(mark: Mark, v: Floats) -> list[Fall]:
    """Where one window falls in many circuits; `v` has the shape (circuits, fine)."""
    low, high = v.min(axis=1), v.max(axis=1)
    width = mark.v_hot - mark.v_cold
    reached = np.minimum(high, mark.v_hot) - np.maximum(low, mark.v_cold)
    covered = np.clip(reached / width, 0.0, 1.0)
    shares = None if mark.law is None else mark.law.shares(v).max(axis=1)
    if v.shape[1] == 1:
        off = (v[:, 0] - mark.v_middle) / (0.5 * width)
        return [
            Fall(mark, None, None, float(abs(off[k]) <= 1.0), float(off[k]), 0.0, None, None,
                 None if shares is None else float(shares[k]), float(low[k]), float(high[k]))
            for k in range(v.shape[0])
        ]  # fmt: skip
    middle = _crossing(v, mark.v_middle)
    ends = [_end(v, level) for level in (mark.v_cold, mark.v_hot)]
    before, after = _at(v, middle - 0.5 * _TENTH), _at(v, middle + 0.5 * _TENTH)
    span = np.clip(middle + 0.5 * _TENTH, 0, 1) - np.clip(middle - 0.5 * _TENTH, 0, 1)
    with np.errstate(invalid="ignore"):
        per_tenth = (after - before) * _TENTH / span
    found = []
    for k in range(v.shape[0]):
        inside = (float(min(ends[0][k], ends[1][k])), float(max(ends[0][k], ends[1][k])))
        is_met = bool(np.isfinite(middle[k]))
        i_step = None
        if is_met and mark.law is not None:
            step = mark.law.current(float(after[k])) - mark.law.current(float(before[k]))
            i_step = float(step) * _TENTH / float(span[k])
        found.append(Fall(
            mark,
            inside if covered[k] > 0.0 else None,
            float(middle[k]) if is_met else None,
            float(covered[k]),
            0.0,
            float(abs(per_tenth[k]) / width) if is_met else 0.0,
            i_step,
            float(per_tenth[k]) if is_met else None,
            None if shares is None else float(shares[k]),
            float(low[k]),
            float(high[k]),
        ))  # fmt: skip
    return found


def _crossing(v: Floats, level: float) -> Floats:
    """The first position at which each row passes a level, NaN where it does not. [1]"""
    above = v > level
    turns = above[:, 1:] != above[:, :-1]
    k = turns.argmax(axis=1)
    rows = np.arange(v.shape[0])
    left, right = v[rows, k], v[rows, k + 1]
    step = right - left
    with np.errstate(invalid="ignore", divide="ignore"):
        at = (k + (level - left) / step) / (v.shape[1] - 1)
    return np.where(turns.any(axis=1), at, np.nan)


def _end(v: Floats, level: float) -> Floats:
    """Where a row passes a level; where it does not, its end that comes nearest. [1]"""
    nearest = np.where(level > v.max(axis=1), v.argmax(axis=1), v.argmin(axis=1))
    at = _crossing(v, level)
    return np.where(np.isfinite(at), at, nearest / (v.shape[1] - 1))


def _at(v: Floats, where: Floats) -> Floats:
    """Each row at a position of its own, the ends beyond them. [V]"""
    last = v.shape[1] - 1
    place = np.clip(np.nan_to_num(where), 0.0, 1.0) * last
    k = np.minimum(place.astype(int), last - 1)
    rows = np.arange(v.shape[0])
    return np.asarray(v[rows, k] + (place - k) * (v[rows, k + 1] - v[rows, k]))


def _together(falls: Sequence[Fall], shared: Sequence[Sequence[int]], has_travel: bool,
              worst: float | None) -> Figures:  # fmt: skip
    """All marks of one circuit: what those on one pot have in common."""
    commons, apart = [], 0.0
    for group in shared if has_travel else ():
        stretches = [s for k in group if (s := falls[k].inside) is not None]
        if len(stretches) < len(group):
            return Figures(tuple(falls), None, 1.0 if stretches else 0.0, has_travel, worst)
        common = max(s[0] for s in stretches), min(s[1] for s in stretches)
        narrowest = min(s[1] - s[0] for s in stretches)
        if len(group) > 1 and narrowest > 0.0:
            apart = max(apart, 1.0 - max(common[1] - common[0], 0.0) / narrowest)
        commons.append(common)
    # Of pots that are set one by one, the one whose window lies farthest out.
    inside = max(commons, key=lambda s: abs(s[0] + s[1] - 1.0), default=None)
    if inside is not None and inside[1] < inside[0]:
        inside = None
    return Figures(tuple(falls), inside, apart, has_travel, worst)
