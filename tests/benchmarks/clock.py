"""Times, in the one way in which all benchmarks take them."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def median_time(action: Callable[[], object], runs: int) -> float:
    """Median time of an action after one call that is not counted. [s]"""
    action()
    times = []
    for _ in range(runs):
        begun = time.perf_counter()
        action()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)
