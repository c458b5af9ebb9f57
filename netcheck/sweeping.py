"""Which pots set the bias, and which only shift it from one grid to another."""

from __future__ import annotations

import numpy as np

from .predictor import Predictor

_NOTHING = 1e-3  # a smaller change of a grid is none [V]


def pot_effects(predictor: Predictor) -> dict[str, dict[str, float]]:
    """Change of each watched node over the travel of each pot, the others at the middle. [V]"""
    section = predictor.section
    found: dict[str, dict[str, float]] = {}
    for pot in predictor.pots():
        values = predictor.values()
        values[f"{pot.name}.travel"] = np.array([0.0, 1.0])
        means = predictor.means(values, 2)
        ends = {node: means.at(section.joined[node]) for node in section.watched}
        found[pot.name] = {node: float(v[1] - v[0]) for node, v in ends.items()}
    return found


def swept_pots(predictor: Predictor) -> tuple[str, ...]:
    """The pots that set the bias, as against those that balance the grids.

    A balance pot drives some grids up while it drives others down. Where every pot does, all
    are swept.
    """
    effects = pot_effects(predictor)
    bias = [
        pot
        for pot, moves in effects.items()
        if not min(moves.values(), default=0.0) < -_NOTHING
        or not max(moves.values(), default=0.0) > _NOTHING
    ]
    return tuple(bias or effects)
