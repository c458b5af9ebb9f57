"""Rules about parts and nodes that lead nowhere."""

from __future__ import annotations

from collections.abc import Iterator

import networkx as nx

from ..finding import Severity
from ..netlist import GROUND, Capacitor, Diode, Link, Pot, Supply, Valve, Winding
from .rule import Case, Problem, Rule


def _look_floating(case: Case) -> Iterator[Problem]:
    """Every node has a path for direct current to ground.

    bad: capacitor C9 from lone to sweep 100n
    bad: capacitor C8 from lone to ground 100n
    good: resistor R9 from lone to ground 1M
    good: capacitor C9 from lone to sweep 100n
    """
    joined = case.section.joined
    outside = set(map(case.section.at, case.section.circuit.elsewhere))
    paths = nx.relabel_nodes(case.section.dc, joined)
    paths.add_node(GROUND)
    for island in nx.connected_components(paths):
        if GROUND in island or island & outside:
            continue
        names = [node for node in case.section.circuit.nodes if joined[node] in island]
        part = next(
            p for p in case.section.circuit.parts if {n for _, n in p.terminals} & set(names)
        )
        word = next(word for word, node in part.terminals if node in names)
        listed = ", ".join(f'"{name}"' for name in names)
        yield Problem(
            part.mark(word),
            f"no direct current can flow from {listed} to ground",
            'join it to the rest, or list it in an "elsewhere" line if it goes on outside',
        )


def _look_shorted(case: Case) -> Iterator[Problem]:
    """No part has both ends on one node.

    bad: resistor R9 from sweep to sweep 1k
    good: resistor R9 from sweep to ground 1M
    """
    joined = case.section.joined
    for part in case.section.circuit.parts:
        if isinstance(part, Pot | Valve | Link):
            continue
        nodes = [node for _, node in part.terminals]
        typed = len(set(nodes)) < len(nodes)
        if not typed and len({joined[node] for node in nodes}) == len(nodes):
            continue
        harmless = not typed and not isinstance(part, Winding | Supply | Capacitor | Diode)
        yield Problem(
            part.mark(part.terminals[-1][0]),
            f"two ends of {part.name} are on one node" if typed else f"links short {part.name}",
            "correct one of the nodes" if typed else "take the link away that joins them",
            severity=Severity.WARNING if harmless else None,
        )


def _look_grid_grounded(case: Case) -> Iterator[Problem]:
    """No grid is at ground.

    bad: link W1 from grid1 to ground
    good: resistor R9 from sweep to ground 1M
    """
    for valve in case.section.circuit.of(Valve):
        if case.section.joined[valve.grid] == GROUND:
            yield Problem(
                valve.mark("grid"),
                f"the grid of {valve.name} is at ground: it has no bias",
                "correct the node of the grid, or take the link away",
            )


def _look_no_valve(case: Case) -> Iterator[Problem]:
    """The valves are drawn.

    bad: capacitor V1 from grid1 to ground 1n
    bad: capacitor V2 from grid2 to ground 1n
    good: valve V2 6V6GT grid grid2
    """
    circuit = case.section.circuit
    if not case.section.grids and circuit.parts:
        yield Problem(
            circuit.parts[-1].span,
            "no valve is drawn",
            'add a line such as "valve V1 EL34 grid NODE plate 420 V screen 416 V"',
        )


RULES = (
    Rule("floating-node", Severity.ERROR, "A node has no path for direct current to ground.",
         "its voltage is anything at all; in a chassis it is usually a wrong name for a node",
         "Join it to the rest.", _look_floating),
    Rule("part-shorted", Severity.ERROR, "A part has two ends on one node.",
         "such a part does nothing; one of its nodes is most likely a slip",
         "Correct the node.", _look_shorted),
    Rule("grid-grounded", Severity.ERROR, "A grid is joined to ground.",
         "a valve without bias destroys itself in seconds",
         "Join the grid to the bias line.", _look_grid_grounded),
    Rule("no-valve", Severity.NOTE, "No valve is drawn.",
         "without one the wipers of the pots are looked at, and no idle current is predicted",
         "Add the output valves.", _look_no_valve),
)  # fmt: skip
