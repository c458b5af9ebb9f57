"""Readings that have causes in common, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kstest

from netcheck.compare import agreement


def chi_square(off: list[float], common: float, own: float) -> float:
    """Of readings with one cause in common, each with an error of its own."""
    count = len(off)
    covariance = common**2 * np.ones((count, count)) + own**2 * np.eye(count)
    return agreement(np.array(off), covariance, np.ones(count)).misfit


def test_two_readings_that_a_tap_moves_together() -> None:
    """S = s^2 [[1, 1], [1, 1]] + m^2 I has the eigenvalues 2 s^2 + m^2 and m^2.

    Both 1.5 standard deviations low is one such deviation of the tap; one low and one high can
    only be the meter.
    """
    s, m = 3.0, 0.1
    z = 1.5 * np.hypot(s, m)
    alike, unlike = chi_square([-z, -z], s, m), chi_square([-z, z], s, m)
    assert alike == pytest.approx(2.0 * z**2 / (2.0 * s**2 + m**2), rel=1e-9)
    assert unlike == pytest.approx(2.0 * z**2 / m**2, rel=1e-9)
    assert alike < 2.3
    assert unlike > 1000.0


def test_many_readings_that_a_tap_moves_together_count_once() -> None:
    # In the limit of a perfect meter: 1.5 squared, however many readings.
    assert chi_square([1.5] * 20, 1.0, 1e-3) == pytest.approx(1.5**2, rel=1e-5)


def test_apart_is_what_the_others_leave_open() -> None:
    """The conditional distribution of one normal variable given the rest, written out."""
    rng = np.random.default_rng(4)
    root = rng.normal(size=(5, 5))
    covariance, off = root @ root.T + 0.1 * np.eye(5), rng.normal(size=5)
    apart = agreement(off, covariance, np.ones(5)).apart
    for j in range(5):
        rest = [k for k in range(5) if k != j]
        gain = np.linalg.solve(covariance[np.ix_(rest, rest)], covariance[rest, j])
        spread = covariance[j, j] - gain @ covariance[rest, j]
        assert apart[j] == pytest.approx((off[j] - gain @ off[rest]) / np.sqrt(spread), rel=1e-9)


def test_chances_of_sound_chassis_are_evenly_spread() -> None:
    """By definition of a p-value; Kolmogorov and Smirnov's test on 2000 made-up sheets."""
    rng = np.random.default_rng(5)
    root = rng.normal(size=(8, 8))
    covariance = root @ root.T
    sheets = rng.multivariate_normal(np.zeros(8), covariance, size=2000)
    found = [agreement(off, covariance, np.ones(8)) for off in sheets]
    assert kstest([joint.chance for joint in found], "uniform").pvalue > 0.01
    # The worst of several is counted as if they were independent, which errs to the safe side.
    assert np.mean([joint.chance_of_worst < 0.05 for joint in found]) <= 0.06


def test_what_lies_beyond_every_tolerance_tells_by_itself() -> None:
    joint = agreement(np.array([2.0, 0.0]), np.eye(2), np.array([1e-9, 1.0]))
    assert joint.chance > 0.1
    assert joint.chance_of_worst == pytest.approx(4e-9, rel=1e-3)


def test_nothing_to_compare_is_no_disagreement() -> None:
    joint = agreement(np.zeros(0), np.zeros((0, 0)), np.zeros(0))
    assert (joint.count, joint.chance, joint.chance_of_worst) == (0, 1.0, 1.0)
