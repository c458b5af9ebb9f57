"""What the coordinates in front of the rectifier do, interpolated between simulated values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from ..engine.elements import Floats
from ..monotone import MonotoneCubic

FEW = (0.5, 1.8)
"""Loads at which a parameter's effect is simulated, as shares of the one drawn. [1]"""

PORT = slice(0, 1)
"""Where the port stands among the outputs."""
EVERY = slice(None)
"""All outputs."""


@dataclass(frozen=True, slots=True)
class Axis:
    """What one coordinate does to what is read in front.

    Parameters
    ----------
    x : array, shape (knots,)
        The coordinate, rising.
    effect : array, shape (outputs, loads, knots)
        Of each output at each of the few loads: proportion to the drawn state, or what is added.
    """

    x: Floats
    effect: Floats
    _curve: MonotoneCubic = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        curve = MonotoneCubic(self.x, np.moveaxis(self.effect, 2, 0))
        object.__setattr__(self, "_curve", curve)

    def at(self, x: Floats) -> tuple[Floats, Floats]:
        """Effect and its derivative by the coordinate, each of shape (outputs, loads, n)."""
        inside = np.clip(x, self.x[0], self.x[-1])
        effect, slope = (np.moveaxis(one, 0, 2) for one in self._curve.at(inside))
        return effect, slope * (x == inside)


@dataclass(frozen=True)
class FrontState:
    """The family of curves at given coordinates of many chassis.

    Parameters
    ----------
    base : callable
        Some outputs as drawn and their derivative by the logarithm of the load, see `Front.base`.
    adds : array of bool, shape (outputs,)
        Where effects add instead of multiplying.
    g_drawn : float
        The load as drawn. [S]
    effect : array, shape (outputs, loads, rows)
        What the coordinates together do.
    slopes : mapping of axis to array, shape (outputs, loads, rows)
        Derivative of the effect by each axis, in proportion to it (or, where effects add,
        itself).
    """

    base: Callable[[Floats, slice], tuple[Floats, Floats]]
    adds: npt.NDArray[np.bool_]
    g_drawn: float
    effect: Floats
    slopes: Mapping[str, Floats]

    def _weights(self, log_g: Floats) -> tuple[Floats, Floats]:
        """Weights of the few loads at a load, and their derivative, each (loads, rows)."""
        low, high = np.log(FEW[0] * self.g_drawn), np.log(FEW[1] * self.g_drawn)
        t = np.clip((log_g - low) / (high - low), -0.7, 1.7)
        dt = ((t > -0.7) & (t < 1.7)) / (high - low)
        return np.array([1.0 - t, t]), np.array([-dt, dt])

    def at(self, log_g: Floats, outputs: slice = EVERY) -> tuple[Floats, Floats]:
        """Some outputs at a load, and their derivative by its logarithm, (outputs, rows)."""
        base, slope = self.base(log_g, outputs)
        w, dw = self._weights(log_g)
        effect = np.einsum("olr,lr->or", self.effect[outputs], w)
        d_effect = np.einsum("olr,lr->or", self.effect[outputs], dw)
        adds = self.adds[outputs, None]
        value = np.where(adds, base + effect, base * effect)
        return value, np.where(adds, slope + d_effect, slope * effect + base * d_effect)

    def by_axis(self, log_g: Floats) -> dict[str, Floats]:
        """Derivative of the outputs by each axis at a load, (outputs, rows)."""
        base, _ = self.base(log_g, EVERY)
        w, _ = self._weights(log_g)
        adds = self.adds[:, None]
        found = {}
        for axis, slope in self.slopes.items():
            change = np.where(adds[:, :, None], slope, slope * self.effect)
            summed = np.einsum("olr,lr->or", change, w)
            found[axis] = np.where(adds, summed, base * summed)
        return found
