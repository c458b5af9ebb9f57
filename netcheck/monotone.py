"""A smooth curve through points that rises and falls only where they do.

References
----------
F. N. Fritsch, R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17
(1980), 238-246; slopes after F. N. Fritsch, J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984),
300-304. The tests hold it against `scipy.interpolate.PchipInterpolator`, which takes a quarter
of a second to load.
"""

from __future__ import annotations

import numpy as np

from .engine.elements import Floats


class MonotoneCubic:
    """A curve through points, or many curves with their points at the same places.

    Parameters
    ----------
    x : array, shape (n,)
        Places, rising; at least two.
    y : array, shape (n, ...)
        What the curves are there.
    """

    def __init__(self, x: Floats, y: Floats) -> None:
        self._x = x
        self._y = y
        self._slope = _slopes(x, y)

    def at(self, x: Floats) -> tuple[Floats, Floats]:
        """The curves and their derivatives.

        Parameters
        ----------
        x : array, shape (m, ...)
            Places between the first point and the last.

        Returns
        -------
        y, dy_dx : array, shape of `x` and then that of one point
        """
        k = np.clip(np.searchsorted(self._x, x) - 1, 0, self._x.size - 2)
        more = (1,) * (self._y.ndim - 1)
        start = self._x[k]
        h = (self._x[k + 1] - start).reshape(x.shape + more)
        t = (x - start).reshape(x.shape + more) / h
        y0, y1 = self._y[k], self._y[k + 1]
        s0, s1 = self._slope[k] * h, self._slope[k + 1] * h
        c2, c3 = 3.0 * (y1 - y0) - 2.0 * s0 - s1, 2.0 * (y0 - y1) + s0 + s1
        y = y0 + t * (s0 + t * (c2 + t * c3))
        return y, (s0 + t * (2.0 * c2 + t * 3.0 * c3)) / h


def _slopes(x: Floats, y: Floats) -> Floats:
    """Slopes at the points: weighted harmonic means, and none where the points turn."""
    h = np.diff(x).reshape((-1,) + (1,) * (y.ndim - 1))
    d = np.diff(y, axis=0) / h
    if x.size == 2:
        return np.concatenate([d, d])
    w1, w2 = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    same = d[:-1] * d[1:] > 0.0
    total = np.where(same, w1 * d[1:] + w2 * d[:-1], 1.0)
    inner = np.where(same, (w1 + w2) * d[:-1] * d[1:] / total, 0.0)
    first = _end_slope(h[:1], h[1:2], d[:1], d[1:2])
    last = _end_slope(h[-1:], h[-2:-1], d[-1:], d[-2:-1])
    return np.concatenate([first, inner, last])


def _end_slope(h0: Floats, h1: Floats, d0: Floats, d1: Floats) -> Floats:
    """One-sided three-point slope, kept from overshooting."""
    slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    slope = np.where(slope * d0 <= 0.0, 0.0, slope)
    overshoots = (d0 * d1 < 0.0) & (np.abs(slope) > 3.0 * np.abs(d0))
    return np.where(overshoots, 3.0 * d0, slope)
