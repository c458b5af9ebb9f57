"""What raising a part does to the grids, in words."""

from __future__ import annotations

from collections.abc import Mapping

LEAST = 2e-3
"""Smaller changes of a grid are called none: below what a bench meter shows. [V]"""


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
