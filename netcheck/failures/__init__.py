"""What every part of a bias section does to the valves when it fails, and what makes it safe."""

from __future__ import annotations

from .bench import Bench, Outcome
from .catalogue import Failure, failures_of
from .cure import Guard, Proposal
from .danger import Danger
from .overload import Overload, Strain
from .study import Judged, Study, Undrawn, study

__all__ = [
    "Bench",
    "Danger",
    "Failure",
    "Guard",
    "Judged",
    "Outcome",
    "Overload",
    "Proposal",
    "Strain",
    "Study",
    "Undrawn",
    "failures_of",
    "study",
]
