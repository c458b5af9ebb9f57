"""What each part of a section is there for, from how it is wired."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from enum import Enum

from .divider import Divider, Side
from .graph import Section
from .netlist import GROUND, OPEN, Capacitor, Diode, Part, Pot, Resistor, Zener
from .polarity import MeanNetwork
from .topology import Edge, Topology


class Role(Enum):
    """What a part is there for: its name and a phrase that says where it stands."""

    DROPPER = ("dropper", "in front of the reservoir")
    RETURN = ("return", "from the alternating side to ground")
    BACK_BIAS = ("back bias", "carries the current of the high tension")
    SERIES = ("series", "from the supply towards the pot or the grids")
    FOOT = ("foot", "from the pot towards ground")
    BLEEDER = ("bleeder", "from the supply to ground")
    WIPER_SAFETY = ("wiper safety", "from the bias line to the negative end")
    WIPER_LOAD = ("wiper load", "from the bias line towards ground")
    ACROSS_POT = ("across the pot", "from end to end of the pot")
    FEED = ("feed", "in the bias line before the grid leaks")
    GRID_LEAK = ("grid leak", "from the bias line to a grid")
    STOPPER = ("grid stopper", "directly at a grid")

    BIAS_POT = ("bias pot", "sets the bias")
    BALANCE_POT = ("balance pot", "shifts the bias from one grid to another")
    LEVEL_POT = ("level pot", "in front of the rectifier")

    RESERVOIR = ("reservoir", "at the rectifier's output")
    SMOOTHING = ("smoothing", "behind the reservoir")
    LINE_SMOOTHING = ("wiper smoothing", "at the wiper or the bias line")
    COUPLING = ("coupling", "carries the signal to a grid")
    FRONT_COUPLING = ("rectifier coupling", "carries alternating voltage to the rectifier")
    DOUBLER = ("doubler", "one of the two that add up their volts")
    SNUBBER = ("snubber", "across a winding or a diode")

    RECTIFIER = ("rectifier", "makes the direct voltage")
    CLAMP = ("clamp", "holds the coupled voltage to one side of ground")
    DIODE = ("diode", "away from the alternating voltage")
    REGULATOR = ("regulator", "holds the supply")
    SERIES_ZENER = ("series zener", "takes its volts off the supply")

    OTHER = ("other", "of no kind that is known")

    def __init__(self, word: str, phrase: str) -> None:
        self.word = word
        self.phrase = phrase


def roles(section: Section) -> dict[str, Role]:
    """The role of every resistor, pot, capacitor, diode and zener.

    Parameters
    ----------
    section : Section
        The section; names, values and the order of its lines make no difference.

    Returns
    -------
    dict of part name to Role
        In the order of the file. A part with both ends on one node has the role `OTHER`.
    """
    return Cast(Topology(section)).roles


@dataclass(frozen=True)
class Cast:
    """The parts of a section in their roles.

    Parameters
    ----------
    topology : Topology
        Of the section.
    """

    topology: Topology

    @functools.cached_property
    def divider(self) -> Divider:
        """The network behind the rectifier."""
        return Divider(self.topology)

    @functools.cached_property
    def roles(self) -> dict[str, Role]:
        """By part name, in the order of the file."""
        edge_of = {edge.part.name: edge for edge in self.topology.edges}
        found = {}
        for part in self.topology.section.circuit.parts:
            if isinstance(part, Resistor | Pot | Capacitor | Diode | Zener):
                edge = edge_of.get(part.name)
                found[part.name] = Role.OTHER if edge is None else self._role(part, edge)
        return found

    def named(self, role: Role) -> list[str]:
        """The names of the parts in a role."""
        return [name for name, found in self.roles.items() if found is role]

    def _role(self, part: Part, edge: Edge) -> Role:
        if isinstance(part, Resistor):
            return self._resistor(edge)
        if isinstance(part, Pot):
            return self._pot(part)
        if isinstance(part, Capacitor):
            return self._capacitor(edge)
        return self._diode(part, edge)

    # -------------------------------------------------------------------- resistors

    def _resistor(self, edge: Edge) -> Role:
        ends = {edge.a, edge.b}
        if not ends <= self.divider.behind | {GROUND}:
            in_front = ends & (self.topology.hot | self.topology.windings_at.keys() - {GROUND})
            if not in_front:
                return Role.OTHER
            return Role.RETURN if GROUND in ends else Role.DROPPER
        if GROUND in ends and ends & self.topology.windings_at.keys() - {GROUND}:
            return Role.BACK_BIAS
        if edge in self.divider.edges:
            return self._across_pot(edge) or self._in_divider(edge)
        return self._in_branch(edge)

    def _across_pot(self, edge: Edge) -> Role | None:
        """The role of a resistor between two terminals of one pot, as far as that decides it."""
        at, nodes = self.topology.at, {edge.a, edge.b}
        for pot in self.divider.pots:
            ends = {at(pot.top), at(pot.bottom)}
            if nodes == ends:
                wiper_is_end = at(pot.wiper) in ends
                return None if wiper_is_end and GROUND in nodes else Role.ACROSS_POT
            if at(pot.wiper) in nodes and nodes & ends and self._balances(pot):
                return Role.WIPER_SAFETY
        return None

    def _in_divider(self, edge: Edge) -> Role:
        a, b = self.divider.sides(edge)
        if GROUND in (edge.a, edge.b):
            node = edge.other(GROUND)
            return self._to_ground(node, a | b)
        if Side.SUPPLY in a and Side.SUPPLY in b:
            return Role.WIPER_SAFETY if self._is_at_wiper(edge) else Role.SERIES
        if Side.SUPPLY in b:
            a, b = b, a
        if Side.SUPPLY in a:
            if Side.LINE in a and Side.WIPER in b and not b & (Side.LINE | Side.END):
                return Role.FEED
            return Role.WIPER_SAFETY if self._holds_wiper(edge) else _from_supply(b)
        return self._below_supply(a, b)

    def _to_ground(self, node: str, side: Side) -> Role:
        if node in self.divider.outputs:
            return Role.BLEEDER
        if node in self.divider.line:
            return Role.WIPER_LOAD
        if Side.SUPPLY in side:
            return Role.BLEEDER
        if Side.END in side:
            return Role.FOOT
        return Role.WIPER_LOAD if side else Role.OTHER

    def _is_at_wiper(self, edge: Edge) -> bool:
        return bool({edge.a, edge.b} & (self.divider.wipers | self.divider.line))

    def _holds_wiper(self, edge: Edge) -> bool:
        """Whether a resistor ends at a wiper that the supply reaches through the track too."""
        nodes = {edge.a, edge.b}
        others = {
            e.key
            for e in self.divider.edges
            if isinstance(e.part, Pot) or {e.a, e.b} != nodes  # resistors beside it hold it too
        }
        for node in nodes & (self.divider.wipers - self.divider.ends):
            fed = self.topology.reach([node], lambda e: e.key in others, lambda n: n != GROUND)
            if fed & self.divider.outputs:
                return True
        return False

    def _below_supply(self, a: Side, b: Side) -> Role:
        """The role of a resistor that the supply reaches through pots only."""
        ends = [Side.END in side for side in (a, b)]
        if not a or not b:
            return Role.FOOT if any(ends) and Side.LINE not in a | b else Role.WIPER_LOAD
        if Side.LINE in a | b and not any(ends):
            is_leak = Side.WIPER not in a or Side.WIPER not in b
            return Role.GRID_LEAK if is_leak else Role.FEED
        if all(ends):
            return Role.FOOT
        return Role.FEED if Side.LINE not in a | b else Role.WIPER_LOAD

    # --------------------------------------------------------------------- branches

    def _in_branch(self, edge: Edge) -> Role:
        """The role of a resistor that hangs on the divider and carries no direct current."""
        beyond = self.divider.beyond(edge)
        if beyond is None:
            return Role.OTHER
        node, nodes = beyond
        fed = nodes & self.topology.grids.keys()
        near = edge.other(node)
        if not fed:
            return Role.OTHER
        if node in fed:
            return Role.STOPPER if self._is_after_leak(near, node) else Role.GRID_LEAK
        if node in self.topology.quiet or (len(fed) > 1 and not self._has_coupling(node)):
            return Role.FEED
        return Role.GRID_LEAK

    def _is_after_leak(self, near: str, grid: str) -> bool:
        """Whether the leak that ends at a grid's stopper lies before `near`."""
        if near in self.divider.nodes or near in self.topology.quiet or self._has_coupling(grid):
            return False
        onward = [e for e in self.topology.around(near) if isinstance(e.part, Resistor)]
        return self._has_coupling(near) or len(onward) <= 2

    def _has_coupling(self, node: str) -> bool:
        return any(
            isinstance(edge.part, Capacitor) and self._is_coupling(edge)
            for edge in self.topology.around(node)
        )

    # ------------------------------------------------------------------------- pots

    def _pot(self, pot: Pot) -> Role:
        at = self.topology.at
        if pot not in self.divider.pots:
            nodes = {at(node) for _, node in pot.terminals if node != OPEN}
            return Role.LEVEL_POT if nodes & self.topology.hot else Role.OTHER
        return Role.BALANCE_POT if self._balances(pot) else Role.BIAS_POT

    def _balances(self, pot: Pot) -> bool:
        """Whether a pot makes one grid more negative and another one less by about as much."""
        shifts = []
        low, high = (MeanNetwork(self.topology, {pot.name: w}, plain=True) for w in (0.25, 0.75))
        for grid in self.topology.grids:
            before, after = low.total(grid), high.total(grid)
            if before is not None and after is not None:
                shifts.append(after - before)
        largest = max((abs(shift) for shift in shifts), default=0.0)
        if largest < 1e-9:
            return self._parts_grids(pot)
        return min(shifts) < -0.2 * largest and max(shifts) > 0.2 * largest

    def _parts_grids(self, pot: Pot) -> bool:
        """Whether either end of a pot leads to grids of its own."""
        ends = [self.topology.at(node) for node in (pot.top, pot.bottom) if node != OPEN]
        wired = [
            self.topology.reach(
                [end],
                lambda e: self.topology.is_ohmic(e) and e.part is not pot,
                lambda node: node != GROUND,
            )
            & self.topology.grids.keys()
            for end in ends
        ]
        return len(wired) == 2 and bool(wired[0]) and bool(wired[1]) and not wired[0] & wired[1]

    # ------------------------------------------------------------------- capacitors

    def _capacitor(self, edge: Edge) -> Role:
        topology, ends = self.topology, {edge.a, edge.b}
        if not ends <= self.divider.behind | {GROUND} and not self._is_coupling(edge):
            return self._front_capacitor(edge)
        if self._is_coupling(edge):
            return Role.COUPLING
        outputs = {output.node for output in topology.outputs}
        inner = ends - {GROUND} - outputs
        divider = self.divider
        on_line = divider.wipers | divider.line | (divider.behind - divider.nodes)
        if inner & on_line:
            return Role.LINE_SMOOTHING
        stacked = all(self._shares_volts(node, outputs) for node in inner)
        return Role.RESERVOIR if stacked else Role.SMOOTHING

    def _shares_volts(self, node: str, outputs: set[str]) -> bool:
        """Whether a node lies between two capacitors in series that make up the reservoir."""
        return node not in self.divider.ends and any(
            isinstance(edge.part, Capacitor) and edge.other(node) in outputs
            for edge in self.topology.around(node)
        )

    def _is_coupling(self, edge: Edge) -> bool:
        """Whether a capacitor leads from a node of the bias network to somewhere outside it."""
        topology, behind = self.topology, self.divider.behind
        inside = {edge.a, edge.b} & behind
        outside = {edge.a, edge.b} - behind - {GROUND}
        supplied = topology.hot | (topology.quiet - topology.elsewhere)
        return len(inside) == len(outside) == 1 and not outside & (
            supplied | topology.windings_at.keys()
        )

    def _front_capacitor(self, edge: Edge) -> Role:
        topology, ends = self.topology, {edge.a, edge.b}
        if any({e.a, e.b} == ends for e in topology.kinds(Diode)):
            return Role.SNUBBER
        coupled = ends & topology.hot - topology.winding_side
        if coupled and ends & topology.winding_side:
            return Role.FRONT_COUPLING
        held = ends & topology.quiet & topology.windings_at.keys() - {GROUND}
        if held and not held & self.divider.outputs:
            return Role.DOUBLER
        if ends & topology.winding_side:
            return Role.SNUBBER
        return Role.OTHER

    # ----------------------------------------------------------------------- diodes

    def _diode(self, part: Part, edge: Edge) -> Role:
        topology = self.topology
        if isinstance(part, Zener):
            return Role.REGULATOR if GROUND in (edge.a, edge.b) else Role.SERIES_ZENER
        if part not in topology.rectifiers:
            return Role.DIODE
        coupled = {edge.a, edge.b} & topology.hot - topology.winding_side
        return Role.CLAMP if GROUND in (edge.a, edge.b) and coupled else Role.RECTIFIER


def _from_supply(far: Side) -> Role:
    """The role of a resistor with the supply at one side and `far` at the other."""
    if Side.END in far:
        return Role.SERIES
    if Side.WIPER in far:
        return Role.WIPER_SAFETY
    return Role.SERIES if Side.LINE in far else Role.BLEEDER
