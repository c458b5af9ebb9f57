"""The fast path: mean voltages behind the rectifiers, by linear algebra and one curve each.

Behind a port the mean voltages obey the resistive network exactly, so that a prediction for
another pot position or resistor value is one small linear solve and the crossing of a line
with the port's curve. Batches of states are solved at once.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from .engine.elements import GROUND, Floats
from .engine.linear import LinearNetwork, Solution
from .graph import Cut, Section
from .model import R_LEAST, Branch, Values, branches, emf_node, nominal_values
from .netlist import Capacitor, Supply
from .port import PortCurve

Complex = npt.NDArray[np.complex128]

_SWEEPS = 50  # over ports that a leak joins [count]


@dataclass(frozen=True, slots=True)
class Means:
    """Mean node voltages of a batch of states.

    Parameters
    ----------
    nodes : tuple of str
        The nodes behind the rectifiers, ports included.
    v : array, shape (batch, len(nodes))
        Mean voltages against ground. [V]
    i_port : mapping of port to array, shape (batch,)
        Mean current out of each port into the network. [A]
    """

    nodes: tuple[str, ...]
    v: Floats
    i_port: Mapping[str, Floats]

    def at(self, node: str) -> Floats:
        """The voltages of one node, shape (batch,). [V]"""
        if node == GROUND:
            return np.zeros(self.v.shape[0])
        return self.v[:, self.nodes.index(node)]


class Network:
    """What hangs behind the rectifiers of a section.

    Parameters
    ----------
    section : Section
        A section that can be cut.
    loads : sequence of (node, node, ohm)
        Resistances that are not in the circuit, such as a meter.
    """

    def __init__(self, section: Section, cut: Cut,
                 loads: Sequence[tuple[str, str, float]] = ()) -> None:  # fmt: skip
        self._section, self._cut = section, cut
        self._loads = [(section.joined[a], section.joined[b], r) for a, b, r in loads]
        self._supplies = [
            supply for supply in section.circuit.of(Supply) if supply.name not in cut.front
        ]
        self._topologies: dict[tuple[tuple[str, str], ...], LinearNetwork] = {}
        self.nodes = self._topology(self._branches(nominal_values(section.circuit))).nodes

    @property
    def ports(self) -> tuple[str, ...]:
        """The nodes at which it hangs on a rectifier."""
        return self._cut.ports

    def _topology(self, branch: Sequence[Branch]) -> LinearNetwork:
        """The network of some branches; a leak that is not drawn makes one more than usual."""
        ends = (*((b.a, b.b) for b in branch), *((a, b) for a, b, _ in self._loads))
        if ends not in self._topologies:
            nodes = dict.fromkeys(node for pair in ends for node in pair)
            nodes.update(dict.fromkeys(self.ports))
            nodes.pop(GROUND, None)
            self._topologies[ends] = LinearNetwork(tuple(nodes), ends)
        return self._topologies[ends]

    def _branches(self, values: Values) -> list[Branch]:
        """The resistances behind the rectifiers; a supply's stands between its terminals."""
        front, inside = self._cut.front, self._cut.front_nodes
        minus = {emf_node(s.name, 0): self._section.joined[s.minus] for s in self._supplies}
        found = [
            replace(b, b=minus[b.b]) if b.b in minus else b
            for b in branches(self._section.circuit, values)
            if b.part not in front
        ]
        return [b for b in found if b.a != b.b and not {b.a, b.b} & inside]

    def has(self, node: str) -> bool:
        """Whether a node lies behind the rectifiers, so that this network knows its voltage."""
        node = self._section.at(node)
        return node == GROUND or node in self.nodes

    def means(self, values: Values, curves: Mapping[str, PortCurve], rows: int = 1) -> Means:
        """Mean voltages of a batch of states.

        Parameters
        ----------
        values : mapping of str to float or array, shape (batch,)
            A value for each parameter; arrays of one length are run through together.
        curves : mapping of port to PortCurve
            A curve for each port.
        rows : int
            Length of the batch where no value is an array. [count]

        Returns
        -------
        Means
        """
        rows = max([rows, *(np.size(value) for value in values.values())])
        topology, solution = self._solution(values, rows)
        v_port = np.zeros((rows, len(self.ports)))
        i_port: dict[str, Floats] = {}
        for _ in range(_SWEEPS):
            before = v_port.copy()
            for k, port in enumerate(self.ports):
                v_port[:, k] = 0.0
                a, b = solution.current(v_port, k), solution.conductance(k)
                v_port[:, k], i_port[port] = curves[port].meet(a, b)
            # Ports meet at ground only, unless a leak joins them.
            if len(self.ports) < 2 or np.allclose(v_port, before, rtol=1e-9, atol=1e-9):
                break
        return Means(topology.nodes, solution.voltages(v_port), i_port)

    def drawn(self, values: Values, v_port: Mapping[str, float]) -> dict[str, tuple[float, float]]:
        """What each port's current is, and how it follows the port's voltage.

        Parameters
        ----------
        values : mapping of str to float
            One state.
        v_port : mapping of port to float
            Mean voltages of the ports. [V]

        Returns
        -------
        dict of port to (float, float)
            Current into the network, and driving-point conductance. [A], [S]
        """
        _, solution = self._solution(values, 1)
        v = np.array([[v_port[port] for port in self.ports]])
        return {
            port: (float(solution.current(v, k)[0]), float(solution.conductance(k)[0]))
            for k, port in enumerate(self.ports)
        }

    @functools.cached_property
    def _smoothing(self) -> list[tuple[str, str, Capacitor]]:
        """The capacitors that take ripple from behind; those at a port are the rectifier's."""
        at_port = {*self.ports, *self._cut.front_nodes, GROUND}
        joined = self._section.joined
        ends = [(joined[c.start], joined[c.end], c) for c in self._section.circuit.of(Capacitor)]
        return [(a, b, c) for a, b, c in ends
                if a != b and c.name not in self._cut.front and not {a, b} <= at_port]  # fmt: skip

    @property
    def smooths(self) -> bool:
        """Whether there is a capacitor behind the ports."""
        return bool(self._smoothing)

    def alternating(self, values: Values, omega: float, rows: int = 1) -> dict[str, Complex]:
        """What each port sees of alternating voltage on top of the direct load.

        Parameters
        ----------
        values : mapping of str to float or array, shape (batch,)
            The states.
        omega : float
            Angular frequency. [rad/s]
        rows : int
            Length of the batch where no value is an array. [count]

        Returns
        -------
        dict of port to array, shape (batch,)
            Driving-point admittance less driving-point conductance. [S]
        """
        branch = self._branches(values)
        ends = [(b.a, b.b) for b in branch] + [(a, b) for a, b, _ in self._smoothing]
        nodes = dict.fromkeys(node for pair in ends for node in pair)
        rest = [node for node in nodes if node not in {*self.ports, GROUND}]
        index = {node: k for k, node in enumerate((*self.ports, *rest))}
        y: list[float | Floats | Complex] = [1.0 / np.maximum(b.r, R_LEAST) for b in branch]
        direct = _reduced(index, ends, y, len(self.ports), rows)
        for _, _, c in self._smoothing:
            esr = values.get(f"{c.name}.esr", 0.0)
            y.append(1.0 / (esr + 1.0 / (1j * omega * np.asarray(values[c.name]))))
        found = _reduced(index, ends, y, len(self.ports), rows)
        return {port: found[:, k] - direct[:, k] for k, port in enumerate(self.ports)}

    def _solution(self, values: Values, rows: int) -> tuple[LinearNetwork, Solution]:
        branch = self._branches(values)
        topology = self._topology(branch)
        rows = max([rows, *(np.size(b.r) for b in branch)])
        g = np.empty((rows, len(branch) + len(self._loads)))
        for k, b in enumerate(branch):
            g[:, k] = 1.0 / np.maximum(b.r, R_LEAST)
        for k, (_, _, ohm) in enumerate(self._loads, start=len(branch)):
            g[:, k] = 1.0 / ohm
        injected = self._injected(values, topology.nodes, rows)
        return topology, topology.held(g, self.ports, injected)

    def _injected(self, values: Values, nodes: tuple[str, ...], rows: int) -> Floats:
        """Supplies as currents beside their resistance (Norton)."""
        i_in = np.zeros((rows, len(nodes)))
        for supply in self._supplies:
            volts = np.asarray(values[supply.name]) * values.get("mains", 1.0)
            i = volts / np.maximum(values[f"{supply.name}.source"], R_LEAST)
            for terminal, sign in ((supply.plus, 1.0), (supply.minus, -1.0)):
                node = self._section.joined[terminal]
                if node in nodes:
                    i_in[:, nodes.index(node)] += sign * i
        return i_in


def _reduced(
    index: Mapping[str, int],
    ends: Sequence[tuple[str, str]],
    y: Sequence[float | Floats | Complex],
    kept: int,
    rows: int,
) -> Complex:
    """Driving-point admittances of the first nodes, the others of them at ground. [S]"""
    size = len(index)
    matrix = np.zeros((rows, size, size), dtype=complex)
    # A node on which hangs nothing but capacitors that lead nowhere must not make it singular.
    matrix[:, range(size), range(size)] = 1e-12
    for (a, b), admittance in zip(ends, y, strict=False):
        for here, there in ((a, b), (b, a)):
            if here != GROUND:
                matrix[:, index[here], index[here]] += admittance
                if there != GROUND:
                    matrix[:, index[here], index[there]] -= admittance
    inner = np.linalg.solve(matrix[:, kept:, kept:], matrix[:, kept:, :kept])
    reduced = matrix[:, :kept, :kept] - matrix[:, :kept, kept:] @ inner
    found: Complex = np.diagonal(reduced, axis1=1, axis2=2)
    return found
