"""Resistance between two nodes with the power off, by plain nodal analysis.

Written apart from the program's own elimination, so that the two can be held against each
other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import networkx as nx
import numpy as np

from netcheck.engine.elements import DcSource, Element, Resistance, SineSource


def ohmic(elements: Sequence[Element]) -> nx.Graph[str]:
    """What is left of a circuit with the power off, as conductances between nodes.

    Junctions do not conduct at an ohmmeter's volts, capacitors have settled, and an ideal
    source without power is a wire: its ends are one node. Edges carry `weight` [S].
    """
    wires: Any = nx.utils.UnionFind()
    for e in elements:
        if isinstance(e, SineSource | DcSource):
            wires.union(e.a, e.b)
    graph: nx.Graph[str] = nx.Graph()
    graph.graph["wires"] = wires
    for e in elements:
        if isinstance(e, Resistance) and wires[e.a] != wires[e.b]:
            a, b = wires[e.a], wires[e.b]
            before = graph[a][b]["weight"] if graph.has_edge(a, b) else 0.0
            graph.add_edge(a, b, weight=before + 1.0 / e.r)
    return graph


def resistance(elements: Sequence[Element], a: str, b: str) -> float:
    """Resistance between two nodes; infinite where nothing joins them. [ohm]"""
    graph = ohmic(elements)
    wires = graph.graph["wires"]
    first, second = wires[a], wires[b]
    if first == second:
        return 0.0
    if first not in graph or second not in graph or not nx.has_path(graph, first, second):
        return math.inf
    nodes = sorted(nx.node_connected_component(graph, first) - {second})
    index = {node: k for k, node in enumerate(nodes)}
    matrix = np.zeros((len(nodes), len(nodes)))
    for here, there, edge in graph.edges(nodes, data=True):
        g = edge["weight"]
        for one, other in ((here, there), (there, here)):
            if one in index:
                matrix[index[one], index[one]] += g
                if other in index:
                    matrix[index[one], index[other]] -= g
    driven = np.zeros(len(nodes))
    driven[index[first]] = 1.0  # ampere in at one, out at the other
    return float(np.linalg.solve(matrix, driven)[index[first]])
