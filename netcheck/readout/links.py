"""Links as parts that may fail: a fuse that blew, a strap that broke, a switch that is dirty."""

from __future__ import annotations

from dataclasses import replace

from ..netlist import Circuit, Link, Part, Resistor

R_LINK = 0.02
"""A wire, a strap, a closed switch or a fuse, with its joints. [ohm]"""
MOST = 0.05
"""What is not more is a link. [ohm]"""


def with_links_as_parts(circuit: Circuit) -> Circuit:
    """The circuit with a small resistor for each link, so that its two ends are two nodes.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    """
    return replace(circuit, parts=tuple(_as_part(part) for part in circuit.parts))


def is_link(part: Part | None) -> bool:
    """Whether a part stands for a link."""
    return isinstance(part, Resistor) and part.r <= MOST


def _as_part(part: Part) -> Part:
    if not isinstance(part, Link):
        return part
    return Resistor(name=part.name, note=part.note, year=part.year, span=part.span,
                    marks=part.marks, start=part.start, end=part.end, r=R_LINK,
                    tolerance=0.5)  # fmt: skip
