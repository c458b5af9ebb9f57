"""What a meter's diode test shows of a rectifier that is soldered in.

The meter drives a current from one lead to the other and shows the volts that this takes. The
current divides between the rectifier and whatever else leads there: resistances, and other
junctions that conduct, such as the next one of a bridge through the winding.

Each junction follows the exponential law, with a resistance in series. Newton's method finds the
exponents; the derivatives are those of the network in which each junction is replaced by its
slope resistance.

References
----------
L. O. Chua, P.-M. Lin, "Computer-Aided Analysis of Electronic Circuits", Prentice-Hall 1975,
chapter 5: Newton's method for resistive networks with junctions. From memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..assumed import I_DROP
from ..engine.elements import Floats
from ..model import I_SATURATION, R_BROKEN
from ..netlist import Diode, Zener
from .junctions import junction_branches
from .model import SectionModel

I_TEST = 1e-3
"""What a hand-held meter drives on its diode test; common practice. [A]"""
_MOST_TESTED = 7.0 * I_TEST  # of any meter: five standard deviations of its spread [A]
_MOST_STEPS = 60  # of Newton's method: some fifteen lead from the whole current to its share
_NEAR = 1e-7  # change of an exponent that ends it [1]
_UPWARDS = 1.0  # most that an exponent may grow in one step [1]
_LEAST = 1e-30  # conductance of a junction that is cut off, over the saturation current [1]
_FORWARD = (0.7, 1.0)  # of a zener: drop and series resistance, as it is simulated [V], [ohm]


@dataclass(frozen=True)
class Shown:
    """What the test would show on chassis, were there no end to its volts.

    Parameters
    ----------
    v : array, shape (rows,)
        [V]
    by_branch : array, shape (rows, branches)
        Derivative by the logarithm of each branch's resistance. [V]
    by_name : mapping of coordinate name to array, shape (rows,)
        Derivative by each coordinate of a junction. [V]
    by_current : array, shape (rows,)
        Derivative by the logarithm of the current. [V]
    """

    v: Floats
    by_branch: Floats
    by_name: Mapping[str, Floats]
    by_current: Floats


class DiodeTest:
    """A meter on diode test at a section whose power is off.

    Parameters
    ----------
    model : SectionModel
        The section. A valve rectifier is cold and never conducts.
    """

    def __init__(self, model: SectionModel) -> None:
        circuit = model.section.circuit
        cold = {diode.name for diode in circuit.of(Diode) if diode.material == "vacuum"}
        branches = {n: k for n, k in junction_branches(model).items() if n not in cold}
        self._names = tuple(branches)
        self._zeners = {zener.name for zener in circuit.of(Zener)}
        self._incidence = model.off_wiring.incidence
        self._across: Floats = self._incidence[list(branches.values())]

    def read(self, x: Mapping[str, Floats], g: Floats, z: Floats, leads: Floats,
             i_test: Floats) -> Shown:  # fmt: skip
        """Volts between the leads.

        Parameters
        ----------
        x : mapping of coordinate name to array, shape (rows,)
            The chassis.
        g : array, shape (rows, branches)
            Conductances of the branches, junctions left out. [S]
        z : array, shape (rows, nodes, nodes)
            Inverse of their nodal matrix. [ohm]
        leads : array, shape (nodes,)
            From `Wiring.probe`, the red lead first.
        i_test : array, shape (rows,)
            The current. [A]
        """
        scale, series = self._laws(x)
        seen = z @ leads  # volts of all nodes for 1 A at the leads
        by_junction = z @ self._across.T  # and for 1 A through each junction
        between, at_junction = self._across @ by_junction, seen @ self._across.T
        exponent = _exponents(scale, series, between, at_junction * i_test[:, None])
        i = I_SATURATION * np.expm1(exponent)
        v = seen * i_test[:, None] - np.einsum("rnj,rj->rn", by_junction, i)
        slope = scale / (I_SATURATION * np.maximum(np.exp(exponent), _LEAST)) + series
        inner = between + slope[:, None] * np.eye(len(self._names))
        through = np.linalg.solve(inner, at_junction[:, :, None])
        linear = seen - (by_junction @ through)[:, :, 0]
        across = linear @ self._across.T / slope  # as much as a volt in series with it would make
        # By the tangents: where a winding floats, the volts of nodes are differences of huge ones.
        beyond = scale * exponent + series * i - slope * i
        by_name = {}
        for k, name in enumerate(self._names):
            if name not in self._zeners:
                by_name[f"{name}.drop"] = across[:, k] * scale[:, k] * exponent[:, k]
                by_name[f"{name}.series"] = across[:, k] * series[:, k] * i[:, k]
        return Shown(
            linear @ leads * i_test + np.sum(across * beyond, axis=1),
            g * (linear @ self._incidence.T) * (v @ self._incidence.T),
            by_name,
            (linear @ leads) * i_test,
        )

    def _laws(self, x: Mapping[str, Floats]) -> tuple[Floats, Floats]:
        """Volts for each unit of the exponent, and series resistance, (rows, junctions) each."""
        rows = np.size(next(iter(x.values())))
        scale, series = np.empty((2, rows, len(self._names)))
        for k, name in enumerate(self._names):
            own = np.exp(x[f"{name}.series"])
            drop = np.full(rows, _FORWARD[0])
            if name in self._zeners:  # whose coordinate is its resistance at breakdown
                own = np.where(own < R_BROKEN, _FORWARD[1], own)
            else:
                drop = np.exp(x[f"{name}.drop"])
            scale[:, k] = drop / math.log(I_DROP / I_SATURATION)
            series[:, k] = own
        return scale, series


def _exponents(scale: Floats, series: Floats, between: Floats, v_open: Floats) -> Floats:
    """Volts of each junction over its scale, (rows, junctions).

    Parameters
    ----------
    scale, series : array, shape (rows, junctions)
        The laws. [V], [ohm]
    between : array, shape (rows, junctions, junctions)
        Volts across one for an ampere through another. [ohm]
    v_open : array, shape (rows, junctions)
        Volts across each while none conducts. [V]
    """
    # From above, where each step is sure to lead down: no junction carries more than the current.
    w = np.minimum(v_open / scale, math.log1p(_MOST_TESTED / I_SATURATION))
    count = scale.shape[1]
    ohms = between + series[:, None] * np.eye(count)
    for _ in range(_MOST_STEPS):
        i, slope = I_SATURATION * np.expm1(w), I_SATURATION * np.exp(w)
        off = scale * w + np.einsum("rjk,rk->rj", ohms, i) - v_open
        matrix = ohms * slope[:, None] + scale[:, None] * np.eye(count)
        step = np.minimum(-np.linalg.solve(matrix, off[:, :, None])[:, :, 0], _UPWARDS)
        w = w + step
        if np.abs(step).max(initial=0.0) < _NEAR:
            break
    return w
