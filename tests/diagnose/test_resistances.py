"""Resistance between two nodes with the power off, against networkx's resistance distance."""

from __future__ import annotations

import math

import networkx as nx
import numpy as np
import pytest

from netcheck.netlist import Pot, Resistor, Supply
from netcheck.readout.model import SectionModel
from netcheck.readout.readout import Readout
from netcheck.readout.scales import R_ADDED, R_OVERLOAD

from .sections import YEAR, at, model_of, ohms

NODES = ("raw", "head", "sweep", "foot", "grid1", "side")


def random_section(rng: np.random.Generator) -> str:
    """A connected network of resistors and a pot behind a negative supply."""
    lines = ['circuit "Random"', "supply S1 plus ground minus raw 50 V source 100 ohm",
             "pot RV1 top head wiper sweep bottom foot 10k 20% linear", "valve V1 EL84 grid grid1"]  # fmt: skip
    known = ["ground", "raw"]
    pairs = [("raw", "ground"), ("side", "raw")]  # a node of one part alone is refused
    for node in NODES[1:]:
        pairs.append((node, str(rng.choice(known))))
        known.append(node)
    for _ in range(rng.integers(0, 5)):
        a, b = map(str, rng.choice(known, 2, replace=False))
        pairs.append((a, b))
    for k, (a, b) in enumerate(pairs):
        r = 10 ** rng.uniform(2.0, 6.0)
        lines.append(f"resistor R{k} from {a} to {b} {r:.0f} ohm")
    return "\n".join(lines) + "\n"


def graph_of(model: SectionModel, x: dict[str, float], travel: float) -> nx.MultiGraph[str]:
    """The same network by hand: conductances between nodes. [S]"""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    for part in model.section.circuit.parts:
        if isinstance(part, Resistor):
            graph.add_edge(part.start, part.end, g=1.0 / math.exp(x[part.name]))
        elif isinstance(part, Supply):
            graph.add_edge(part.plus, part.minus, g=1.0 / math.exp(x[f"{part.name}.off"]))
        elif isinstance(part, Pot):
            top, bottom = (math.exp(x[f"{part.name}.{half} end"]) for half in ("top", "bottom"))
            # Of 10k some 20 ohm at each end are no track (assumed.r_end): what is known of the
            # ends stands in their own coordinates.
            track = math.exp(x[part.name]) * (1.0 - 2.0 * nominal_end(model) / part.r)
            graph.add_edge(part.top, f"{part.name} inside", g=1.0 / (top + track * (1.0 - travel)))
            graph.add_edge(part.bottom, f"{part.name} inside", g=1.0 / (bottom + track * travel))
            graph.add_edge(
                part.wiper, f"{part.name} inside", g=1.0 / math.exp(x[f"{part.name}.wiper"])
            )
    return graph


def nominal_end(model: SectionModel) -> float:
    return float(model.predictor.values()["RV1.end"])


@pytest.mark.parametrize("seed", range(12))
def test_between_any_two_nodes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    model = model_of(random_section(rng))
    travel = float(rng.uniform())
    state = at({"RV1": travel}, live=False)
    asked = [tuple(map(str, rng.choice(["ground", *NODES], 2, replace=False))) for _ in range(6)]
    readout = Readout(model, [ohms(pair, 1e3, state) for pair in asked], YEAR)
    names = readout.coordinates.names
    row = np.array([prior.a if prior.kind in (0, 3) else rng.uniform(prior.a, prior.b)
                    for prior in readout.coordinates.sound])  # fmt: skip
    graph = graph_of(model, dict(zip(names, row, strict=True)), travel)
    y, _ = readout.predict(row[None])
    for k, (a, b) in enumerate(asked):
        distance = nx.resistance_distance(graph, a, b, weight="g", invert_weight=False)
        assert isinstance(distance, float)
        wanted = min(distance, R_OVERLOAD)
        # Leaks of 1e11 ohm and the stray 1e-12 S of each node are not in the graph: at most
        # 2e-5 of a network of 1 Mohm.
        assert math.exp(y[0, k]) - R_ADDED == pytest.approx(wanted, rel=1e-4, abs=1e-3)
