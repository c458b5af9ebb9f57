"""Linear networks of many chassis at once, by the inverse of the nodal matrix.

The inverse holds every driving-point and transfer resistance, and with them the exact
derivative of every voltage by every conductance, which is what a fit asks for.

References
----------
S. W. Director, R. A. Rohrer, "The generalized adjoint network and network sensitivities",
IEEE Trans. Circuit Theory 16 (1969), 318-323: dV/dG is the product of two voltages.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..engine.elements import GROUND, Floats

G_STRAY = 1e-12
"""From every node to ground, so that one that hangs on nothing has a voltage. [S]"""


class Wiring:
    """Which branch goes from which node to which.

    Parameters
    ----------
    branches : sequence of (str, str)
        Ends of each branch.
    nodes : sequence of str
        Further nodes.
    """

    def __init__(self, branches: Sequence[tuple[str, str]], nodes: Sequence[str] = ()) -> None:
        every = dict.fromkeys(node for pair in branches for node in pair) | dict.fromkeys(nodes)
        every.pop(GROUND, None)
        self.nodes = tuple(every)
        self.index = {node: k for k, node in enumerate(self.nodes)}
        self.incidence = np.zeros((len(branches), len(self.nodes)))
        for k, (a, b) in enumerate(branches):
            if a != GROUND:
                self.incidence[k, self.index[a]] += 1.0
            if b != GROUND:
                self.incidence[k, self.index[b]] -= 1.0
        self.outer = np.einsum("ki,kj->kij", self.incidence, self.incidence).reshape(
            len(branches), len(self.nodes) ** 2)  # fmt: skip

    def probe(self, plus: str, minus: str = GROUND) -> Floats:
        """What picks the voltage between two nodes out of all, shape (nodes,)."""
        picked = np.zeros(len(self.nodes))
        if plus != GROUND:
            picked[self.index[plus]] += 1.0
        if minus != GROUND:
            picked[self.index[minus]] -= 1.0
        return picked

    def inverse(self, g: npt.NDArray[np.floating | np.complexfloating]) -> npt.NDArray[np.generic]:
        """The inverse of the nodal matrix, shape (rows, nodes, nodes). [ohm]

        Parameters
        ----------
        g : array, shape (rows, branches)
            Conductances, or admittances. [S]
        """
        n = len(self.nodes)
        matrix = (g @ self.outer).reshape(len(g), n, n)
        matrix[:, range(n), range(n)] += G_STRAY
        inverse: npt.NDArray[np.generic] = np.linalg.inv(matrix)
        return inverse


@dataclass(frozen=True)
class Solved:
    """Networks with their voltages.

    Parameters
    ----------
    wiring : Wiring
        Their topology.
    z : array, shape (rows, nodes, nodes)
        Inverse of the nodal matrix, sources in place as the resistances they have. [ohm]
    v : array, shape (rows, nodes)
        Voltages. [V]
    """

    wiring: Wiring
    z: Floats
    v: Floats

    def transfer(self, picked: Floats) -> tuple[Floats, Floats]:
        """For probes: transfer resistances to the branches, and source resistances.

        Parameters
        ----------
        picked : array, shape (probes, nodes)
            From `Wiring.probe`.

        Returns
        -------
        along : array, shape (rows, probes, branches)
            Voltage across each branch for 1 A into each probe. [ohm]
        r : array, shape (rows, probes)
            Resistance seen by each probe. [ohm]
        """
        zp = np.einsum("pn,rnm->rpm", picked, self.z)
        along: Floats = zp @ self.wiring.incidence.T
        r: Floats = np.einsum("rpm,pm->rp", zp, picked)
        return along, r
