"""What is wanted at the grids: the window of each valve as grid voltages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..assumed import mains_tolerance
from ..engine.elements import Floats
from ..errors import InputError
from ..graph import Section
from ..idling import IdlingValve, idle, idling_valve
from ..netlist import HighTension, Valve
from ..valves import ValveType, lookup

GRID_SHARE = 0.03
"""Where a grid voltage is wanted in place of a dissipation, so much either side of it counts
as met: some tenths of the idle current; common practice. [1]"""
_DEEPEST = -260.0  # volts at the grid: no output valve needs more
_STEPS = 1041  # a quarter of a volt each


@dataclass(frozen=True, slots=True)
class Law:
    """What one valve does over its grid voltage, all valves of the section at the same.

    Parameters
    ----------
    v_grid : array, shape (n,)
        Grid against ground, rising. [V]
    i_cathode : array, shape (n,)
        Plate and screen current together. [A]
    share : array, shape (n,)
        Plate dissipation, of the limit. [1]
    share_high : array, shape (n,)
        The same with the mains, and with it plate and screen volts, at the top of its
        tolerance. [1]
    """

    v_grid: Floats
    i_cathode: Floats
    share: Floats
    share_high: Floats

    def current(self, v: Floats | float) -> Floats:
        """Cathode current at grid voltages. [A]"""
        return np.asarray(np.interp(v, self.v_grid, self.i_cathode))

    def shares(self, v: Floats | float) -> Floats:
        """Dissipation at grid voltages, of the limit. [1]"""
        return np.asarray(np.interp(v, self.v_grid, self.share))

    def shares_high(self, v: Floats | float) -> Floats:
        """Dissipation at grid voltages with the mains high, of the limit. [1]"""
        return np.asarray(np.interp(v, self.v_grid, self.share_high))

    def grid_for(self, share: float) -> float | None:
        """The grid voltage, from the cold side, at which a share is reached. [V]"""
        k = int(np.argmax(self.share >= share))
        if k == 0:
            return None
        low, high = self.share[k - 1], self.share[k]
        at = (share - low) / (high - low)
        return float(self.v_grid[k - 1] + at * (self.v_grid[k] - self.v_grid[k - 1]))


@dataclass(frozen=True, slots=True)
class Mark:
    """What is wanted at one grid.

    Parameters
    ----------
    name : str
        The valve that wants it, or the node where none does.
    node : str
        The grid's node.
    column : int
        The node's place among those watched. [count]
    v_cold, v_middle, v_hot : float
        Grid voltages at the cold end, in the middle and at the hot end of the window. [V]
    valve : IdlingValve or None
        The valve, where it can be modelled.
    law : Law or None
        What it does; None where no valve can be modelled.
    """

    name: str
    node: str
    column: int
    v_cold: float
    v_middle: float
    v_hot: float
    valve: IdlingValve | None = None
    law: Law | None = None


@dataclass(frozen=True, slots=True)
class Aim:
    """What is wanted of a section.

    Parameters
    ----------
    marks : tuple of Mark
        One for each valve that can be modelled; one for each grid where a voltage is wanted.
    window : (float, float) or None
        Dissipation wanted, of the limit; None where a grid voltage is. [1]
    v_grid : float or None
        The grid voltage wanted; None where a dissipation is. [V]
    left_out : tuple of str
        Valves that cannot be modelled, each with the reason.
    mains_high : float
        The mains at the top of its tolerance, of what it is. [1]
    """

    marks: tuple[Mark, ...]
    window: tuple[float, float] | None
    v_grid: float | None
    left_out: tuple[str, ...]
    mains_high: float


def aim(section: Section, window: tuple[float, float], v_grid: float | None = None) -> Aim:
    """What is wanted of a section.

    Parameters
    ----------
    section : Section
        The section; valves that were measured act as measured.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    v_grid : float, optional
        A grid voltage wanted instead. [V]

    Raises
    ------
    InputError
        If there is nothing to aim at, or the aim lies beyond what a valve stands.
    """
    ready, left_out = _ready(section)
    high = mains_high(section)
    laws = _laws(section, ready, high)
    if v_grid is not None:
        marks = _by_volts(section, ready, laws, v_grid)
        return Aim(tuple(marks), None, v_grid, tuple(left_out), high)
    if not ready:
        raise InputError(_nothing_to_aim_at(section, left_out))
    marks = [_by_window(section, *both, window) for both in zip(ready, laws, strict=True)]
    return Aim(tuple(marks), window, None, tuple(left_out), high)


def mains_high(section: Section) -> float:
    """The mains at the top of its tolerance, of what it is. [1]"""
    mains = section.circuit.mains
    return 1.0 if mains is None or not section.sources else 1.0 + mains_tolerance(mains)


def typical(one: IdlingValve) -> IdlingValve:
    """An average valve in its place, as if it had not been measured."""
    return IdlingValve(one.valve, one.type, one.curve)


def _ready(section: Section) -> tuple[list[IdlingValve], list[str]]:
    ready, left_out = [], []
    for valve in section.circuit.of(Valve):
        kind = lookup(valve.type, section.circuit.own_types)
        one = None if kind is None else idling_valve(valve, kind, section.circuit.high_tension)
        if one is None:
            left_out.append(f"{valve.name}: {_why_not(valve, kind)}")
        else:
            ready.append(one)
    return ready, left_out


def _nothing_to_aim_at(section: Section, left_out: Sequence[str]) -> str:
    if not left_out:
        return ("there is no valve in the circuit, so that no idle current can be aimed at; "
                "give the grid voltage wanted, such as --grid -36V")  # fmt: skip
    return (f"no idle current can be aimed at ({'; '.join(left_out)}); mend that in the circuit, "
            "or give the grid voltage wanted, such as --grid -36V")  # fmt: skip


def _why_not(valve: Valve, kind: ValveType | None) -> str:
    if kind is None or not kind.rows:
        return f"no operating points of the type {valve.type} are known"
    return f"its {'plate' if valve.v_plate is None else 'screen'} volts are not stated"


def _laws(section: Section, ready: Sequence[IdlingValve], high: float) -> list[Law]:
    """What the valves do over a grid voltage common to all of them."""
    if not ready:
        return []
    supply = section.circuit.high_tension
    v = np.linspace(_DEEPEST, 0.0, _STEPS)
    now = idle(ready, [v] * len(ready), supply)
    raised = [_raised(one, high) for one in ready]
    above = idle(raised, [v] * len(ready), _raised_supply(supply, high))
    return [
        Law(v, here.i_cathode, here.p_plate / one.type.limits.p_plate,
            there.p_plate / one.type.limits.p_plate)
        for one, here, there in zip(ready, now, above, strict=True)
    ]  # fmt: skip


def _raised(one: IdlingValve, high: float) -> IdlingValve:
    valve = one.valve
    v_screen = None if valve.v_screen is None else high * valve.v_screen
    return replace(one, valve=replace(valve, v_plate=high * (valve.v_plate or 0.0),
                                      v_screen=v_screen))  # fmt: skip


def _raised_supply(supply: HighTension | None, high: float) -> HighTension | None:
    if supply is None:
        return None
    return replace(supply, readings=tuple((high * v, i) for v, i in supply.readings))


def _by_window(section: Section, one: IdlingValve, law: Law, window: tuple[float, float]) -> Mark:
    low, high = window
    volts = [law.grid_for(share) for share in (low, 0.5 * (low + high), high)]
    cold, middle, hot = volts
    if cold is None or middle is None or hot is None:
        raise InputError(
            f"{one.valve.name} cannot reach {high * 100:.0f} % of its dissipation limit at "
            f"{one.valve.v_plate:.0f} V on the plate, whatever its grid voltage"
        )
    node = one.valve.grid
    return Mark(one.valve.name, node, section.watched.index(node), cold, middle, hot, one, law)


def _by_volts(section: Section, ready: Sequence[IdlingValve], laws: Sequence[Law],
              v_grid: float) -> list[Mark]:  # fmt: skip
    if not section.watched:
        raise InputError("there is neither a valve nor a pot whose bias to set")
    known = {one.valve.grid: (one, law) for one, law in zip(ready, laws, strict=True)}
    marks = []
    for column, node in enumerate(section.watched):
        one, law = known.get(node, (None, None))
        if one is not None and law is not None and law.shares(v_grid) > 1.0:
            raise InputError(
                f"--grid {v_grid:g} V: {one.valve.name} would dissipate "
                f"{float(law.shares(v_grid)) * 100:.0f} % of its limit there; a more negative "
                "voltage is wanted"
            )
        valves = section.grids.get(node, [])
        marks.append(Mark(valves[0].name if valves else node, node, column,
                          v_grid * (1.0 + GRID_SHARE), v_grid, v_grid * (1.0 - GRID_SHARE),
                          one, law))  # fmt: skip
    return marks
