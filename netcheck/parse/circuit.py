"""The lines of a circuit file, turned into the parts of a circuit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..finding import Finding
from ..netlist import HighTension, Mains, Part
from ..source import Source
from ..valves import ValveType
from . import parts, sources
from .fields import Fields
from .lines import ParsedLine


@dataclass(frozen=True, slots=True)
class Title:
    """The line that names the circuit."""

    text: str


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """The line that lists nodes which go on outside the section."""

    nodes: tuple[str, ...]


Entry = Part | Mains | HighTension | Title | Elsewhere


def build_entry(
    source: Source, line: ParsedLine, own_types: Sequence[ValveType] = ()
) -> tuple[Entry | None, list[Finding]]:
    """What one line says.

    Parameters
    ----------
    source : Source
        The text.
    line : ParsedLine
        The line.
    own_types : sequence of ValveType
        Valve types of the user's own.

    Returns
    -------
    entry or None
        None for a line that says nothing or cannot be used.
    list of Finding
        What is wrong in it, beyond its syntax.
    """
    if line.tree is None:
        return None, []
    fields = Fields(source, line, line.tree, own_types)
    entry = _BUILDERS[str(line.tree.data)](fields)
    unusable = bool(fields.findings) or line.broken
    return (None if unusable else entry), fields.findings


def _circuit(f: Fields) -> Title:
    return Title(f.words[0][1:-1])


def _elsewhere(f: Fields) -> Elsewhere:
    return Elsewhere(tuple(f.words))


_BUILDERS: dict[str, Callable[[Fields], Entry | None]] = {
    "circuit": _circuit,
    "mains": sources.mains,
    "elsewhere": _elsewhere,
    "hightension": sources.high_tension,
    "winding": sources.winding,
    "supply": sources.supply,
    "resistor": parts.resistor,
    "capacitor": parts.capacitor,
    "diode": parts.diode,
    "zener": parts.zener,
    "link": parts.link,
    "pot": parts.pot,
    "tremolo": sources.tremolo,
    "valve": parts.valve,
}
