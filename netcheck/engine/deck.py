"""A circuit as text for ngspice, by way of a PySpice circuit.

All names in the text are generated; the user's own stand in comments of an exported deck
only. Importing this module imports PySpice, so nothing outside the worker process does,
but for an export.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from typing import Any, NamedTuple

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
    models: dict[tuple[float, ...], int] = {}
    shapes = tuple(_shape(element, nodes, models) for element in kept)
    values = [frequency or 0.0, *map(_value, kept), *chain.from_iterable(models)]
    template = _template(shapes, len(models))
    names = dict(zip((element.name for element in kept), template.names, strict=True))
    currents: dict[str, str] = {}
    ammeters: dict[str, str] = {}
    for index, element in enumerate(kept, start=1):
        if isinstance(element, SineSource | DcSource):
            currents[element.name] = f"{names[element.name]}#branch"
        elif isinstance(element, Junction):
            currents[element.name] = f"vs{index}#branch"
            ammeters[f"s{index}"] = nodes[element.anode]
    places = template.places
    return Deck(
        lines=tuple(template.text.format(*map(number, values)).splitlines()),
        nodes=nodes,
        elements=names,
        capacitances={e.name: places[names[e.name]] for e in kept if isinstance(e, Capacitance)},
        currents=currents,
        ammeters=ammeters,
    )


def number(x: float) -> str:
    """A number such that ngspice reads back the very same."""
    return repr(float(x))


class _Shape(NamedTuple):
    """An element without its name and value: its kind, its generated nodes, its model."""

    kind: type[Element]
    a: str
    b: str
    model: int


class _Template(NamedTuple):
    """The lines of a deck with places for the values, as `str.format` fills them.

    The value of element k, counted from 1, is the k-th; before them comes the frequency, behind
    them come the four of each model.
    """

    text: str
    names: tuple[str, ...]
    places: Mapping[str, int]


def _shape(
    element: Element, nodes: Mapping[str, str], models: dict[tuple[float, ...], int]
) -> _Shape:
    model = 0
    if isinstance(element, Junction):
        values = (element.i_s, element.n, element.r_s, element.c_j)
        model = models.setdefault(values, len(models) + 1)
    a, b = terminals(element)
    return _Shape(type(element), nodes[a], nodes[b], model)


def _value(element: Element) -> float:
    match element:
        case Resistance():
            return element.r
        case Capacitance():
            return element.c
        case SineSource():
            return element.v_peak
        case DcSource():
            return element.v
        case CurrentSource():
            return element.i
        case Junction():
            return 0.0  # it has a model instead


@lru_cache(maxsize=64)
def _template(shapes: tuple[_Shape, ...], models: int) -> _Template:
    """Have PySpice write the deck: once for all values, for that takes half as long as a run."""
    circuit = Circuit(TITLE)
    added = [_add(circuit, index, shape) for index, shape in enumerate(shapes, start=1)]
    for k in range(models):
        first = len(shapes) + 1 + 4 * k
        places = {name: f"{{{first + j}}}" for j, name in enumerate(("is", "n", "rs", "cjo"))}
        circuit.model(f"m{k + 1}", "D", **places)
    lines = [line for line in str(circuit).splitlines() if line.strip()][1:]
    return _Template(
        text="\n".join(lines),
        names=tuple(str(element.name).lower() for element in added),
        places={line.split()[0].lower(): k for k, line in enumerate(lines)},
    )


def _add(circuit: Circuit, index: int, shape: _Shape) -> Any:
    """Add one element to the circuit; the element that PySpice made of it."""
    kind, a, b, model = shape
    value = f"{{{index}}}"
    if kind is Resistance:
        return circuit.R(index, a, b, value)
    if kind is Capacitance:
        return circuit.C(index, a, b, value)
    if kind is SineSource:
        return circuit.V(index, a, b, f"dc 0 sin(0 {value} {{0}})")
    if kind is DcSource:
        return circuit.V(index, a, b, f"dc {value}")
    if kind is CurrentSource:
        return circuit.I(index, a, b, f"dc {value}")
    # A source of 0 V as an ammeter: its current balances exactly, whereas the one
    # that a diode gives of itself is an iteration old and a few percent off.
    circuit.V(f"s{index}", a, f"s{index}", "dc 0")
    return circuit.D(index, f"s{index}", b, model=f"m{model}")
