"""A sheet of readings as plain data: the meters, the conditions, what was read."""

from .conditions import START, Conditions
from .meter import ASSUMED, UNSTATED, Accuracy, Function, Meter, Range, Uncertainty
from .sheet import (
    ANYWHERE,
    DIODE_TEST,
    OVERLOAD,
    POWER_OFF,
    SOLDERED_IN,
    WITH_OVERLOAD,
    Kind,
    Position,
    Reading,
    Sheet,
    Stage,
    State,
    dimension_of,
    function_of,
)

__all__ = [
    "ANYWHERE",
    "ASSUMED",
    "DIODE_TEST",
    "OVERLOAD",
    "POWER_OFF",
    "SOLDERED_IN",
    "START",
    "UNSTATED",
    "WITH_OVERLOAD",
    "Accuracy",
    "Conditions",
    "Function",
    "Kind",
    "Meter",
    "Position",
    "Range",
    "Reading",
    "Sheet",
    "Stage",
    "State",
    "Uncertainty",
    "dimension_of",
    "function_of",
]
