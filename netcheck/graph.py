"""The circuit as a networkx multigraph, and what can be read off it.

Nodes are the circuit's nodes; each edge is a part, or the half of one, keyed by its name.
Links join nodes as they do in the chassis, so they are edges too.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from .netlist import (
    GROUND,
    OPEN,
    Capacitor,
    Circuit,
    Diode,
    Link,
    Part,
    Pot,
    Supply,
    Valve,
    Winding,
    Zener,
)

if TYPE_CHECKING:
    Graph = nx.MultiGraph[str]
else:
    Graph = nx.MultiGraph
"""Edges carry `part` (the Part) and `kind` (its kind word)."""


def graph_of(circuit: Circuit) -> Graph:
    """The graph of a circuit.

    Parameters
    ----------
    circuit : Circuit
        The circuit.

    Returns
    -------
    networkx.MultiGraph
        Edges keyed by part name ("R3"), pot half ("RV1.top", "RV1.bottom") or stretch of a
        winding ("T1", "T1.1", ...), with attributes `part` and `kind`. A valve is no edge: it
        is listed in the attribute `valves` of its grid's node.
    """
    graph = Graph()
    graph.add_node(GROUND)
    graph.add_nodes_from(circuit.nodes)
    for part in circuit.parts:
        for key, a, b in edges_of(part):
            graph.add_edge(a, b, key=key, part=part, kind=part.kind)
        if isinstance(part, Valve):
            graph.nodes[part.grid].setdefault("valves", []).append(part)
    return graph


def edges_of(part: Part) -> Iterator[tuple[str, str, str]]:
    """(key, node, node) of each edge that a part makes."""
    if isinstance(part, Pot):
        if part.top != OPEN:
            yield f"{part.name}.top", part.top, part.wiper
        if part.bottom != OPEN:
            yield f"{part.name}.bottom", part.wiper, part.bottom
    elif isinstance(part, Winding):
        stops = [node for _, node in part.terminals]
        for index, (a, b) in enumerate(pairwise(stops)):
            yield part.name + (f".{index}" if index else ""), a, b
    elif not isinstance(part, Valve):
        (_, a), (_, b) = part.terminals
        yield part.name, a, b


def joined(circuit: Circuit) -> dict[str, str]:
    """For every node the one that stands for it once links have joined some."""
    stands: dict[str, str] = {node: node for node in (*circuit.nodes, GROUND)}

    def root(node: str) -> str:
        while stands[node] != node:
            node = stands[node]
        return node

    for link in circuit.of(Link):
        a, b = root(link.start), root(link.end)
        keep, give = (b, a) if b == GROUND else (a, b)
        stands[give] = keep
    return {node: root(node) for node in stands}


def carries_dc(part: Part) -> bool:
    """Whether direct current can flow through a part, in one direction at least."""
    if isinstance(part, Capacitor):
        return part.i_leak is not None or part.r_leak is not None
    return not isinstance(part, Valve)


@dataclass(frozen=True)
class Section:
    """A circuit with its graph and the views of it that checks and predictions share.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    """

    circuit: Circuit
    graph: Graph = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "graph", graph_of(self.circuit))

    @functools.cached_property
    def dc(self) -> Graph:
        """The graph without the edges that block direct current."""
        return self._kept(carries_dc)

    @functools.cached_property
    def joined(self) -> dict[str, str]:
        """For every node the one that stands for it once links have joined some."""
        return joined(self.circuit)

    def at(self, node: str) -> str:
        """The node that stands for this one once links have joined some; OPEN for itself."""
        return self.joined.get(node, node)

    def _kept(self, keep: Callable[[Part], bool]) -> Graph:
        kept = Graph()
        kept.add_nodes_from(self.graph.nodes(data=True))
        for a, b, key, data in self.graph.edges(keys=True, data=True):
            if keep(data["part"]):
                kept.add_edge(a, b, key=key, **data)
        return kept

    @functools.cached_property
    def grids(self) -> dict[str, list[Valve]]:
        """The valves at each grid node, in the order of the file."""
        at: dict[str, list[Valve]] = {}
        for valve in self.circuit.of(Valve):
            at.setdefault(valve.grid, []).append(valve)
        return at

    @functools.cached_property
    def sources(self) -> tuple[Winding | Supply, ...]:
        """Whatever makes volts."""
        return tuple(p for p in self.circuit.parts if isinstance(p, Winding | Supply))

    @functools.cached_property
    def watched(self) -> tuple[str, ...]:
        """The nodes whose bias is looked at: the grids, or the wipers if no valve is drawn."""
        if self.grids:
            return tuple(self.grids)
        wipers = dict.fromkeys(pot.wiper for pot in self.circuit.of(Pot))
        return tuple(wipers)

    @functools.cached_property
    def cut(self) -> Cut | None:
        """Where the rectifier ends and the resistive network begins; None if nowhere."""
        return find_cut(self)


@dataclass(frozen=True, slots=True)
class Cut:
    """The circuit in two: rectifiers, and a network that is linear for the mean.

    Nodes that links join are one node here, under the name that `Section.joined` gives.

    Parameters
    ----------
    ports : tuple of str
        The nodes at which the network hangs on a rectifier, one for each rectifier.
    front : frozenset of str
        Names of the parts in front of the ports.
    front_nodes : frozenset of str
        The nodes in front, ports and ground left out.
    """

    ports: tuple[str, ...]
    front: frozenset[str]
    front_nodes: frozenset[str]


def find_cut(section: Section) -> Cut | None:
    """Cut each rectifier off at the one node where its last diode ends.

    Over a period in steady state the mean current of every capacitor is zero, so behind that
    node the mean voltages obey the resistive network exactly.

    Returns
    -------
    Cut or None
        None if some rectifier cannot be cut off at a single node without taking a grid or a
        pot with it, or if a capacitor leads alternating volts past the cut. A circuit without
        any rectifier has no port.
    """
    whole = nx.relabel_nodes(section.graph, section.joined)
    islands = nx.relabel_nodes(section.dc, section.joined)
    islands.remove_node(GROUND)
    kept = _behind_for_sure(section)
    ports: list[str] = []
    front_nodes: set[str] = set()
    for island in nx.connected_components(islands):
        active = _active_nodes(whole, island)
        if not island & kept:  # such as a winding's end that only a capacitor leads on from
            front_nodes |= island if active else set()
        elif active:
            port = _port(islands.subgraph(island), active, kept)
            if port is None:
                return None
            ports.append(port[0])
            front_nodes |= port[1]
    front = {
        part.name
        for a, b, part in whole.edges(data="part")
        if {a, b} & front_nodes or isinstance(part, Diode | Zener | Winding)
    }
    if _is_bridged(whole, set(ports), front_nodes):
        return None
    return Cut(tuple(sorted(ports)), frozenset(front), frozenset(front_nodes))


def _is_bridged(whole: Graph, ports: set[str], front_nodes: set[str]) -> bool:
    """Whether what hangs behind a port changes its rectifier by more than its direct load.

    A capacitor from in front to behind does that, and one that makes two rectifiers one: what
    hangs on the port of either then changes the other.
    """
    front: nx.Graph[str] = nx.Graph()
    for a, b in whole.edges():
        ends = {a, b} - {GROUND}
        if len(ends) < 2 or not ends & front_nodes:
            continue
        if not ends <= front_nodes | ports:
            return True
        front.add_edge(a, b)
    return any(len(piece & ports) > 1 for piece in nx.connected_components(front))


def _behind_for_sure(section: Section) -> set[str]:
    """Grids and pots: a cut that takes one of them to the front is of no use."""
    nodes = set(section.watched)
    for pot in section.circuit.of(Pot):
        nodes |= {node for _, node in pot.terminals if node != OPEN}
    return {section.joined[node] for node in nodes}


def _active_nodes(whole: Graph, island: set[str]) -> set[str]:
    """The nodes of an island at which a diode, a zener or a winding stands."""
    active = (Diode, Zener, Winding)
    ends = {n for a, b, data in whole.edges(data=True) if isinstance(data["part"], active)
            for n in (a, b)}  # fmt: skip
    return ends & island


def _port(island: Graph, active: set[str], kept: set[str]) -> tuple[str, set[str]] | None:
    """The best port of an island with the nodes in front of it: the one with the fewest."""
    best: tuple[str, set[str]] | None = None
    for port in sorted(active):
        rest = island.subgraph(set(island) - {port})
        front: set[str] = set()
        for piece in nx.connected_components(rest):
            if piece & active:
                front |= piece
        if not front & kept and (best is None or len(front) < len(best[1])):
            best = port, front
    return best
