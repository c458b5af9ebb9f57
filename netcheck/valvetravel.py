"""What the pot's travel is worth: idle current and dissipation of the valves over it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from .engine.elements import Floats
from .graph import Section
from .idling import Idle, IdlingValve, idle, idling_valve
from .netlist import Valve
from .tolerance import Z_95, Band
from .valves import lookup
from .valves.practice import WINDOW

FINE = 401
"""Positions at which the ends of the window are looked for. [count]"""


class Verdict(Enum):
    """What the travel is worth for one valve."""

    COVERS = "covers the window"
    PARTLY = "covers part of the window"
    COLD = "runs out cold"
    HOT = "runs out hot"
    STEPS_OVER = "steps over the window"


@dataclass(frozen=True, slots=True)
class ValveTravel:
    """One valve over the travel of the pot.

    Parameters
    ----------
    valve : Valve
        The valve.
    idling : IdlingValve
        The same with its type and curve.
    idle : Idle
        What it does at each position of the prediction, arrays of shape (positions,).
    i_low, i_high : array, shape (positions,)
        Cathode current of 95 of 100 samples in 95 of 100 chassis lies between these. [A]
    window : (float, float)
        The dissipation wanted, as shares of the limit. [1]
    inside : (float, float) or None
        The stretch of travel in which the dissipation lies in the window. [1]
    middle : float or None
        Where in the travel the middle of the window falls; None if it does not. [1]
    over : (float, float) or None
        The stretch of travel in which the dissipation is beyond the limit. [1]
    share_least, share_most : float
        Least and greatest dissipation over the travel, as shares of the limit. [1]
    i_least, i_most : float
        Cathode currents at those positions. [A]
    at_least, at_most : float
        The positions. [1]
    """

    valve: Valve
    idling: IdlingValve
    idle: Idle
    i_low: Floats
    i_high: Floats
    window: tuple[float, float]
    inside: tuple[float, float] | None
    middle: float | None
    over: tuple[float, float] | None
    share_least: float
    share_most: float
    i_least: float
    i_most: float
    at_least: float
    at_most: float

    @property
    def limit(self) -> float:
        """Plate dissipation allowed by the data sheet. [W]"""
        return self.idling.type.limits.p_plate

    @property
    def verdict(self) -> Verdict:
        """What the travel is worth, in one word."""
        low, high = self.window
        if self.share_most < low:
            return Verdict.COLD
        if self.share_least > high:
            return Verdict.HOT
        if self.inside is None:
            return Verdict.STEPS_OVER
        return Verdict.COVERS if self.share_least <= low and self.share_most >= high else (
            Verdict.PARTLY)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ValvesTravel:
    """All valves over the travel.

    Parameters
    ----------
    valves : tuple of ValveTravel
        Those that can be modelled.
    left_out : mapping of valve name to str
        Why others cannot.
    constant_plate : bool
        True if the plate volts were taken as constant.
    """

    valves: tuple[ValveTravel, ...]
    left_out: Mapping[str, str]
    constant_plate: bool


def valves_travel(section: Section, travel: Floats, mean: Floats, band: Band,
                  window: tuple[float, float] = WINDOW) -> ValvesTravel:  # fmt: skip
    """Idle current and dissipation of the valves of a section over the travel.

    Parameters
    ----------
    section : Section
        The section.
    travel : array, shape (positions,)
        Positions of the swept pots, rising. [1]
    mean : array, shape (positions, watched)
        Grid voltages there, columns as `section.watched`. [V]
    band : Band
        Their tolerance limits.
    window : (float, float)
        The dissipation wanted, as shares of the limit. [1]
    """
    supply = section.circuit.high_tension
    ready, left_out = _ready(section)
    columns = [section.watched.index(one.valve.grid) for one in ready]
    constant = supply is None or supply.line(0.0) is None
    if not ready:
        return ValvesTravel((), left_out, constant)

    def at(volts: Floats) -> list[Idle]:
        return idle(ready, [volts[:, k] for k in columns], supply)

    now, lowest, highest = at(mean), at(band.low_95), at(band.high_95)
    fine = np.linspace(travel[0], travel[-1], FINE if travel.size > 1 else 1)
    between = np.stack([_smooth(fine, travel, mean[:, k]) for k in range(mean.shape[1])], axis=1)
    found = [
        _one(valve, here, _band(valve, here, low, high), fine, along, window)
        for valve, here, low, high, along in zip(
            ready, now, lowest, highest, at(between), strict=True
        )
    ]
    return ValvesTravel(tuple(found), left_out, constant)


def _ready(section: Section) -> tuple[list[IdlingValve], dict[str, str]]:
    """The valves that can be modelled, and why the others cannot."""
    ready, left_out = [], {}
    for valve in section.circuit.of(Valve):
        kind = lookup(valve.type, section.circuit.own_types)
        one = None if kind is None else idling_valve(valve, kind, section.circuit.high_tension)
        if one is not None:
            ready.append(one)
        elif valve.v_plate is None:
            left_out[valve.name] = "its plate volts are not given"
        elif kind is not None and kind.rows:
            left_out[valve.name] = "its screen volts are not given"
        else:
            left_out[valve.name] = f"no operating points of the type {valve.type} are known"
    return ready, left_out


def _smooth(at: Floats, travel: Floats, volts: Floats) -> Floats:
    """Volts between positions: a parabola through each three neighbours, blended.

    Straight lines would misplace the ends of the window where an audio taper bends.
    """
    if travel.size < 3:
        return np.interp(at, travel, volts)
    slope = np.gradient(volts, travel, edge_order=2)
    k = np.clip(np.searchsorted(travel, at) - 1, 0, travel.size - 2)
    h = travel[k + 1] - travel[k]
    t = (at - travel[k]) / h
    left, right = volts[k], volts[k + 1]
    s0, s1 = slope[k] * h, slope[k + 1] * h
    return np.asarray(
        left
        + t * (s0 + t * (3 * (right - left) - 2 * s0 - s1 + t * (2 * (left - right) + s0 + s1)))
    )


def _band(valve: IdlingValve, now: Idle, low: Idle, high: Idle) -> tuple[Floats, Floats]:
    """Cathode currents within which 95 of 100 samples lie, grid band and sample spread both in.

    The two are independent; in the logarithm of the current both are nearly normal.
    """
    tiny = 1e-12
    from_grid = np.log((high.i_cathode + tiny) / (low.i_cathode + tiny)) / (2.0 * Z_95)
    spread = np.sqrt(from_grid**2 + valve.shift.spread**2)
    return now.i_cathode * np.exp(-Z_95 * spread), now.i_cathode * np.exp(Z_95 * spread)


def _one(valve: IdlingValve, now: Idle, band: tuple[Floats, Floats], fine: Floats, along: Idle,
         window: tuple[float, float]) -> ValveTravel:  # fmt: skip
    share = along.p_plate / valve.type.limits.p_plate
    inside = _stretch(fine, (share >= window[0]) & (share <= window[1]))
    least, most = int(np.argmin(share)), int(np.argmax(share))
    return ValveTravel(
        valve.valve, valve, now, *band, window, inside,
        _where(fine, share, 0.5 * (window[0] + window[1])),
        _stretch(fine, share > 1.0),
        float(share[least]), float(share[most]),
        float(along.i_cathode[least]), float(along.i_cathode[most]),
        float(fine[least]), float(fine[most]),
    )  # fmt: skip


def _stretch(fine: Floats, there: npt.NDArray[np.bool_]) -> tuple[float, float] | None:
    """From the first to the last position at which something holds."""
    found = np.nonzero(there)[0]
    return (float(fine[found[0]]), float(fine[found[-1]])) if found.size else None


def _where(fine: Floats, share: Floats, wanted: float) -> float | None:
    """The first position at which the share passes a value."""
    turns = np.nonzero(np.diff(np.sign(share - wanted)))[0]
    if not turns.size:
        return None
    k = int(turns[0])
    step = (wanted - share[k]) / (share[k + 1] - share[k])
    return float(fine[k] + step * (fine[k + 1] - fine[k]))


def alike(valves: Sequence[ValveTravel]) -> list[list[ValveTravel]]:
    """Valves of one type that do the same at every position, together."""
    groups: list[list[ValveTravel]] = []
    for one in valves:
        for group in groups:
            same_type = group[0].idling.type.name == one.idling.type.name
            if same_type and np.allclose(group[0].idle.i_cathode, one.idle.i_cathode, rtol=2e-3):
                group.append(one)
                break
        else:
            groups.append([one])
    return groups
