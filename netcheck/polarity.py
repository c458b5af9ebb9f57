"""Which way round the direct voltages of a section must be, from how it is wired.

A rectifier that works is a battery, plus at the diode's cathode, with the windings as wires:
over a period the mean voltage across a winding and the mean current through a capacitor are
both zero. What such a battery does at a node is a matter of one small linear network. The
volts are in units of the battery's, so that signs and ratios mean something, not sizes.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from . import assumed
from .netlist import GROUND, OPEN, Diode, Part, Pot, Resistor, Supply, Zener
from .topology import Topology

_R_SOURCE = 1.0
_R_ZENER = 1e3
"""Any resistance would do for the sign; of the order of a small zener short of its knee."""
_R_STEERING = 1.0
_SMALL = 0.05
"""A share of the largest contribution below which another one does not make a doubt. [1]"""
NOTHING = 1e-7
"""Less than this share of the supply is no voltage: the noise of arithmetic. [1]"""

Floats = NDArray[np.float64]


class Sign(Enum):
    """Of a mean voltage."""

    NEGATIVE = "negative"
    ZERO = "zero"
    POSITIVE = "positive"
    UNCLEAR = "unclear"
    """Sources pull it both ways."""
    FLOATING = "floating"
    """No direct path leads to ground."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A resistance between two nodes, with a battery of one unit in it if `source` is set."""

    a: str
    b: str
    r: float
    source: Part | None = None
    """Its battery has the plus at `b`."""


