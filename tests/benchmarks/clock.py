"""Times, in the one way in which all benchmarks take them."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def median_time(action: Callable[[], object], runs: int) -> float:
    """Median time of an action after one call that is not counted. [s]"""
    action()
    return statistics.median(_time(action) for _ in range(runs))


def median_beside(
    action: Callable[[], object], other: Callable[[], object], runs: int
) -> tuple[float, float]:
    """Median time of an action, and the median of its ratio to another just before and after.

    A machine that others use too is slower by half from one minute to the next: what was timed
    at another time is no measure.

    Parameters
    ----------
    action, other : callable
        What is timed, and what it is measured by; each is called once without being counted.
    runs : int
        Of which the median counts. [count]

    Returns
    -------
    tuple of float
        Of the action [s], and to the other [1].
    """
    action()
    other()
    times, ratios = [], []
    before = _time(other)
    for _ in range(runs):
        times.append(_time(action))
        after = _time(other)
        ratios.append(2.0 * times[-1] / (before + after))
        before = after
    return statistics.median(times), statistics.median(ratios)


def _time(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun
