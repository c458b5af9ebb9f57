"""What the output valves draw at given grid voltages, and what that makes on their plates.

The current of a valve depends on its plate and screen volts, those on what all valves draw
together, and its grid counts from a cathode that its own current lifts: all are solved
together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .engine.elements import Floats
from .netlist import HighTension, IdleReading, Valve
from .valves import ValveType
from .valves.curve import Curve
from .valves.model import curve_of
from .valves.practice import SAMPLE_SPREAD, screen_share

SPREAD_ONE_READING = 0.05
"""Standard deviation of ln(plate current) of a valve once it was measured at one grid voltage
and its curve shifted: its slope may still differ from the type's; common practice. [1]"""
SPREAD_TWO_READINGS = 0.02
"""The same once it was measured at two: what the meter leaves; common practice. [1]"""
_STEPS = 60  # at most: halving alone comes from some amperes to below a picoampere with them
_SOLVED = 1e-14  # what is left of a current where it is solved [A]


@dataclass(frozen=True, slots=True)
class Shift:
    """How one valve differs from its type.

    Parameters
    ----------
    v : float
        Added to the grid voltage before the type's curve is asked. [V]
    scale : float
        Factor on the type's current. [1]
    spread : float
        Standard deviation of ln(plate current) that is left. [1]
    """

    v: float = 0.0
    scale: float = 1.0
    spread: float = SAMPLE_SPREAD


@dataclass(frozen=True, slots=True)
class IdlingValve:
    """A valve in the circuit with all that its current depends on.

    Parameters
    ----------
    valve : Valve
        As drawn; its plate volts are stated.
    type : ValveType
        Its type.
    curve : Curve
        Its type's curve.
    shift : Shift
        What sets this sample apart.
    """

    valve: Valve
    type: ValveType
    curve: Curve
    shift: Shift = Shift()

    @property
    def screen_share(self) -> float:
        """Screen current for each ampere of plate current. [1]"""
        return screen_share(self.type).nominal

    def cathode_current(self, v_grid: Floats, sag: Floats) -> Floats:
        """Cathode current at grid voltages against ground, the supply lower by `sag`.

        Parameters
        ----------
        v_grid : array, shape (n,)
            Grid against ground. [V]
        sag : array, shape (n,)
            How far plate and screen lie below their stated volts. [V]

        Returns
        -------
        array, shape (n,)
            Plate and screen current together. [A]

        Notes
        -----
        The cathode lies i R above ground, which makes its grid more negative: i is the root
        of i - f(v_grid - i R), which rises with i.
        """
        r = self.valve.r_cathode
        most = self._at(v_grid, sag, np.zeros_like(v_grid))
        if r <= 0:
            return most
        return _own_value(lambda i: self._at(v_grid, sag, i * r), most)

    def _at(self, v_grid: Floats, sag: Floats, v_cathode: Floats) -> Floats:
        plate = np.maximum((self.valve.v_plate or 0.0) - sag - v_cathode, 1.0)
        screen = None
        if self.valve.v_screen is not None:
            screen = np.maximum(self.valve.v_screen - sag - v_cathode, 1.0)
        current = self.curve.plate_current(plate, screen, v_grid - v_cathode + self.shift.v)
        return np.asarray(self.shift.scale * current * (1.0 + self.screen_share))


def _own_value(f: Callable[[Floats], Floats], most: Floats) -> Floats:
    """The i with i = f(i), of a falling f, between zero and f(0), elementwise. [A]

    The false position with its stale end weighed down: some ten steps where halving takes 60.

    References
    ----------
    N. Anderson and A. Bjorck, "A new high order method of regula falsi type for computing a root
    of an equation", BIT 13 (1973), 253-264 (from memory).
    """
    old, left_old = np.zeros_like(most), most  # what f(i) - i leaves at either end
    i, left = most, f(most) - most
    for _ in range(_STEPS):
        if np.all(np.abs(left) <= _SOLVED):
            break
        slope = np.where(left == left_old, 1.0, left - left_old)
        new = i - left * (i - old) / slope
        left_new = f(new) - new
        crossed = left_new * left <= 0.0
        weight = 1.0 - left_new / np.where(left == 0.0, 1.0, left)
        stale = left_old * np.where(weight > 0.0, weight, 0.5)
        old, left_old = np.where(crossed, i, old), np.where(crossed, left, stale)
        i, left = new, left_new
    return i


@dataclass(frozen=True, slots=True)
class Idle:
    """What one valve does at a batch of grid voltages, each array of shape (n,).

    Parameters
    ----------
    i_cathode, i_plate : array
        Plate and screen together, and the plate alone. [A]
    v_plate : array
        Plate against cathode. [V]
    p_plate : array
        Plate dissipation. [W]
    """

    i_cathode: Floats
    i_plate: Floats
    v_plate: Floats
    p_plate: Floats


