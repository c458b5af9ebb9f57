"""A circuit as text for ngspice, by way of a PySpice circuit.

All names in the text are generated; the user's own stand in comments of an exported deck
only. Importing this module imports PySpice, so nothing outside the worker process does,
but for an export.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from PySpice.Spice.Netlist import Circuit

from .elements import (
    GROUND,
    Capacitance,
    CurrentSource,
    DcSource,
    Element,
    Elements,
    Junction,
    Resistance,
    SineSource,
    terminals,
)

TITLE = "netcheck"
"""Title of every deck: the first line of a deck is never a user's text."""

OPTIONS = "reltol=1e-3 itl4=100 temp=27 tnom=27"
"""The tolerances and temperatures, written out so that no start-up file changes them."""

METHOD = "method=trap"
"""The usual rule of integration."""


@dataclass(frozen=True, slots=True)
class Deck:
    """A deck without initial conditions, and what its names stand for.

    Parameters
    ----------
    lines : tuple of str
        The elements and models.
    nodes : mapping of str to str
        Node as typed to generated node name.
    elements : mapping of str to str
        Element as typed to generated element name; those shorted onto one node are left out.
    capacitances : mapping of str to int
        Capacitances, which take an initial voltage, to the index of their line.
    currents : mapping of str to str
        Voltage sources and junctions to the name of the vector that holds their current.
    """

    lines: tuple[str, ...]
    nodes: Mapping[str, str]
    elements: Mapping[str, str]
    capacitances: Mapping[str, int]
    currents: Mapping[str, str]

    def text(
        self,
        start: Mapping[str, float],
        nodes: Mapping[str, float],
        options: str = METHOD,
        *,
        save: bool = True,
    ) -> str:
        """The deck with initial voltages, ready to be loaded.

        Parameters
        ----------
        start : mapping of capacitance name to float
            Initial voltages of the capacitances; any may be missing. [V]
        nodes : mapping of node name to float
            Initial voltages of nodes: they charge the junction capacitances, for which
            ngspice knows no other way; any may be missing. [V]
        options : str
            More options for ngspice.
        save : bool
            Whether the currents of junctions are asked for, besides all voltages.
        """
        lines = list(self.lines)
        for name, v in start.items():
            if name in self.capacitances:
                lines[self.capacitances[name]] += f" ic={number(v)}"
        lines.extend(
            f".ic v({self.nodes[node]})={number(v)}" for node, v in nodes.items() if node != GROUND
        )
        lines.append(f".options {OPTIONS} {options}")
        devices = [vector for vector in self.currents.values() if vector.startswith("@")]
        if save and devices:
            lines.append(".save all " + " ".join(devices))
        return "\n".join([f".title {TITLE}", *lines, ".end", ""])


def build(elements: Elements, frequency: float | None) -> Deck:
    """Make the deck of a circuit that passed the preflight.

    Parameters
    ----------
    elements : sequence of Element
        The circuit.
    frequency : float or None
        Frequency of the sine sources. [Hz]
    """
    # A part with both ends at one node carries nothing to the circuit.
    kept = [element for element in elements if len(set(terminals(element))) == 2]
    nodes = {GROUND: "0"}
    for element in elements:
        for node in terminals(element):
            nodes.setdefault(node, f"n{len(nodes)}")
    circuit = Circuit(TITLE)
    models: dict[tuple[float, ...], str] = {}
    names: dict[str, str] = {}
    for index, element in enumerate(kept, start=1):
        names[element.name] = _add(circuit, str(index), element, nodes, models, frequency)
    lines = [line for line in str(circuit).splitlines() if line.strip()][1:]
    return Deck(
        lines=tuple(lines),
        nodes=nodes,
        elements=names,
        capacitances={e.name: k for k, e in enumerate(kept) if isinstance(e, Capacitance)},
        currents={e.name: vector for e in kept if (vector := _current(e, names[e.name]))},
    )


def number(x: float) -> str:
    """A number such that ngspice reads back the very same."""
    return repr(float(x))


def _add(
    circuit: Circuit,
    index: str,
    element: Element,
    nodes: Mapping[str, str],
    models: dict[tuple[float, ...], str],
    frequency: float | None,
) -> str:
    """Add one element to the circuit; the name that it has in the deck."""
    a, b = (nodes[node] for node in terminals(element))
    match element:
        case Resistance():
            added = circuit.R(index, a, b, float(element.r))
        case Capacitance():
            added = circuit.C(index, a, b, float(element.c))
        case SineSource():
            sine = f"sin(0 {number(element.v_peak)} {number(frequency or 0.0)})"
            added = circuit.V(index, a, b, f"dc 0 {sine}")
        case DcSource():
            added = circuit.V(index, a, b, f"dc {number(element.v)}")
        case CurrentSource():
            added = circuit.I(index, a, b, f"dc {number(element.i)}")
        case Junction():
            key = (element.i_s, element.n, element.r_s, element.c_j)
            if key not in models:
                models[key] = f"m{len(models) + 1}"
                values = dict(zip(("is", "n", "rs", "cjo"), map(float, key), strict=True))
                circuit.model(models[key], "D", **values)
            added = circuit.D(index, a, b, model=models[key])
    return str(added.name).lower()


def _current(element: Element, name: str) -> str | None:
    """The name that ngspice gives to the vector of a current."""
    if isinstance(element, SineSource | DcSource):
        return f"{name}#branch"
    if isinstance(element, Junction):
        return f"@{name}[id]"
    return None
