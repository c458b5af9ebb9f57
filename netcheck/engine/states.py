"""The independent capacitor voltages of a circuit: what its state consists of.

A capacitor that closes a loop of capacitors and ideal sources has no voltage of its own.
Given one all the same, a simulator would start with an unbounded current.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .elements import Capacitance, DcSource, Elements, Floats, SineSource, Waveforms
from .forest import Forest


class States:
    """Free capacitor voltages, and those that follow from them, at phase zero of the sine.

    Parameters
    ----------
    elements : sequence of Element
        A circuit that passed the preflight.

    Attributes
    ----------
    all : tuple of Capacitance
        All capacitors.
    free : tuple of Capacitance
        Those whose voltages can be chosen; the largest ones of each loop.
    """

    def __init__(self, elements: Elements) -> None:
        forest = Forest()
        # (a, b, v(a) - v(b) as coefficients of the free voltages and of 1)
        edges: list[tuple[str, str, Floats]] = []
        capacitances = [e for e in elements if isinstance(e, Capacitance)]
        width = len(capacitances) + 1
        for source in elements:
            if isinstance(source, SineSource | DcSource):
                forest.join(source.a, source.b)
                row = np.zeros(width)
                row[-1] = source.v if isinstance(source, DcSource) else 0.0
                edges.append((source.a, source.b, row))
        free: list[Capacitance] = []
        bound: list[Capacitance] = []
        # Of a loop the smallest capacitor is left out: its share of the charge is the smallest.
        for capacitance in sorted(capacitances, key=lambda e: -e.c):
            if forest.join(capacitance.a, capacitance.b):
                row = np.zeros(width)
                row[len(free)] = 1.0
                edges.append((capacitance.a, capacitance.b, row))
                free.append(capacitance)
            else:
                bound.append(capacitance)
        self.all = tuple(capacitances)
        self.free = tuple(free)
        potentials = _potentials(edges, width)
        zero = np.zeros(width)
        self._bound = {e.name: potentials.get(e.a, zero) - potentials.get(e.b, zero) for e in bound}

    def vector(self, start: Mapping[str, float]) -> Floats:
        """The free voltages out of a mapping by name; 0 V where it says nothing. [V]"""
        return np.array([float(start.get(e.name, 0.0)) for e in self.free])

    def ends(self, waves: Waveforms) -> Floats:
        """The free voltages at the end of a stretch of time. [V]"""
        return np.array([waves.across(e.a, e.b)[-1] for e in self.free])

    def voltages(self, vector: Floats) -> dict[str, float]:
        """The voltages of all capacitors, by name. [V]"""
        chosen = {e.name: float(v) for e, v in zip(self.free, vector, strict=True)}
        known = np.zeros(len(self.free) + len(self._bound) + 1)
        known[: len(self.free)] = vector
        known[-1] = 1.0
        follows = {name: float(row @ known) for name, row in self._bound.items()}
        return chosen | follows


def _potentials(edges: list[tuple[str, str, Floats]], width: int) -> dict[str, Floats]:
    """Node potentials along a forest, the first node of each tree being the reference."""
    near: dict[str, list[tuple[str, Floats]]] = {}
    for a, b, row in edges:
        near.setdefault(b, []).append((a, row))
        near.setdefault(a, []).append((b, -row))
    found: dict[str, Floats] = {}
    for first in near:
        if first in found:
            continue
        found[first] = np.zeros(width)
        waiting = [first]
        while waiting:
            node = waiting.pop()
            for other, row in near[node]:
                if other not in found:
                    found[other] = found[node] + row
                    waiting.append(other)
    return found
