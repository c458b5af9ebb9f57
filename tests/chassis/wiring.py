"""A chassis as it is wired, faults in it, as elements that ngspice simulates."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import networkx as nx

from netcheck.engine.elements import (
    GROUND,
    Capacitance,
    CurrentSource,
    DcSource,
    Element,
    Junction,
    Resistance,
    SineSource,
    terminals,
)
from netcheck.graph import joined
from netcheck.model import elements
from netcheck.netlist import (
    OPEN,
    Capacitor,
    Circuit,
    Diode,
    Part,
    Pot,
    Resistor,
    Supply,
    Valve,
    Winding,
    Zener,
)
from netcheck.preferred import parallel

from .faults import MAINS, STRAY, Fault

R_SHORT = 0.2
"""Of a short: a solder bridge, a burnt-through junction. [ohm]"""
R_ANCHOR = 100e6
"""From a node that hangs in the air to ground: the insulation of a tag strip. [ohm]"""
DISCHARGE = 100.0
"""Time constant of an electrolytic with nothing across it: the leakage that data sheets allow,
0.01 C V in uA with C in uF; common practice. [s]"""


@dataclass(frozen=True, slots=True)
class Wiring:
    """What is in a chassis.

    Parameters
    ----------
    circuit : Circuit
        The circuit as it is wired.
    values : mapping of str to float
        What its parts really have; parameters as in `netcheck.model`.
    added : tuple of Element
        What no part of it stands for.
    removed : frozenset of str
        Names of elements that are open.
    """

    circuit: Circuit
    values: Mapping[str, float]
    added: tuple[Element, ...] = ()
    removed: frozenset[str] = frozenset()

    def elements(self, travel: Mapping[str, float]) -> list[Element]:
        """All elements, the pots turned to some travel [1]."""
        values = dict(self.values) | {f"{name}.travel": at for name, at in travel.items()}
        made = [e for e in elements(self.circuit, values) if e.name not in self.removed]
        return made + list(self.added)

    def put(self, **values: float) -> Wiring:
        """The same with other values."""
        return replace(self, values=dict(self.values) | values)

    def without(self, *names: str) -> Wiring:
        """The same with elements taken out."""
        return replace(self, removed=self.removed | set(names))

    def across(self, name: str, a: str, b: str, r: float) -> Wiring:
        """The same with a resistance more."""
        at = joined(self.circuit)
        one = Resistance(name, at.get(a, a), at.get(b, b), r)
        return replace(self, added=(*self.added, one))

    def rewired(self, part: Part, **fields: str) -> Wiring:
        """The same with a part wired otherwise, or of another kind."""
        other = replace(part, **fields)  # type: ignore[arg-type]
        parts = tuple(other if p.name == part.name else p for p in self.circuit.parts)
        return replace(self, circuit=replace(self.circuit, parts=parts))


def anchored(circuit: Sequence[Element], *, opened: bool) -> list[Element]:
    """A circuit in which every node has a way for direct current to ground.

    Parameters
    ----------
    circuit : sequence of Element
        The circuit.
    opened : bool
        Whether something is open in it. Then a diode is no way: a node that only its leakage
        holds settles within hours, in ngspice too, while in a chassis the electrolytic's own
        leakage settles it.
    """
    ways = (Resistance, SineSource, DcSource) if opened else (
        Resistance, SineSource, DcSource, Junction)  # fmt: skip
    graph: nx.Graph[str] = nx.Graph()
    graph.add_node(GROUND)
    held: dict[str, float] = defaultdict(float)
    for element in circuit:
        ends = terminals(element)
        graph.add_nodes_from(ends)
        if isinstance(element, ways):
            graph.add_edge(*ends)
        elif isinstance(element, Capacitance):
            for end in ends:
                held[end] += element.c
    made = list(circuit)
    for island in nx.connected_components(graph):
        if GROUND not in island:
            node = max(sorted(island), key=lambda n: held[n])
            r = min(R_ANCHOR, DISCHARGE / max(held[node], 1e-12))
            made.append(Resistance(f"anchor {node}", node, GROUND, r))
    return made


def broken(wiring: Wiring, fault: Fault, nominal: Mapping[str, float]) -> Wiring:
    """Build a fault in.

    Parameters
    ----------
    wiring : Wiring
        Before.
    fault : Fault
        The fault; one of a meter or a reading changes nothing here.
    nominal : mapping of str to float
        What the parts should have.
    """
    part = wiring.circuit.part(fault.part)
    if isinstance(part, Resistor):
        return _resistor(wiring, part, fault)
    if isinstance(part, Pot):
        return _pot(wiring, part, fault)
    if isinstance(part, Capacitor):
        return _capacitor(wiring, part, fault)
    if isinstance(part, Diode | Zener):
        return _semiconductor(wiring, part, fault)
    return _source(wiring, part, fault, nominal)


def _source(
    wiring: Wiring, part: Part | None, fault: Fault, nominal: Mapping[str, float]
) -> Wiring:
    if fault.mode == "half open":
        # Broken next to the centre: stretches are counted from the start.
        stretch = "" if fault.detail == "from" else ".1"
        return wiring.without(f"{fault.part}.source{stretch}")
    if isinstance(part, Valve):
        # Ions that reach the grid take electrons from it: the current flows out of the
        # valve into the grid leak, and lifts the grid.
        grid = joined(wiring.circuit)[part.grid]
        source = CurrentSource(f"{part.name} grid current", GROUND, grid, _number(fault))
        return replace(wiring, added=(*wiring.added, source))
    if fault.part == MAINS or isinstance(part, Winding | Supply):
        return wiring.put(**{fault.part: nominal[fault.part] * _number(fault)})
    if fault.part == STRAY:
        a, b = fault.nodes
        return wiring.across(f"stray leak {a} {b}", a, b, _number(fault))
    return wiring


def _number(fault: Fault) -> float:
    if fault.number is None:
        raise ValueError(f"{fault} needs a number")
    return fault.number


def _other(wiring: Wiring, part: Part, marked: float, drawn: float) -> Wiring:
    """Another part fitted: as far from its marking as the one drawn would have been."""
    return wiring.put(**{part.name: wiring.values[part.name] * marked / drawn})


def _resistor(wiring: Wiring, part: Resistor, fault: Fault) -> Wiring:
    name = part.name
    if fault.mode == "off":
        return wiring.put(**{name: _number(fault)})
    if fault.mode in ("neighbour", "decade"):
        return _other(wiring, part, _number(fault), part.r)
    if fault.mode == "strapped":
        return wiring.put(**{name: parallel(wiring.values[name], _number(fault))})
    if fault.mode == "short":
        return wiring.put(**{name: R_SHORT})
    return wiring.without(name)


def _pot(wiring: Wiring, pot: Pot, fault: Fault) -> Wiring:
    name = pot.name
    if fault.mode == "other value":
        end = f"{name}.end"
        share = {end: wiring.values[end] * _number(fault) / pot.r}
        return _other(wiring, pot, _number(fault), pot.r).put(**share)
    if fault.mode == "other taper":
        return wiring.rewired(pot, taper=fault.detail)
    if fault.mode == "wiper lifted":
        return wiring.rewired(pot, wiper=f"{name} lifted")
    if fault.mode == "ends exchanged":
        return wiring.rewired(pot, top=pot.bottom, bottom=pot.top)
    if fault.mode == "worn end":
        # The way from the lug to the sound track has become a resistance.
        node, worn = getattr(pot, fault.detail), f"{name} worn"
        more = wiring.rewired(pot, **{fault.detail: worn})
        return more.across(f"{name} worn end", worn, node, _number(fault))
    return wiring.rewired(pot, **{fault.mode.removesuffix(" open"): OPEN})


def _capacitor(wiring: Wiring, part: Capacitor, fault: Fault) -> Wiring:
    if fault.mode == "dried out":
        left = wiring.values[part.name] * _number(fault)
        return wiring.put(**{part.name: left, f"{part.name}.esr": fault.second or 0.0})
    r = R_SHORT if fault.mode == "short" else _number(fault)
    leak = f"{part.name}.leak"
    if (drawn := wiring.values.get(leak, math.inf)) < math.inf:
        r = parallel(r, drawn)
    return wiring.put(**{leak: r})


def _semiconductor(wiring: Wiring, part: Diode | Zener, fault: Fault) -> Wiring:
    name = part.name
    if fault.mode == "other value" and isinstance(part, Zener):
        return _other(wiring, part, _number(fault), part.v_zener)
    if fault.mode == "leaky":
        return wiring.across(f"{name} leak", part.anode, part.cathode, _number(fault))
    pieces = ("forward", "break", "volts", "series")
    gone = [name] if isinstance(part, Diode) else [f"{name}.{piece}" for piece in pieces]
    opened = wiring.without(*gone)
    if fault.mode == "open":
        return opened
    return opened.across(f"{name} short", part.anode, part.cathode, R_SHORT)
