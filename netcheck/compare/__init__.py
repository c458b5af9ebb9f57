"""Readings held against the drawing: what the meter would show, how far off, do they agree."""

from ..readout.junctions import Conduction
from .comparison import Comparison, Joint, Mains, Verdict, agreement, compare
from .curve import Curve, Spot, curves
from .expected import Expected
from .reading import Compared
from .repair import Change, IdleLeft, Outcome, Repair, repair
from .together import Together

__all__ = [
    "Change",
    "Compared",
    "Comparison",
    "Conduction",
    "Curve",
    "Expected",
    "IdleLeft",
    "Joint",
    "Mains",
    "Outcome",
    "Repair",
    "Spot",
    "Together",
    "Verdict",
    "agreement",
    "compare",
    "curves",
    "repair",
]
