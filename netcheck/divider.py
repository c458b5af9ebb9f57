"""The part of a section that carries the supply's current, and what hangs on it without any.

Between the rectifier's output and ground flows a direct current; grids draw none, so that
whatever only leads to them hangs on that network like a branch on a trunk.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Collection
from dataclasses import dataclass
from enum import Flag, auto

import networkx as nx

from .netlist import GROUND, OPEN, Diode, Pot
from .topology import Edge, Topology

_SOURCE = "(source)"  # no node of a circuit: a name has no blank and no bracket counts


class Side(Flag):
    """What a piece of the divider, its pots taken out, contains."""

    NOTHING = 0
    SUPPLY = auto()
    """An output of the rectifier."""
    END = auto()
    """An end of a pot."""
    WIPER = auto()
    """The wiper of a pot."""
    LINE = auto()
    """A node that grids hang on."""


@dataclass(frozen=True)
class Divider:
    """The current-carrying network behind the rectifier.

    Parameters
    ----------
    topology : Topology
        Of the section.
    """

    topology: Topology

    @functools.cached_property
    def outputs(self) -> frozenset[str]:
        """Where the supply comes in; from outside the section if there is none inside."""
        inside = frozenset(output.node for output in self.topology.outputs)
        return inside or (self.topology.elsewhere & self._feeding)

    @functools.cached_property
    def _feeding(self) -> frozenset[str]:
        """The nodes with a direct path to a pot or grid."""
        used = self.topology.grids.keys() | self.topology.pot_nodes
        return self.topology.reach(used - {GROUND}, self.topology.is_ohmic, _not_ground)

    @functools.cached_property
    def behind(self) -> frozenset[str]:
        """The nodes of the direct-voltage network, ground left out."""
        hot = self.topology.hot
        # Without a reservoir the alternating voltage goes on into the network behind.
        lets_in_hot = not all(output.has_reservoir for output in self.topology.outputs)
        fed = self.topology.reach(
            self.outputs - {GROUND},
            self._is_direct,
            lambda node: node != GROUND and (lets_in_hot or node not in hot),
        )
        return fed | (self._feeding - hot)

    def _is_direct(self, edge: Edge) -> bool:
        """Whether direct current can pass a piece behind the rectifier."""
        if isinstance(edge.part, Diode):
            return edge.part not in self.topology.rectifiers
        return self.topology.is_ohmic(edge)

    @functools.cached_property
    def edges(self) -> tuple[Edge, ...]:
        """The pieces that lie on a way from the supply to ground."""
        graph: nx.Graph[str] = nx.Graph()
        graph.add_edge(_SOURCE, GROUND)
        graph.add_edges_from((_SOURCE, node) for node in self.outputs if node != GROUND)
        inside = self.behind | {GROUND}
        direct = [e for e in self.topology.edges
                  if self._is_direct(e) and {e.a, e.b} <= inside]  # fmt: skip
        graph.add_edges_from((e.a, e.b) for e in direct)
        trunk: set[frozenset[str]] = set()
        for block in nx.biconnected_component_edges(graph):
            pairs = {frozenset(pair) for pair in block}
            if frozenset((_SOURCE, GROUND)) in pairs:
                trunk = pairs
        return tuple(e for e in direct if frozenset((e.a, e.b)) in trunk)

    @functools.cached_property
    def nodes(self) -> frozenset[str]:
        """The nodes of the divider, the supply's and ground included."""
        return frozenset({GROUND, *self.outputs, *(n for e in self.edges for n in (e.a, e.b))})

    # ---------------------------------------------------------------- its branches

    @functools.cached_property
    def line(self) -> frozenset[str]:
        """The nodes of the divider on which grids hang, or which are grids."""
        branches = self.topology.reach(
            self.topology.grids.keys() - self.nodes,
            self._is_direct,
            lambda node: node not in self.nodes,
        )
        roots = {edge.other(node) for node in branches for edge in self.topology.around(node)
                 if self._is_direct(edge) and edge.other(node) in self.nodes}  # fmt: skip
        return frozenset((roots | self.topology.grids.keys()) & self.nodes) - {GROUND}

    def beyond(self, edge: Edge) -> tuple[str, frozenset[str]] | None:
        """Where a branch goes on behind one of its pieces.

        Returns
        -------
        (node, nodes) or None
            The end of the piece away from the divider and all nodes from there on; None for a
            piece that does not hang on the divider.
        """
        twins = {e.key for e in self.topology.edges if {e.a, e.b} == {edge.a, edge.b}}
        for near, far in ((edge.a, edge.b), (edge.b, edge.a)):
            if far in self.nodes:
                continue
            rest = self._reach_without(far, twins)
            if not rest & self.nodes:
                back = self._reach_without(near, twins)
                return (far, rest) if back & self.nodes else None
        return None

    def _reach_without(self, start: str, keys: Collection[str]) -> frozenset[str]:
        """The nodes that direct current reaches without some pieces and not by way of ground."""

        def passes(edge: Edge) -> bool:
            return edge.key not in keys and self._is_direct(edge)

        near = self.topology.reach([start], passes, _not_ground)
        touches = start == GROUND or any(
            edge.other(node) == GROUND and passes(edge)
            for node in near - {GROUND}
            for edge in self.topology.around(node)
        )
        return near | {GROUND} if touches else near

    # ------------------------------------------------------------------- its sides

    def sides(self, edge: Edge) -> tuple[Side, Side]:
        """What lies at either end of a resistor of the divider, itself and all pots taken out.

        Resistors beside it, and those between two terminals of a pot, are taken out too.
        """
        spans = [{edge.a, edge.b}, *self._pot_spans]
        without = {e.key for e in self.edges if isinstance(e.part, Pot) or {e.a, e.b} in spans}
        return self._side(edge.a, without), self._side(edge.b, without)

    @functools.cached_property
    def _pot_spans(self) -> list[set[str]]:
        """Each two terminals of each pot."""
        return [
            {self.topology.at(a), self.topology.at(b)}
            for pot in self.pots
            for (_, a), (_, b) in itertools.combinations(pot.terminals, 2)
            if OPEN not in (a, b)
        ]

    def _side(self, start: str, without: Collection[str]) -> Side:
        if start == GROUND:
            return Side.NOTHING
        keys = {edge.key for edge in self.edges} - set(without)
        nodes = self.topology.reach([start], lambda edge: edge.key in keys, _not_ground)
        side = Side.NOTHING
        for flag, members in (
            (Side.SUPPLY, self.outputs),
            (Side.LINE, self.line),
            (Side.WIPER, self.wipers),
            (Side.END, self.ends),
        ):
            if nodes & members:
                side |= flag
        return side

    @functools.cached_property
    def pots(self) -> tuple[Pot, ...]:
        """The pots of the divider and of its branches."""
        at, behind = self.topology.at, self.behind
        return tuple(
            pot
            for pot in self.topology.section.circuit.of(Pot)
            if any(at(node) in behind for _, node in pot.terminals)
        )

    @functools.cached_property
    def wipers(self) -> frozenset[str]:
        """The nodes at the wipers."""
        return frozenset(self.topology.at(pot.wiper) for pot in self.pots) - {GROUND}

    @functools.cached_property
    def ends(self) -> frozenset[str]:
        """The nodes at the ends of the pots; the wiper stands for an end that is open."""
        ends = (
            pot.wiper if node == OPEN else node
            for pot in self.pots
            for node in (pot.top, pot.bottom)
        )
        return frozenset(self.topology.at(node) for node in ends) - {GROUND}


def _not_ground(node: str) -> bool:
    return node != GROUND
