"""The layout of a section: as drawn by hand, or plainly where that cannot be done."""

from __future__ import annotations

from collections.abc import Sequence

from ..graph import Section
from ..netlist import Circuit
from .assemble import Assembly
from .drawing import Drawing
from .notes import NOTHING, Notes
from .proof import is_sound
from .router import Unroutable
from .shelves import on_shelves
from .sources import planned
from .spacing import spaced

_SPREADS = (1.0, 2.5)
"""Factors by which gaps are widened until all wires find their way. [1]"""

_TIGHT = (0.5, 1.0)
"""The same for a drawing that is wide. [1]"""

_MANY = 80
"""A circuit of more parts is not planned, only drawn plainly. [count]"""


_WIDE = 1080.0
"""A drawing wider than this is hard to read on a sheet of A4: ranges are folded. [unit]"""


def layout(section: Section, notes: Notes = NOTHING, *, folds: bool = True) -> Drawing:
    """Lay a section out as a technician draws it: supply left, grids right, ground below.

    Parameters
    ----------
    section : Section
        Any section, however odd.
    notes : Notes
        What is written into the drawing.
    folds : bool
        Whether ranges of volts may be written in two lines where the drawing gets too wide.

    Returns
    -------
    Drawing
        The same for the same section and notes. Wherever no such layout is found that says
        what the circuit says and can be read, the parts lie on shelves.
    """
    drawing = _by_hand(section.circuit, notes)
    if drawing is None:
        return on_shelves(section.circuit, notes)
    if folds and _width(drawing) > _WIDE:
        narrower = _by_hand(section.circuit, notes.folded(), _TIGHT)
        if narrower is not None and _width(narrower) < _width(drawing):
            return narrower
    return drawing


def _width(drawing: Drawing) -> float:
    return drawing.box.right - drawing.box.left


def _by_hand(circuit: Circuit, notes: Notes, spreads: Sequence[float] = _SPREADS
             ) -> Drawing | None:  # fmt: skip
    """A drawing by plan, if one comes out right."""
    if not 0 < len(circuit.parts) <= _MANY:
        return None
    for spread in spreads:
        try:
            drawing = Assembly(spaced(planned(circuit), notes, spread)).drawing()
        except Unroutable:
            continue
        if is_sound(drawing, circuit):
            return drawing
    return None
