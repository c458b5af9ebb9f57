"""The monotone cubic against SciPy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from netcheck.monotone import MonotoneCubic


@pytest.mark.parametrize("points", [2, 3, 4, 9])
@pytest.mark.parametrize("shape", [(), (3,), (2, 4)])
def test_same_as_scipy(points: int, shape: tuple[int, ...]) -> None:
    """`scipy.interpolate.PchipInterpolator`, values and first derivatives."""
    rng = np.random.default_rng(points)
    for _ in range(20):
        x = np.cumsum(rng.uniform(0.1, 3.0, points))
        y = np.round(rng.normal(size=(points, *shape)), 1)  # rounded: some stretches are level
        at = rng.uniform(x[0], x[-1], size=17)
        value, slope = MonotoneCubic(x, y).at(at)
        theirs = PchipInterpolator(x, y)
        assert value == pytest.approx(theirs(at), abs=1e-12)
        assert slope == pytest.approx(theirs(at, 1), abs=1e-11)


def test_at_the_points_themselves() -> None:
    x, y = np.array([0.0, 1.0, 4.0]), np.array([[1.0], [2.0], [1.5]])
    assert MonotoneCubic(x, y).at(x)[0] == pytest.approx(y)
