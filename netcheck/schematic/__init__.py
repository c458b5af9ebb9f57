"""A section drawn as a schematic, as data: what stands where, from the graph alone."""

from __future__ import annotations

from . import lettering
from .compose import layout
from .drawing import Box, Dot, Drawing, Frame, Pin, Symbol, Text, Wire
from .notes import Entry, Mark, Notes

__all__ = [
    "Box",
    "Dot",
    "Drawing",
    "Entry",
    "Frame",
    "Mark",
    "Notes",
    "Pin",
    "Symbol",
    "Text",
    "Wire",
    "layout",
    "lettering",
]
