"""Readings held against the drawing: what the meter would show, how far off, do they agree."""

from .comparison import Comparison, Joint, Mains, Verdict, agreement, compare
from .curve import Curve, Spot, curves
from .expected import Expected
from .junctions import Conduction
from .reading import Compared
from .together import Together

__all__ = [
    "Compared",
    "Comparison",
    "Conduction",
    "Curve",
    "Expected",
    "Joint",
    "Mains",
    "Spot",
    "Together",
    "Verdict",
    "agreement",
    "compare",
    "curves",
]
