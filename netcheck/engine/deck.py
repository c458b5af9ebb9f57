"""A circuit as text for ngspice, by way of a PySpice circuit.

All names in the text are generated; the user's own stand in comments of an exported deck
only. Importing this module imports PySpice, so nothing outside the worker process does,
but for an export.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

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
        Voltage sources and junctions to the vector that holds their current.
    ammeters : mapping of str to str
        Generated nodes between an ammeter and its junction to the anode's generated node.
    """

    lines: tuple[str, ...]
    nodes: Mapping[str, str]
    elements: Mapping[str, str]
    capacitances: Mapping[str, int]
    currents: Mapping[str, str]
    ammeters: Mapping[str, str]

    def text(
        self,
        start: Mapping[str, float],
        nodes: Mapping[str, float],
        options: str = METHOD,
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
        """
        lines = list(self.lines)
        for name, v in start.items():
            if name in self.capacitances:
                lines[self.capacitances[name]] += f" ic={number(v)}"
        known = {self.nodes[node]: v for node, v in nodes.items()}
        known.update({at: known[node] for at, node in self.ammeters.items() if node in known})
        lines.extend(f".ic v({node})={number(v)}" for node, v in known.items() if node != "0")
        lines.append(f".options {OPTIONS} {options}")
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
    currents: dict[str, str] = {}
    ammeters: dict[str, str] = {}
    for index, element in enumerate(kept, start=1):
        added = _add(circuit, str(index), element, nodes, models, frequency)
        names[element.name] = str(added.name).lower()
        if isinstance(element, SineSource | DcSource):
            currents[element.name] = f"{names[element.name]}#branch"
        elif isinstance(element, Junction):
            currents[element.name] = f"vs{index}#branch"
            ammeters[f"s{index}"] = nodes[element.anode]
    lines = [line for line in str(circuit).splitlines() if line.strip()][1:]
    places = {line.split()[0].lower(): k for k, line in enumerate(lines)}
    return Deck(
        lines=tuple(lines),
        nodes=nodes,
        elements=names,
        capacitances={e.name: places[names[e.name]] for e in kept if isinstance(e, Capacitance)},
        currents=currents,
        ammeters=ammeters,
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
) -> Any:
    """Add one element to the circuit; the element that PySpice made of it."""
    a, b = (nodes[node] for node in terminals(element))
    match element:
        case Resistance():
            return circuit.R(index, a, b, float(element.r))
        case Capacitance():
            return circuit.C(index, a, b, float(element.c))
        case SineSource():
            sine = f"sin(0 {number(element.v_peak)} {number(frequency or 0.0)})"
            return circuit.V(index, a, b, f"dc 0 {sine}")
        case DcSource():
            return circuit.V(index, a, b, f"dc {number(element.v)}")
        case CurrentSource():
            return circuit.I(index, a, b, f"dc {number(element.i)}")
        case Junction():
            key = (element.i_s, element.n, element.r_s, element.c_j)
            if key not in models:
                models[key] = f"m{len(models) + 1}"
                values = dict(zip(("is", "n", "rs", "cjo"), map(float, key), strict=True))
                circuit.model(models[key], "D", **values)
            # A source of 0 V as an ammeter: its current balances exactly, whereas the one
            # that a diode gives of itself is an iteration old and a few percent off.
            circuit.V(f"s{index}", a, f"s{index}", "dc 0")
            return circuit.D(index, f"s{index}", b, model=models[key])
