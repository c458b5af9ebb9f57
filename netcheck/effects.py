"""Which way each part moves the grids: computed, part by part, by the simulation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from .netlist import Pot, Resistor, Supply, Winding, Zener

if TYPE_CHECKING:
    from .predictor import Predictor

STEP = 0.10
"""Each value is raised by this share. [1]"""
LEAST = 2e-3
"""Smaller changes of a grid are called none: below what a bench meter shows. [V]"""


def effects(predictor: Predictor) -> dict[str, dict[str, float]]:
    """Change of each watched node when the value of a part is raised by `STEP`.

    Parameters
    ----------
    predictor : Predictor
        Of the section; the pots stand at the middle.

    Returns
    -------
    dict of part name to dict of node to float
        For every resistor, pot, winding, supply and zener. Negative where the node goes more
        negative. [V]

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    base = predictor.values()
    parts = [
        part.name
        for part in predictor.section.circuit.parts
        if isinstance(part, Resistor | Pot | Winding | Supply | Zener)
    ]
    raised = [base | {name: base[name] * (1.0 + STEP)} for name in parts]
    first, *rest = predictor.wholes([(values, ()) for values in [base, *raised]])
    watched = predictor.section.watched
    return {
        name: {node: answer.mean[node] - first.mean[node] for node in watched}
        for name, answer in zip(parts, rest, strict=True)
    }


def in_words(moves: Mapping[str, float]) -> str:
    """What raising a part does to the grids: "grids more negative, less current"."""
    down = [node for node, v in moves.items() if v < -LEAST]
    up = [node for node, v in moves.items() if v > LEAST]
    if not down and not up:
        return "hardly moves the grids"
    said = []
    for nodes, way in ((down, "more negative, less current"), (up, "less negative, more current")):
        if nodes:
            who = "grids" if len(nodes) == len(moves) else ", ".join(nodes)
            said.append(f"{who} {way}")
    return "; ".join(said)
