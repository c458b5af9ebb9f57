"""A section as it is wired with something broken in it, as elements for the simulator."""

from __future__ import annotations

import functools
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import networkx as nx

from ..engine.elements import (
    GROUND,
    Capacitance,
    DcSource,
    Element,
    Junction,
    Resistance,
    SineSource,
    terminals,
)
from ..graph import joined
from ..model import Values, elements
from ..netlist import (
    OPEN,
    Capacitor,
    Circuit,
    Link,
    Part,
    Pot,
    Supply,
    Tremolo,
    Valve,
    Winding,
    Zener,
)
from .catalogue import (
    DRY_ESR,
    DRY_SHARE,
    R_GRID_LEAKY,
    R_LEAKY,
    R_SHORT,
    Failure,
    Mode,
)

R_NO_WAY = 1e8
"""A resistance as high as insulation is no way on which a charge leaves a grid. [ohm]"""
R_ANCHOR = 100e6
"""From a node that hangs in the air to ground: the insulation of a tag strip. [ohm]"""
DISCHARGE = 100.0
"""Time constant of an electrolytic with nothing across it: the leakage that data sheets allow,
0.01 C V in uA with C in uF; common practice. [s]"""


@dataclass(frozen=True, slots=True)
class Wiring:
    """What is in the chassis.

    Parameters
    ----------
    circuit : Circuit
        The circuit as it is wired.
    changes : mapping of str to float
        Parameters that differ from what is drawn.
    removed : frozenset of str
        Names of elements that are open.
    added : tuple of Element
        What no part stands for.
    """

    circuit: Circuit
    changes: Mapping[str, float] = field(default_factory=dict)
    removed: frozenset[str] = frozenset()
    added: tuple[Element, ...] = ()

    def at(self, node: str) -> str:
        """The node that stands for another one once links have joined some."""
        return joined(self.circuit).get(node, node)

    def elements(self, values: Values) -> list[Element]:
        """All elements in one state, nodes in the air not yet anchored."""
        drawn = elements(self.circuit, {**values, **self.changes})
        return [e for e in drawn if e.name not in self.removed] + list(self.added)

    def put(self, **changes: float) -> Wiring:
        """The same with other values."""
        return replace(self, changes={**self.changes, **changes})

    def without(self, names: Iterable[str]) -> Wiring:
        """The same with elements taken out."""
        return replace(self, removed=self.removed | set(names))

    def across(self, name: str, a: str, b: str, r: float) -> Wiring:
        """The same with a resistance more, where its ends are not one node."""
        start, end = self.at(a), self.at(b)
        if start == end or OPEN in (a, b):
            return self
        return self.plus(Resistance(name, start, end, r))

    def plus(self, *more: Element) -> Wiring:
        """The same with elements added."""
        return replace(self, added=(*self.added, *more))

    def rewired(self, part: Part, **nodes: str) -> Wiring:
        """The same with a terminal of a part somewhere else."""
        other = replace(part, **nodes)  # type: ignore[arg-type]
        parts = tuple(other if p.name == part.name else p for p in self.circuit.parts)
        return replace(self, circuit=replace(self.circuit, parts=parts))

    def parted(self, link: Link) -> Wiring:
        """The same without a link."""
        parts = tuple(p for p in self.circuit.parts if p.name != link.name)
        return replace(self, circuit=replace(self.circuit, parts=parts))


def broken(wiring: Wiring, failure: Failure, values: Values) -> Wiring:
    """Build a failure in.

    Parameters
    ----------
    wiring : Wiring
        Before.
    failure : Failure
        Which part fails, and how.
    values : mapping of str to float
        What the parts have.
    """
    part = wiring.circuit.part(failure.part)
    assert part is not None
    if isinstance(part, Pot):
        return _pot(wiring, part, failure.mode)
    if isinstance(part, Valve):
        r = R_SHORT if failure.mode is Mode.GRID_SHORT else R_GRID_LEAKY
        return wiring.across(f"{part.name} grid to cathode", part.grid, GROUND, r)
    if isinstance(part, Link):
        return wiring.parted(part)
    if isinstance(part, Winding):
        return wiring.without(_stretches(part, failure.mode))
    return _two_ended(wiring, part, failure.mode, values)


def _two_ended(wiring: Wiring, part: Part, mode: Mode, values: Values) -> Wiring:
    (_, first), (_, last) = part.terminals
    name = part.name
    if mode is Mode.DRIED_OUT:
        return wiring.put(**{name: DRY_SHARE * float(values[name]), f"{name}.esr": DRY_ESR})
    if mode is Mode.LEAKY:
        return wiring.across(f"{name} leak across", first, last, R_LEAKY)
    opened = wiring.without(pieces(part))
    return opened.across(f"{name} short", first, last, R_SHORT) if mode is Mode.SHORT else opened


