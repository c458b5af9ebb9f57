"""Resistive networks, many at once: one topology, a row of conductances for each.

Nodes are eliminated one by one by the star-mesh transformation. It only adds, multiplies
and divides positive numbers, so nothing cancels: a picosiemens beside a kilosiemens keeps
all its digits, where the usual matrix solution has lost it before it begins.

References
----------
S. Rosen, "A new network theorem", J. Inst. Elec. Eng. 62 (1924), 916-918: the
transformation. W. K. Grassmann, M. I. Taksar, D. P. Heyman, "Regenerative analysis and
steady state distributions for Markov chains", Oper. Res. 33 (1985), 1107-1116: why it is
accurate in every digit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..errors import EngineError
from .elements import GROUND, Floats
from .preflight import shown

_Mesh = dict[int, dict[int, Floats]]
"""Neighbours of each node, and the conductances to them, each of shape (batch,)."""


@dataclass(frozen=True, slots=True)
class _Eliminated:
    """A node taken out, and what its voltage then follows from."""

    node: int
    total: Floats
    toward: dict[int, Floats]


class LinearNetwork:
    """The topology of a resistive network.

    Parameters
    ----------
    nodes : sequence of str
        The nodes, in the order in which voltages are given. Ground need not be among them.
    branches : sequence of (str, str)
        The ends of each branch, in the order in which conductances are given.

    Raises
    ------
    ValueError
        When a branch ends at a node that is not among the nodes.
    """

    def __init__(self, nodes: Sequence[str], branches: Sequence[tuple[str, str]]) -> None:
        self.nodes = tuple(nodes)
        self.branches = tuple((a, b) for a, b in branches)
        names = dict.fromkeys((*self.nodes, GROUND))
        self._index = {node: k for k, node in enumerate(names)}
        for branch in self.branches:
            for node in branch:
                if node not in self._index:
                    raise ValueError(f"a branch ends at {node!r}, which is not a node")

    def held(
        self, g: npt.ArrayLike, held: Sequence[str] = (), i_in: npt.ArrayLike | None = None
    ) -> Solution:
        """Reduce the network to ground and some nodes whose voltages are given later.

        Parameters
        ----------
        g : array, shape (batch, len(branches)) or (len(branches),)
            Conductances; 0 where a branch is open. [S]
        held : sequence of str
            Nodes that a source holds; ground always is.
        i_in : array, shape (batch, len(nodes)) or (len(nodes),), optional
            Currents driven into the nodes from outside. [A]

        Returns
        -------
        Solution

        Raises
        ------
        EngineError
            When a node hangs on nothing, or a conductance is no positive number.
        """
        mesh = self._mesh(g)
        kept = [self._index[node] for node in held] + [self._index[GROUND]]
        rows = _rows(g)
        injected = self._injected(i_in, rows)
        steps = []
        for k in _order(mesh, kept):
            step = _eliminate(mesh, k)
            # Nothing leads away from it and from all that was connected to it alone.
            if not np.all(step.total > 0):
                raise EngineError(f"node {shown(list(self._index)[k])} floats: no resistance "
                                  "leads from it to a known voltage")  # fmt: skip
            for j, toward in step.toward.items():
                injected[j] = injected[j] + injected[k] * (toward / step.total)
            steps.append(step)
        return Solution(mesh, steps, injected, kept, len(self.nodes), rows)

    def resistance(self, a: str, b: str, g: npt.ArrayLike) -> Floats:
        """Resistance between two nodes with everything else in place, as a meter reads it.

        Parameters
        ----------
        a, b : str
            The nodes; ground is a node like any other here.
        g : array, shape (batch, len(branches)) or (len(branches),)
            Conductances; 0 where a branch is open. [S]

        Returns
        -------
        array, shape (batch,)
            Infinite where nothing connects the two. [ohm]

        Raises
        ------
        EngineError
            When a conductance is no positive number.
        """
        mesh = self._mesh(g)
        first, second = self._index[a], self._index[b]
        rows = _rows(g)
        if first == second:
            return np.zeros(rows)
        for k in _order(mesh, (first, second)):
            _eliminate(mesh, k)
        between = mesh[first].get(second, np.zeros(rows))
        with np.errstate(divide="ignore"):
            return np.asarray(1.0 / between, dtype=np.float64)

    def _mesh(self, g: npt.ArrayLike) -> _Mesh:
        """The network as neighbours; branches in parallel are one."""
        columns = np.ascontiguousarray(np.atleast_2d(np.asarray(g, dtype=np.float64)).T)
        if len(columns) != len(self.branches):
            raise ValueError(f"{len(columns)} conductances for {len(self.branches)} branches")
        if not np.all((columns >= 0) & np.isfinite(columns)):
            raise EngineError("a conductance is not a finite positive number")
        mesh: _Mesh = {k: {} for k in self._index.values()}
        for (a, b), conductance in zip(self.branches, columns, strict=True):
            i, j = self._index[a], self._index[b]
            if i != j:
                _add(mesh, i, j, conductance)
        return mesh

    def _injected(self, i_in: npt.ArrayLike | None, rows: int) -> list[Floats]:
        injected = [np.zeros(rows) for _ in self._index]
        if i_in is not None:
            columns = np.broadcast_to(np.asarray(i_in, dtype=np.float64), (rows, len(self.nodes)))
            for k, column in enumerate(columns.T):
                injected[k] = np.ascontiguousarray(column)
        return injected


@dataclass(frozen=True, slots=True)
class Solution:
    """A network reduced to its held nodes: what they do follows at once.

    Made by `LinearNetwork.held`; `v_held` below has shape (batch, held) or (held,), in the
    order in which the held nodes were named there.
    """

    _mesh: _Mesh
    _steps: Sequence[_Eliminated]
    _injected: Sequence[Floats]
    _kept: Sequence[int]
    _size: int
    _rows: int

    def voltages(self, v_held: npt.ArrayLike = ()) -> Floats:
        """Node voltages, shape (batch, len(nodes)). [V]"""
        v = self._given(v_held)
        self._spread(v, self._injected)
        found = np.zeros((self._rows, self._size))
        for k in range(self._size):
            found[:, k] = v[k]
        return found

    def current(self, v_held: npt.ArrayLike, k: int) -> Floats:
        """Current from held node number `k` into the network, shape (batch,). [A]"""
        v = self._given(v_held)
        here = self._kept[k]
        total = -self._injected[here]
        for other, conductance in self._mesh[here].items():
            total = total + conductance * (v[here] - v[other])
        return total

    def conductance(self, k: int) -> Floats:
        """Driving-point conductance at held node number `k`, shape (batch,). [S]"""
        total = np.zeros(self._rows)
        for conductance in self._mesh[self._kept[k]].values():
            total = total + conductance
        return total

    def _given(self, v_held: npt.ArrayLike) -> dict[int, Floats]:
        """Voltages of the held nodes and of ground by node."""
        shape = (self._rows, len(self._kept) - 1)
        columns = np.broadcast_to(np.asarray(v_held, dtype=np.float64), shape).T
        *held, ground = self._kept
        v = {node: np.array(column) for node, column in zip(held, columns, strict=True)}
        v[ground] = np.zeros(self._rows)
        return v

    def _spread(self, v: dict[int, Floats], injected: Sequence[Floats]) -> None:
        """From the held nodes back to those that were eliminated, last one first."""
        for step in reversed(self._steps):
            total = injected[step.node]
            for other, toward in step.toward.items():
                total = total + toward * v[other]
            v[step.node] = total / step.total


def _rows(g: npt.ArrayLike) -> int:
    return int(np.atleast_2d(np.asarray(g)).shape[0])


def _add(mesh: _Mesh, i: int, j: int, conductance: Floats) -> None:
    known = mesh[i].get(j)
    both = conductance if known is None else known + conductance
    mesh[i][j] = mesh[j][i] = both


def _order(mesh: _Mesh, kept: Iterable[int]) -> Iterable[int]:
    """Nodes to eliminate, always one with the fewest neighbours: they make the fewest new."""
    waiting = set(mesh) - set(kept)
    while waiting:
        # By number where there is a tie, so that results do not depend on hashing.
        k = min(waiting, key=lambda node: (len(mesh[node]), node))
        waiting.remove(k)
        yield k


def _eliminate(mesh: _Mesh, k: int) -> _Eliminated:
    """Replace the star around node `k` by the mesh between its neighbours."""
    star = mesh.pop(k)
    total = np.zeros(1)
    for conductance in star.values():
        total = total + conductance
    for j in star:
        del mesh[j][k]
    # Where nothing leads away there is nothing to distribute.
    safe = np.where(total > 0, total, 1.0)
    ends = list(star.items())
    for position, (i, toward_i) in enumerate(ends):
        share = toward_i / safe
        for j, toward_j in ends[position + 1 :]:
            _add(mesh, i, j, share * toward_j)
    return _Eliminated(k, total, star)