class MeanNetwork:
    """The mean voltages of a section with each working rectifier as a battery.

    Parameters
    ----------
    topology : Topology
        Of the section.
    wipers : mapping of str to float
        Where the wipers of pots stand, 0 at the bottom end and 1 at the top; the middle for
        those left out. [1]
    lifted : iterable of str
        Pots whose wiper has lost the track.
    plain : bool
        True for all resistors and tracks alike: what depends on the wiring alone.
    """

    def __init__(
        self,
        topology: Topology,
        wipers: Mapping[str, float] | None = None,
        lifted: Iterable[str] = (),
        *,
        plain: bool = False,
    ) -> None:
        self._topology = topology
        self._wipers = dict(wipers or {})
        self._lifted = frozenset(lifted)
        self._plain = plain
        self._pieces = list(self._made_pieces())
        self.sources = tuple(piece.source for piece in self._pieces if piece.source is not None)

    def node(self, name: str) -> str:
        """The node that stands for `name`, links and windings taken as wires."""
        return self._stands.get(self._topology.at(name), self._topology.at(name))

    @functools.cached_property
    def _stands(self) -> dict[str, str]:
        """One node for all terminals of windings that hang together, ground if it is among them."""
        groups: list[set[str]] = []
        for node, windings in self._topology.windings_at.items():
            group = {node}
            for winding in windings:
                group |= {self._topology.at(end) for _, end in winding.terminals}
            apart = [other for other in groups if not other & group]
            groups = [*apart, group.union(*(other for other in groups if other & group))]
        found: dict[str, str] = {}
        for group in groups:
            name = GROUND if GROUND in group else min(group)
            found.update(dict.fromkeys(group, name))
        return found

    # ------------------------------------------------------------------------ pieces

    def _made_pieces(self) -> Iterator[_Piece]:
        rectifiers = set(self._topology.rectifiers)
        for edge in self._topology.edges:
            part = edge.part
            if isinstance(part, Pot):
                continue
            if isinstance(part, Supply):
                yield self._piece(part.minus, part.plus, _R_SOURCE, part)
            elif isinstance(part, Diode) and part in rectifiers:
                yield self._piece(part.anode, part.cathode, _R_SOURCE, part)
            elif isinstance(part, Diode):
                # A diode that only steers lets pass; one to ground blocks if all is well.
                if GROUND not in (self.node(edge.a), self.node(edge.b)):
                    yield self._piece(edge.a, edge.b, _R_STEERING)
            elif isinstance(part, Zener):
                yield self._piece(edge.a, edge.b, _R_ZENER)
            elif isinstance(part, Resistor):
                yield self._piece(edge.a, edge.b, 1.0 if self._plain else part.r)
        for pot in self._topology.section.circuit.of(Pot):
            yield from self._pot_pieces(pot)

    def _piece(self, a: str, b: str, r: float, source: Part | None = None) -> _Piece:
        return _Piece(self.node(a), self.node(b), r, source)

    def _pot_pieces(self, pot: Pot) -> Iterator[_Piece]:
        track = 2.0 if self._plain else pot.r
        end = assumed.r_end(pot) * track / pot.r
        share = self._wipers.get(pot.name, 0.5)
        if pot.name in self._lifted:
            if OPEN not in (pot.top, pot.bottom):
                yield self._piece(pot.top, pot.bottom, track)
            return
        between = track - 2.0 * end
        if pot.top != OPEN:
            yield self._piece(pot.top, pot.wiper, end + between * (1.0 - share))
        if pot.bottom != OPEN:
            yield self._piece(pot.wiper, pot.bottom, end + between * share)

    # --------------------------------------------------------------------- solution

    @functools.cached_property
    def _index(self) -> dict[str, int]:
        """A number for each node that a path leads from to ground."""
        around: dict[str, list[str]] = {}
        for piece in self._pieces:
            around.setdefault(piece.a, []).append(piece.b)
            around.setdefault(piece.b, []).append(piece.a)
        seen, queue = {GROUND: -1}, [GROUND]
        while queue:
            for far in around.get(queue.pop(), []):
                if far not in seen:
                    seen[far] = len(seen) - 1
                    queue.append(far)
        del seen[GROUND]
        return seen

    def _inflow(self, node: str) -> Floats:
        """A unit of current into a node, shape (nodes,); none where it is not held."""
        inflow = np.zeros(len(self._index))
        if node in self._index:
            inflow[self._index[node]] = 1.0
        return inflow

    @functools.cached_property
    def _resistance(self) -> Floats:
        """Inverse of the conductance matrix, batteries shorted, shape (nodes, nodes). [ohm]"""
        conductance = np.zeros((len(self._index), len(self._index)))
        for piece in self._pieces:
            across = self._inflow(piece.b) - self._inflow(piece.a)
            conductance += np.outer(across, across) / piece.r
        return np.asarray(np.linalg.inv(conductance), dtype=np.float64)

    @functools.cached_property
    def _solution(self) -> Floats:
        """What each source does to each node, shape (nodes, sources). [1]"""
        driven = [piece for piece in self._pieces if piece.source is not None]
        drive = np.zeros((len(self._index), len(driven)))
        for column, piece in enumerate(driven):
            drive[:, column] = (self._inflow(piece.b) - self._inflow(piece.a)) / piece.r
        return np.asarray(self._resistance @ drive)

    def volts(self, node: str) -> Floats | None:
        """What each of `sources` does to a node, shape (sources,); None for a floating one. [1]"""
        name = self.node(node)
        if name == GROUND:
            return np.zeros(len(self.sources))
        return self._solution[self._index[name]] if name in self._index else None

    def total(self, node: str) -> float | None:
        """Voltage of a node with all sources at work; None for a floating one. [1]"""
        volts = self.volts(node)
        return None if volts is None else float(volts.sum())

    def sign(self, node: str, against: str = GROUND) -> Sign:
        """The sign of a node's mean voltage against another's."""
        if self.node(node) == self.node(against):
            return Sign.ZERO
        high, low = self.volts(node), self.volts(against)
        if high is None or low is None:
            return Sign.FLOATING
        return _sign(high - low)

    def r_to_ground(self, node: str) -> float | None:
        """Resistance between a node and ground, supplies at rest; None for a floating one. [ohm]

        Rectifiers count as closed: the resistance of a supply is small against what follows.
        """
        name = self.node(node)
        if name == GROUND:
            return 0.0
        if name not in self._index:
            return None
        return float(self._resistance[self._index[name], self._index[name]])


def _sign(volts: Floats) -> Sign:
    largest = float(np.max(np.abs(volts), initial=0.0))
    if largest < NOTHING:
        return Sign.ZERO
    counted = volts[np.abs(volts) >= _SMALL * largest]
    if np.all(counted < 0):
        return Sign.NEGATIVE
    return Sign.POSITIVE if np.all(counted > 0) else Sign.UNCLEAR