def _pot(wiring: Wiring, pot: Pot, mode: Mode) -> Wiring:
    if mode is Mode.WIPER_LIFTED:
        return wiring.rewired(pot, wiper=f"{pot.name} lifted")
    if mode is Mode.SHORT_ENDS:
        return wiring.across(f"{pot.name} short", pot.top, pot.bottom, R_SHORT)
    return wiring.rewired(pot, **{"top" if mode is Mode.TOP_BROKEN else "bottom": OPEN})


def pieces(part: Part) -> list[str]:
    """The names of the elements that a part is made of; of a source its resistances.

    Parameters
    ----------
    part : Part
        The part; a link and a valve are made of none.
    """
    if isinstance(part, Winding):
        count = len(part.terminals) - 1
        return [f"{part.name}.source" + (f".{k}" if k else "") for k in range(count)]
    suffixes: tuple[str, ...] = ("",)
    if isinstance(part, Capacitor):
        suffixes = ("", ".esr", ".leak")
    elif isinstance(part, Zener):
        suffixes = (".forward", ".break", ".volts", ".series")
    elif isinstance(part, Pot):
        suffixes = (".top", ".bottom")
    elif isinstance(part, Supply | Tremolo):
        suffixes = (".source",)
    elif isinstance(part, Link | Valve):
        suffixes = ()
    return [part.name + suffix for suffix in suffixes]


def _stretches(winding: Winding, mode: Mode) -> list[str]:
    """The copper that is broken: of the whole winding, or of a half next to the centre."""
    if mode is Mode.FIRST_HALF_DEAD:
        return [f"{winding.name}.source"]
    if mode is Mode.SECOND_HALF_DEAD:
        return [f"{winding.name}.source.1"]
    return pieces(winding)


# --------------------------------------------------------------------- what hangs in the air


def _islands(circuit: Sequence[Element], *, most: float = float("inf"), junctions: bool = False
             ) -> list[set[str]]:  # fmt: skip
    """Nodes that resistances (of less than `most`) and sources join; ground's among them."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_node(GROUND)
    for element in circuit:
        a, b = terminals(element)
        graph.add_nodes_from((a, b))
        is_way = isinstance(element, SineSource | DcSource) or (
            isinstance(element, Resistance) and element.r < most
        )
        if is_way or (junctions and isinstance(element, Junction)):
            graph.add_edge(a, b)
    return [set(island) for island in nx.connected_components(graph)]


def held(circuit: Sequence[Element]) -> frozenset[str]:
    """The nodes from which resistances and sources lead to ground."""
    return frozenset(next(island for island in _islands(circuit) if GROUND in island))


def anchored(circuit: Sequence[Element], sound: Collection[str]) -> list[Element]:
    """A circuit in which every node has a way for direct current to ground.

    Parameters
    ----------
    circuit : sequence of Element
        The circuit.
    sound : collection of str
        The nodes that resistances hold while nothing is broken. Where they have lost their
        hold, a diode is none: what only its leakage holds settles within hours, in ngspice too,
        while in a chassis the electrolytic's own leakage settles it.
    """
    capacitance: dict[str, float] = defaultdict(float)
    for element in circuit:
        if isinstance(element, Capacitance):
            for end in terminals(element):
                capacitance[end] += element.c
    reached = set().union(*(i for i in _islands(circuit, junctions=True) if GROUND in i))
    made = list(circuit)
    for island in _islands(circuit):
        if GROUND in island or (island <= reached and not island & set(sound)):
            continue
        node = max(sorted(island), key=lambda n: capacitance[n])
        r = min(R_ANCHOR, DISCHARGE / max(capacitance[node], 1e-12))
        made.append(Resistance(f"anchor {node}", node, GROUND, r))
    return made


def floating(circuit: Sequence[Element], nodes: Iterable[str]) -> frozenset[str]:
    """Those nodes that nothing holds: no resistance to ground, and no rectifier that charges them.

    Parameters
    ----------
    circuit : sequence of Element
        The circuit, not anchored.
    nodes : iterable of str
        The nodes asked for, such as grids.
    """
    islands = _islands(circuit, most=R_NO_WAY)
    junctions = [terminals(e) for e in circuit if isinstance(e, Junction)]

    @functools.cache
    def is_lost(k: int) -> bool:
        island = islands[k]
        return GROUND not in island and not any(
            (a in island) != (b in island) for a, b in junctions
        )

    of_node = {node: k for k, island in enumerate(islands) for node in island}
    return frozenset(n for n in nodes if n not in of_node or is_lost(of_node[n]))
