"""Which nodes of a section alternate, which are quiet, and where the rectifier hands over.

Nothing here looks at a value: only at what is joined to what.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from .graph import Section, edges_of
from .netlist import (
    GROUND,
    OPEN,
    Capacitor,
    Diode,
    Link,
    Part,
    Pot,
    Resistor,
    Supply,
    Valve,
    Winding,
    Zener,
)


@dataclass(frozen=True, slots=True)
class Edge:
    """A part, or a piece of one, between two different nodes.

    Parameters
    ----------
    key : str
        Name of the part ("R3"), the half of a pot ("RV1.top") or a stretch of a winding.
    a, b : str
        Nodes, links taken out.
    part : Part
        The part.
    """

    key: str
    a: str
    b: str
    part: Part

    def other(self, node: str) -> str:
        """The far end, seen from one end."""
        return self.b if node == self.a else self.a


@dataclass(frozen=True, slots=True)
class Output:
    """A node that hands direct voltage to the pots and grids.

    Parameters
    ----------
    node : str
        The reservoir's node where there is one, or else where the rectifier ends.
    start : str
        Where the rectifier ends; another node than `node` if a resistor lies between.
    has_reservoir : bool
        Whether a capacitor holds the volts there, or a supply that needs none.
    """

    node: str
    start: str
    has_reservoir: bool


@dataclass(frozen=True)
class Topology:
    """What is joined to what in a section; nodes that links join are one node here.

    Parameters
    ----------
    section : Section
        The section.
    """

    section: Section

    def at(self, node: str) -> str:
        """The node that stands for `node` once links have joined some."""
        return self.section.at(node)

    @functools.cached_property
    def edges(self) -> tuple[Edge, ...]:
        """Every edge of the section but links and what lies with both ends on one node."""
        found = []
        for part in self.section.circuit.parts:
            if not isinstance(part, Link):
                for key, a, b in edges_of(part):
                    if self.at(a) != self.at(b):
                        found.append(Edge(key, self.at(a), self.at(b), part))
        return tuple(found)

    def kinds(self, *kinds: type[Part]) -> Iterator[Edge]:
        """The edges that belong to parts of some classes."""
        return (edge for edge in self.edges if isinstance(edge.part, kinds))

    @functools.cached_property
    def _around(self) -> dict[str, list[Edge]]:
        around: dict[str, list[Edge]] = {GROUND: []}
        for edge in self.edges:
            around.setdefault(edge.a, []).append(edge)
            around.setdefault(edge.b, []).append(edge)
        return around

    def around(self, node: str) -> list[Edge]:
        """The edges at a node."""
        return self._around.get(node, [])

    def reach(
        self,
        starts: Iterable[str],
        through: Callable[[Edge], bool],
        into: Callable[[str], bool] = lambda node: True,
    ) -> frozenset[str]:
        """The nodes reached from `starts` (themselves included) over some edges into some nodes."""
        seen = set(starts)
        queue = list(seen)
        while queue:
            node = queue.pop()
            for edge in self.around(node):
                far = edge.other(node)
                if far not in seen and through(edge) and into(far):
                    seen.add(far)
                    queue.append(far)
        return frozenset(seen)

    # ------------------------------------------------------------------ what is where

    @functools.cached_property
    def grids(self) -> dict[str, list[Valve]]:
        """The valves at each grid node."""
        found: dict[str, list[Valve]] = {}
        for valve in self.section.circuit.of(Valve):
            found.setdefault(self.at(valve.grid), []).append(valve)
        return found

    @functools.cached_property
    def pot_nodes(self) -> frozenset[str]:
        """The nodes at the terminals of pots."""
        pots = self.section.circuit.of(Pot)
        return frozenset(self.at(n) for pot in pots for _, n in pot.terminals if n != OPEN)

    @functools.cached_property
    def elsewhere(self) -> frozenset[str]:
        """The nodes that go on outside the section."""
        return frozenset(self.at(node) for node in self.section.circuit.elsewhere)

    @functools.cached_property
    def windings_at(self) -> dict[str, list[Winding]]:
        """The windings at each node that has one, ground included."""
        found: dict[str, list[Winding]] = {}
        for winding in self.section.circuit.of(Winding):
            for node in dict.fromkeys(self.at(node) for _, node in winding.terminals):
                found.setdefault(node, []).append(winding)
        return found

    # -------------------------------------------------------- alternating and quiet

    @functools.cached_property
    def quiet(self) -> frozenset[str]:
        """Ground, and the nodes that capacitors or direct supplies hold against it.

        A capacitor from ground to the end of a winding only bypasses it, unless the winding
        has no other hold: a voltage doubler stands on the middle of its two capacitors.
        """
        quiet = {GROUND}
        while True:
            more = self._windings_held(quiet) or self._nodes_held(quiet)
            if not more:
                return frozenset(quiet)
            quiet |= more

    def _windings_held(self, quiet: set[str]) -> set[str]:
        """Ends of windings without a hold that a capacitor or a supply holds, diodes aside."""
        more = set()
        for winding in self.section.circuit.of(Winding):
            ends = {self.at(node) for _, node in winding.terminals}
            free = [node for node in ends if self._is_free(node, quiet)]
            held = [node for node in free if self._is_held(node, quiet)]
            if not ends & quiet and len(held) == 1:
                more |= set(held)
        return more

    def _is_free(self, node: str, quiet: set[str]) -> bool:
        """Whether no diode stands at the end of a winding and no quiet end of one drives it."""
        driven = any(
            self.at(far) in quiet - {node}
            for winding in self.windings_at[node]
            for _, far in winding.terminals
        )
        return not driven and not self._has_diode(node)

    def _nodes_held(self, quiet: set[str]) -> set[str]:
        hot = self.windings_at.keys() - quiet
        driven = self.reach(hot, self.drives, lambda node: node != GROUND)
        return {
            node
            for node in self._around
            if node not in quiet | hot
            and self._is_held(node, quiet)
            and not (node in driven and self._has_diode(node))
            and not any(
                isinstance(edge.part, Capacitor)
                and edge.other(node) in hot
                and not self._bridges_diode(edge)
                for edge in self.around(node)
            )
        }

    def drives(self, edge: Edge) -> bool:
        """Whether a piece carries a winding's voltage on to the rectifier.

        A resistor across a diode does not: it shares out reverse volts, or stands for a leak.
        """
        return isinstance(edge.part, Resistor | Pot) and not self._bridges_diode(edge)

    def _bridges_diode(self, edge: Edge) -> bool:
        return any(
            isinstance(other.part, Diode) and edge.b in (other.a, other.b)
            for other in self.around(edge.a)
        )

    def _has_diode(self, node: str) -> bool:
        return any(isinstance(edge.part, Diode) for edge in self.around(node))

    def _is_held(self, node: str, quiet: set[str]) -> bool:
        return any(
            isinstance(edge.part, Capacitor | Supply) and edge.other(node) in quiet
            for edge in self.around(node)
        )

    @functools.cached_property
    def hot(self) -> frozenset[str]:
        """The nodes that follow the alternating voltage of a winding."""
        passing = (Resistor, Capacitor, Diode, Pot)
        return self.reach(
            self.windings_at.keys() - self.quiet,
            lambda edge: isinstance(edge.part, passing),
            lambda node: node not in self.quiet,
        )

    @functools.cached_property
    def winding_side(self) -> frozenset[str]:
        """The hot nodes that only resistance parts from a winding."""
        return self.reach(
            self.windings_at.keys() - self.quiet,
            self.drives,
            lambda node: node not in self.quiet,
        )

    @functools.cached_property
    def rectifiers(self) -> tuple[Diode, ...]:
        """The diodes that alternating voltage reaches."""
        return tuple(
            edge.part
            for edge in self.kinds(Diode)
            if isinstance(edge.part, Diode) and {edge.a, edge.b} & self.hot
        )

    # ------------------------------------------------------------------ the hand-over

    def is_ohmic(self, edge: Edge) -> bool:
        """Whether a piece is part of the direct-voltage network: a resistor, pot or zener."""
        return isinstance(edge.part, Resistor | Pot | Zener)

    @functools.cached_property
    def outputs(self) -> tuple[Output, ...]:
        """Where direct voltage is handed to the pots and grids, in the order of the file."""
        used = self.grids.keys() | self.pot_nodes
        found: dict[str, Output] = {}
        for start in self._starts:
            fed = self.reach([start], self.is_ohmic, lambda node: node != GROUND)
            if fed & used:
                for output in self._outputs_from(start):
                    found.setdefault(output.node, output)
        return tuple(found.values())

    @functools.cached_property
    def _starts(self) -> tuple[str, ...]:
        """The nodes at which rectifiers end and supplies begin."""
        starts: dict[str, None] = {}
        for part in self.section.circuit.parts:
            if isinstance(part, Diode) and part in self.rectifiers:
                ends = (self.at(part.anode), self.at(part.cathode))
                starts.update((n, None) for n in ends if n not in self.winding_side)
            elif isinstance(part, Supply):
                starts.update((self.at(node), None) for _, node in part.terminals)
            elif isinstance(part, Winding):
                stops = [self.at(node) for _, node in part.terminals]
                starts.update((node, None) for node in stops if node in self.quiet)
        starts.pop(GROUND, None)
        return tuple(starts)

    def _outputs_from(self, start: str) -> list[Output]:
        """The first quiet nodes behind `start`; itself if the volts reach a load before one."""
        if start in self.quiet:
            return [Output(start, start, True)]

        def resistor(edge: Edge) -> bool:
            return isinstance(edge.part, Resistor)

        region = self.reach([start], resistor, lambda n: n not in self.quiet)
        beyond = {
            edge.other(node): None
            for node in sorted(region)
            for edge in self.around(node)
            if resistor(edge) and edge.other(node) in self.quiet - {GROUND}
        }
        if region & (self.pot_nodes | self.grids.keys()) or not beyond:
            return [Output(start, start, False)]
        return [Output(node, start, True) for node in beyond]
