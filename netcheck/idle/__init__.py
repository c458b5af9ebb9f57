"""Idle current of output valves: the window to aim at, and what a measured current means.

All currents are those of one valve. A probe or a cathode resistor reads the cathode current,
which is plate and screen current together; how it divides is known from the data sheet only
within a range, and that range is carried along.
"""

from __future__ import annotations

from .assessment import Assessment, assess
from .judgement import Judged, Target, judge, target
from .matching import Match, match
from .samples import Expected, expected
from .stage import Spread, Stage, Verdict

__all__ = [
    "Assessment",
    "Expected",
    "Judged",
    "Match",
    "Spread",
    "Stage",
    "Target",
    "Verdict",
    "assess",
    "expected",
    "judge",
    "match",
    "target",
]
