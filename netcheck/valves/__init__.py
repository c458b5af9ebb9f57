"""Output valve types: published limits and operating points, and a current model.

`model` (which needs numpy) and `practice` are imported from where they are used.
"""

from .table import known_types, lookup, nearest, read_types, shipped_types
from .valve_type import (
    GridCircuit,
    Kind,
    Limits,
    Origin,
    Rating,
    Row,
    ScreenShare,
    Status,
    ValveType,
)

__all__ = [
    "GridCircuit",
    "Kind",
    "Limits",
    "Origin",
    "Rating",
    "Row",
    "ScreenShare",
    "Status",
    "ValveType",
    "known_types",
    "lookup",
    "nearest",
    "read_types",
    "shipped_types",
]
