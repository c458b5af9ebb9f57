"""The rectifier as seen by the network behind it: mean voltage against mean current drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .engine.elements import Floats
from .monotone import MonotoneCubic

_R_BLOCKED = 1e9  # a rectifier that would have to take current back: its diodes block
_NO_CURRENT = 1e-8  # less is leakage of diodes [A]
_WIDENED = 12  # times that a root is looked for further out [count]


@dataclass(frozen=True)
class PortCurve:
    """Mean port voltage as a function of the mean current out of the port.

    Parameters
    ----------
    i : array, shape (n,)
        Mean current from the rectifier into the network, rising; negative where the supply
        is negative. [A]
    v : array, shape (n,)
        Mean port voltage against ground. [V]
    power : float
        The curve is nearly straight over this power of the current, see below. [1]

    Notes
    -----
    Between the points the curve is a monotone cubic over |i|^power. With
    a small source resistance the conduction angle grows with the cube root of the current and
    the voltage falls with its square: the power is 2/3. Behind a coupling capacitor, which
    gives away the same charge in every period, the voltage falls with the current itself.
    Outside it is continued in a straight line, towards no current as a blocking diode.
    """

    i: Floats
    v: Floats
    power: float = 2.0 / 3.0

    def __post_init__(self) -> None:
        order = np.argsort(self.i)
        i, v = np.asarray(self.i)[order], np.asarray(self.v)[order]
        kept = np.concatenate(([True], np.diff(i) > 1e-12))
        object.__setattr__(self, "i", i[kept])
        object.__setattr__(self, "v", v[kept])
        if self.i.size > 1:
            curve = MonotoneCubic(self._stretched(self.i), self.v)
            object.__setattr__(self, "_curve", curve)

    @property
    def reach(self) -> tuple[float, float]:
        """The least and the greatest current that was simulated. [A]"""
        return float(self.i[0]), float(self.i[-1])

    def at(self, i: Floats) -> tuple[Floats, Floats]:
        """Voltage and its derivative by current.

        Parameters
        ----------
        i : array
            Currents, any shape. [A]

        Returns
        -------
        v : array
            Mean port voltage, shape of `i`. [V]
        dv_di : array
            Its derivative, never positive. [ohm]
        """
        i = np.asarray(i, dtype=float)
        if self.i.size == 1:
            slope = np.full_like(i, -_R_BLOCKED if abs(self.i[0]) <= _NO_CURRENT else 0.0)
            return self.v[0] + slope * (i - self.i[0]), slope
        inside = np.clip(i, self.i[0], self.i[-1])
        curve: MonotoneCubic = self._curve  # type: ignore[attr-defined]
        v, dv_dx = curve.at(self._stretched(inside))
        # At no current the axis has an infinite derivative; a femtoampere away it has not.
        dv_di = dv_dx * self.power * np.maximum(np.abs(inside), 1e-15) ** (self.power - 1.0)
        return self._continued(i, v, np.minimum(dv_di, 0.0))

    def _continued(self, i: Floats, v: Floats, dv_di: Floats) -> tuple[Floats, Floats]:
        """Outside the points: a straight line of the end's slope, or a blocked diode."""
        beyond = i - np.clip(i, self.i[0], self.i[-1])
        no_current = np.abs(self.i) <= _NO_CURRENT
        blocked = ((beyond > 0) & no_current[-1]) | ((beyond < 0) & no_current[0])
        slope = np.where(blocked, -_R_BLOCKED, dv_di)
        outside = beyond != 0
        return v + np.where(outside, beyond * slope, 0.0), np.where(outside, slope, dv_di)

    def _stretched(self, i: Floats) -> Floats:
        """The axis over which the curve is nearly straight."""
        x: Floats = np.sign(i) * np.abs(i) ** self.power
        return x

    def meet(self, a: Floats, b: Floats) -> tuple[Floats, Floats]:
        """Where a linear network i = a + b v meets the curve.

        Parameters
        ----------
        a : array, shape (batch,)
            Current the network takes at 0 V. [A]
        b : array, shape (batch,)
            Its driving-point conductance, positive. [S]

        Returns
        -------
        v, i : array, shape (batch,)
            Port voltage and current. [V], [A]

        Notes
        -----
        v - curve(a + b v) rises with v, so a bisection always brackets the one root and
        Newton's step is taken where it stays inside.
        """
        a, b = np.broadcast_arrays(np.asarray(a, float), np.asarray(b, float))
        span = float(np.max(np.abs(self.v)) + 1.0)
        open_circuit = np.where(b > 0, -a / np.maximum(b, 1e-15), 0.0)
        reach = np.maximum(span, np.abs(open_circuit)) * 4.0
        v = self._met(a, b, reach)
        # Where a steep curve is continued far, the root may lie further out.
        for _ in range(_WIDENED):
            if not np.any(out := np.abs(v) > 0.999 * reach):
                break
            reach = np.where(out, 8.0 * reach, reach)
            v = self._met(a, b, reach)
        return v, a + b * v

    def _met(self, a: Floats, b: Floats, reach: Floats) -> Floats:
        """Port voltages that lie between -reach and reach. [V]"""
        span = float(np.max(np.abs(self.v)) + 1.0)
        low, high = -reach, reach
        v = np.clip(np.full_like(a, float(np.mean(self.v))), low, high)
        for _ in range(80):
            on_curve, dv_di = self.at(a + b * v)
            excess = v - on_curve
            low, high = np.where(excess < 0, v, low), np.where(excess >= 0, v, high)
            step = v - excess / (1.0 - b * dv_di)
            new = np.where((step > low) & (step < high), step, 0.5 * (low + high))
            done = np.max(np.abs(new - v)) < 1e-10 * span
            v = new
            if done:
                break
        return v


def moved(base: PortCurve, few: PortCurve) -> PortCurve:
    """`base`, drawn out so that it runs through the few points of another curve.

    At the same resistance across the port, both currents and voltages are taken to be in the
    same proportion, which changes little from one resistance to another: a higher mains raises
    all alike. Where supplies push current into the port no resistance stands for the load; then
    it is the difference of the voltages at the same current that changes little.
    """
    flows = few.i != 0.0  # without current `few` is only continued
    if not np.any(flows):
        return few
    i, v = few.i[flows], few.v[flows]
    if np.all(i * v > 0) and np.all(base.i * base.v >= 0):
        g = i / v
        ratio = v / base.meet(np.zeros_like(g), g)[0]
        drawn = np.interp(_log(base.i / base.v), *_rising(_log(g), ratio))
        return PortCurve(base.i * drawn, base.v * drawn, base.power)
    x, x_few = np.abs(base.i) ** base.power, np.abs(i) ** base.power
    off = np.interp(x, *_rising(x_few, v - base.at(i)[0]))
    return PortCurve(base.i, base.v + off, base.power)


def _log(g: Floats) -> Floats:
    return np.log(np.maximum(g, 1e-15))


def _rising(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    order = np.argsort(x)
    return x[order], y[order]