def idle(valves: Sequence[IdlingValve], v_grids: Sequence[Floats],
         supply: HighTension | None) -> list[Idle]:  # fmt: skip
    """What valves on one high tension draw at their grid voltages.

    Parameters
    ----------
    valves : sequence of IdlingValve
        All valves on the supply.
    v_grids : sequence of array, each of shape (n,)
        Their grid voltages against ground. [V]
    supply : HighTension or None
        How its volts fall; None, or without a source resistance: they do not.

    Returns
    -------
    list of Idle
        In the order of the valves.

    Notes
    -----
    The drop below the stated volts is R (I - I_stated) with the sum I of all cathode currents.
    That sum falls with the drop, so that I is the one root of I - f(R (I - I_stated)).
    """
    falls = supply.line(valves[0].valve.v_plate or 0.0) if supply is not None else None
    r, stated = falls or (0.0, 0.0)

    def total(sag: Floats) -> Floats:
        drawn = [v.cathode_current(g, sag) for v, g in zip(valves, v_grids, strict=True)]
        return np.asarray(np.sum(drawn, axis=0))

    none = np.zeros_like(v_grids[0])
    sag = none
    if r > 0:
        # At no current the volts are highest, and so is what the valves would draw.
        most = total(none - r * stated)
        sag = r * (_own_value(lambda i: total(r * (i - stated)), most) - stated)
    return [_idle(v, g, sag) for v, g in zip(valves, v_grids, strict=True)]


def _idle(valve: IdlingValve, v_grid: Floats, sag: Floats) -> Idle:
    i_cathode = valve.cathode_current(v_grid, sag)
    i_plate = i_cathode / (1.0 + valve.screen_share)
    v_plate = (valve.valve.v_plate or 0.0) - sag - i_cathode * valve.valve.r_cathode
    return Idle(i_cathode, i_plate, v_plate, v_plate * i_plate)


def idling_valve(valve: Valve, kind: ValveType, supply: HighTension | None) -> IdlingValve | None:
    """A valve ready to be asked; shifted to what it was measured to draw.

    Parameters
    ----------
    valve : Valve
        As drawn.
    kind : ValveType
        Its type.
    supply : HighTension or None
        The readings hold at the stated plate volts, whatever the supply does later.

    Returns
    -------
    IdlingValve or None
        None where the plate volts are not stated, or the type has no rows to model it by.
    """
    needs_screen = kind.kind.value != "triode"
    if valve.v_plate is None or not kind.rows or (needs_screen and valve.v_screen is None):
        return None
    bare = IdlingValve(valve, kind, curve_of(kind))
    return replace(bare, shift=fitted_shift(bare, valve.readings))


def fitted_shift(bare: IdlingValve, readings: Sequence[IdleReading]) -> Shift:
    """What makes the type's curve pass through one or two readings of a valve.

    One reading shifts it along the grid axis; two shift and scale it. Where two cannot be met
    so (currents that do not rise with the grid), the curve is shifted to their mean.
    """
    if not readings:
        return Shift()
    if len(readings) > 1:
        both = _shift_and_scale(bare, readings[0], readings[1])
        if both is not None:
            return both
    shifts = [_shift_alone(bare, reading, 1.0) for reading in readings]
    return Shift(float(np.mean(shifts)), 1.0, SPREAD_ONE_READING)


def _shift_alone(bare: IdlingValve, reading: IdleReading, scale: float) -> float:
    """Volts to add to the grid so that the reading is met, at stated plate volts. [V]"""
    v_cathode = reading.i_cathode * bare.valve.r_cathode
    plate = (bare.valve.v_plate or 0.0) - v_cathode
    screen = None if bare.valve.v_screen is None else bare.valve.v_screen - v_cathode
    i_plate = reading.i_cathode / (1.0 + bare.screen_share) / scale
    wanted = float(bare.curve.grid_voltage(plate, screen, i_plate))
    return wanted - (reading.v_grid - v_cathode)


def _shift_and_scale(bare: IdlingValve, a: IdleReading, b: IdleReading) -> Shift | None:
    """The scale at which both readings need the same shift, searched between a third and three."""
    scales = np.geomspace(1.0 / 3.0, 3.0, 400)
    apart = np.array([_shift_alone(bare, a, s) - _shift_alone(bare, b, s) for s in scales])
    turns = np.nonzero(np.diff(np.sign(apart)))[0]
    if turns.size == 0:
        return None
    k = int(turns[0])
    share = apart[k] / (apart[k] - apart[k + 1])
    scale = float(scales[k] * (scales[k + 1] / scales[k]) ** share)
    return Shift(_shift_alone(bare, a, scale), scale, SPREAD_TWO_READINGS)
