"""In which order a section is drawn: from its source to its grids, and what hangs on that way.

Nodes that lie on a way from the source to a grid are drawn from left to right; whatever else a
node leads to hangs below it. Ground is no way: each part that ends there gets its own sign.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import networkx as nx

from ..netlist import GROUND, OPEN, Circuit, Part, Pot, Supply, Valve, Winding

_NOWHERE = math.inf
_FROM, _TO = "from ", "to "  # no nodes of a circuit: a name holds no blank


@dataclass(frozen=True, slots=True)
class Step:
    """A way through a part from one of its terminals to another.

    Parameters
    ----------
    part : Part
        The part.
    near, far : int
        The terminals, as places in its `terminals`.
    """

    part: Part
    near: int
    far: int

    @property
    def start(self) -> str:
        """The node that the way comes from."""
        return self.part.terminals[self.near][1]

    @property
    def end(self) -> str:
        """The node that it leads to."""
        return self.part.terminals[self.far][1]

    @property
    def back(self) -> Step:
        """The same way in the other direction."""
        return Step(self.part, self.far, self.near)


@dataclass(frozen=True, slots=True)
class PotUse:
    """Which way round a pot is drawn.

    Parameters
    ----------
    pot : Pot
        The pot.
    kind : str
        "end" if it is fed at one end, "wiper" if at its wiper, "balance" if at both ends.
    top, bottom : int
        The ends that are drawn above and below, as places in `terminals`: the one that is fed
        above.
    """

    pot: Pot
    kind: str
    top: int
    bottom: int

    @property
    def owner(self) -> str:
        """The node that feeds it."""
        return self.pot.wiper if self.kind == "wiper" else self.pot.terminals[self.top][1]


WIPER_INDEX = 1
"""The wiper in the `terminals` of a pot."""


def is_node(node: str) -> bool:
    """Whether a terminal is joined to a node that is drawn as wires."""
    return node not in (GROUND, OPEN)


def components(circuit: Circuit) -> tuple[list[Component], list[Part]]:
    """The pieces of a circuit that only ground joins, and the parts with no node but ground."""
    graph: nx.Graph[str] = nx.Graph()
    loose = []
    for part in circuit.parts:
        nodes = [node for _, node in part.terminals if is_node(node)]
        if not nodes:
            loose.append(part)
        nx.add_path(graph, nodes)
    groups = list(nx.connected_components(graph))
    found = []
    for node in circuit.nodes:
        group = next((g for g in groups if node in g), None)
        if group is not None:
            groups.remove(group)
            parts = [p for p in circuit.parts if any(n in group for _, n in p.terminals)]
            found.append(Component(circuit, tuple(parts)))
    return found, loose


@dataclass(frozen=True)
class Component:
    """Parts that hang together otherwise than by ground.

    Parameters
    ----------
    circuit : Circuit
        The circuit they belong to.
    parts : tuple of Part
        In the order of the file.
    """

    circuit: Circuit
    parts: tuple[Part, ...]

    @functools.cached_property
    def nodes(self) -> tuple[str, ...]:
        """The nodes, ground left out, in the order of their first use."""
        used = (node for part in self.parts for _, node in part.terminals if is_node(node))
        return tuple(dict.fromkeys(used))

    @functools.cached_property
    def elsewhere(self) -> frozenset[str]:
        """The nodes that go on outside the section."""
        return frozenset(self.circuit.elsewhere) & frozenset(self.nodes)

    @functools.cached_property
    def grids(self) -> frozenset[str]:
        """The nodes at which a valve stands."""
        return frozenset(p.grid for p in self.parts if isinstance(p, Valve) and is_node(p.grid))

    @functools.cached_property
    def _goals(self) -> frozenset[str]:
        """Where the bias is wanted: at the grids, or else the wipers."""
        wipers = (p.wiper for p in self.parts if isinstance(p, Pot) and is_node(p.wiper))
        return self.grids or frozenset(wipers)

    # ---------------------------------------------------------------- where it begins

    @functools.cached_property
    def roots(self) -> tuple[Winding | Supply, ...]:
        """What is drawn at the left edge: the source, and windings of more than two terminals."""
        sources = [p for p in self.parts if isinstance(p, Winding | Supply)]
        many = [p for p in sources if len(p.terminals) > 2]
        main = min(sources, key=self._distance, default=None)
        return tuple(p for p in dict.fromkeys([main, *many]) if p is not None)

    def _distance(self, source: Winding | Supply) -> tuple[bool, bool, float]:
        """How far a source is from the bias; windings count before supplies."""
        is_supply = isinstance(source, Supply)
        is_positive = isinstance(source, Supply) and not is_node(source.minus)
        starts = [node for _, node in source.terminals if is_node(node)]
        far = _distances(starts, [s for p in self.parts if p is not source for s in _ways(p)])
        return is_supply, is_positive, min((far.get(g, _NOWHERE) for g in self._goals),
                                           default=_NOWHERE)  # fmt: skip

    @functools.cached_property
    def starts(self) -> tuple[str, ...]:
        """The nodes at which the drawing begins."""
        if self.roots:
            ends = (node for root in self.roots for _, node in root.terminals if is_node(node))
            return tuple(dict.fromkeys(ends))
        outside = [node for node in self.nodes if node in self.elsewhere]
        among = [node for node in outside if node not in self._goals] or self.nodes
        return (max(among, key=self._remoteness),)

    def _remoteness(self, node: str) -> float:
        """How far a node is from the nearest goal."""
        far = _distances([node], [s for p in self.parts for s in _ways(p)])
        return min((far[goal] for goal in self._goals if goal in far), default=0.0)

    # ------------------------------------------------------------------------- pots

    @functools.cached_property
    def pots(self) -> dict[str, PotUse]:
        """Which way round each pot is drawn, by its name."""
        return {p.name: self._use(p) for p in self.parts if isinstance(p, Pot)}

    def _use(self, pot: Pot) -> PotUse:
        others = [s for p in self._drawn if p is not pot for s in _ways(p)]
        far = _distances(self.starts, others)
        top, wiper, bottom = (far.get(node, _NOWHERE) for _, node in pot.terminals)
        if wiper < min(top, bottom) or (not is_node(pot.top) and not is_node(pot.bottom)):
            return PotUse(pot, "wiper", 0, 2)
        if pot.wiper in (pot.top, pot.bottom) and top == bottom:
            return PotUse(pot, "end", 0, 2) if pot.wiper == pot.bottom else PotUse(pot, "end", 2, 0)
        if top == bottom and is_node(pot.top) and is_node(pot.bottom):
            return PotUse(pot, "balance", 0, 2)
        return PotUse(pot, "end", 0, 2) if top <= bottom else PotUse(pot, "end", 2, 0)

    @property
    def _drawn(self) -> Iterator[Part]:
        """The parts but those at the left edge."""
        return (part for part in self.parts if part not in self.roots)

    # ------------------------------------------------------------------------- ways

    @functools.cached_property
    def flow(self) -> frozenset[str]:
        """The nodes on a way from the source to a goal."""
        usual = [s for p in self._drawn for s in self._flowing(p)]
        shorter = [s for s in usual if not {s.start, s.end} & self._feet]
        steps: list[Step] = []
        far: dict[str, float] = {}
        for steps in (shorter, usual, [s for p in self._drawn for s in _ways(p)]):
            far = _distances(self.starts, steps)
            if self._goals <= far.keys():
                break  # else some grid is fed by what is no usual way
        goals = self._goals & far.keys() or {max(far, key=lambda node: far[node])}
        graph: nx.Graph[str] = nx.Graph()
        graph.add_edge(_FROM, _TO)
        graph.add_edges_from((_FROM, start) for start in self.starts)
        graph.add_edges_from((goal, _TO) for goal in goals)
        graph.add_edges_from((s.start, s.end) for s in steps if is_node(s.end))
        for block in nx.biconnected_component_edges(graph):
            nodes = {node for edge in block for node in edge}
            if {_FROM, _TO} <= nodes:
                return frozenset(nodes - {_FROM, _TO}) or frozenset(self.starts)
        return frozenset(self.starts)

    @functools.cached_property
    def _feet(self) -> frozenset[str]:
        """The nodes at the lower ends of pots, which hang there whatever else ends at them."""
        feet = {use.pot.terminals[use.bottom][1] for use in self.pots.values() if use.kind == "end"}
        return frozenset(feet - {use.pot.wiper for use in self.pots.values()} - set(self.starts))

    def _flowing(self, part: Part) -> Iterator[Step]:
        """The ways through a part that the bias takes to a grid."""
        if not isinstance(part, Pot):
            yield from _ways(part)
            return
        use = self.pots[part.name]
        if use.kind == "wiper":
            ways = [Step(part, WIPER_INDEX, use.top), Step(part, WIPER_INDEX, use.bottom)]
        elif use.kind == "balance":
            ways = [Step(part, use.top, use.bottom)]
            if self._feeds(part):
                ways.append(Step(part, use.top, WIPER_INDEX))
        elif part.wiper == use.owner:
            ways = [Step(part, use.top, use.bottom)]
        else:
            ways = [Step(part, use.top, WIPER_INDEX)]
        for way in ways:
            if is_node(way.start) and is_node(way.end):
                yield from (way, way.back)

    def _feeds(self, pot: Pot) -> bool:
        """Whether the wiper of a pot leads to a goal otherwise than over its track."""
        others = [s for p in self._drawn if p is not pot for s in _ways(p)]
        return bool(self._goals & _distances([pot.wiper], others).keys())

    @functools.cached_property
    def tree(self) -> dict[str, Step]:
        """For each node but the first ones the step by which it is drawn.

        Nodes on the way come first, each by the shortest way and, of two, by way of a pot.
        """
        flowing = [s for p in self._drawn for s in self._flowing(p)
                   if s.start in self.flow and s.end in self.flow]  # fmt: skip
        arms = {u.pot.wiper for u in self.pots.values() if u.kind == "end"}
        usual = [s for s in flowing if isinstance(s.part, Pot) or s.end not in arms]
        hanging = [s for p in self._drawn for s in self._hanging(p)]
        every = [s for p in self._drawn for s in _ways(p)]
        found: dict[str, Step] = {}
        for steps in (usual, flowing, hanging, every):
            found |= _discovered([*self.starts, *found], steps)
        return found

    def _hanging(self, part: Part) -> Iterator[Step]:
        """The ways by which a node may hang below another: of a pot those from where it is fed."""
        if not isinstance(part, Pot):
            yield from _ways(part)
            return
        use = self.pots[part.name]
        near = WIPER_INDEX if use.kind == "wiper" else use.top
        for far in (WIPER_INDEX, use.bottom, use.top):
            step = Step(part, near, far)
            if far != near and is_node(step.start) and is_node(step.end):
                yield step


def _ways(part: Part) -> Iterator[Step]:
    """All ways through a part between nodes, ground left out."""
    if isinstance(part, Valve):
        return
    terminals = part.terminals
    for near, far in zip(range(len(terminals)), range(1, len(terminals)), strict=False):
        step = Step(part, near, far)
        if is_node(step.start) and is_node(step.end) and step.start != step.end:
            yield from (step, step.back)
    if isinstance(part, Pot) and is_node(part.top) and is_node(part.bottom):
        yield from (Step(part, 0, 2), Step(part, 2, 0))


def _distances(starts: Iterable[str], steps: Iterable[Step]) -> dict[str, float]:
    """Number of parts between some nodes and each that is reached from them. [count]"""
    near: dict[str, list[str]] = {}
    for step in steps:
        near.setdefault(step.start, []).append(step.end)
    found: dict[str, float] = dict.fromkeys(starts, 0.0)
    queue = list(found)
    for node in queue:
        for far in near.get(node, []):
            if far not in found:
                found[far] = found[node] + 1.0
                queue.append(far)
    return found


def _discovered(starts: Iterable[str], steps: Iterable[Step]) -> dict[str, Step]:
    """The steps of a tree that reaches all it can, level by level."""
    out: dict[str, list[Step]] = {}
    for step in steps:
        out.setdefault(step.start, []).append(step)
    seen, found = set(starts), {}
    queue = list(dict.fromkeys(starts))
    for node in queue:
        for step in sorted(out.get(node, []), key=lambda s: not isinstance(s.part, Pot)):
            if step.end not in seen:
                seen.add(step.end)
                found[step.end] = step
                queue.append(step.end)
    return found
