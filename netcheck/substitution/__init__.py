"""A resistance substitution box on paper: what each value across a part, or in its place, gives."""

from __future__ import annotations

from .choice import Asked, knob_for
from .knob import Knob, Way
from .reason import why_nothing
from .study import (
    LEAST,
    Chart,
    Setting,
    Substitution,
    chart,
    flat_stretches,
    substitute,
    valve_groups,
    volts_wanted,
)

__all__ = [
    "LEAST",
    "Asked",
    "Chart",
    "Knob",
    "Setting",
    "Substitution",
    "Way",
    "chart",
    "flat_stretches",
    "knob_for",
    "substitute",
    "valve_groups",
    "volts_wanted",
    "why_nothing",
]
