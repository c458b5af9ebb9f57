"""How far a tremolo swings the grids: the bias line at its slow frequency.

The network behind the rectifiers is linear for slow alternating voltages too; a rectifier
with its reservoir is a resistance there, the slope of its curve, for the cycles of the mains
are far shorter than those of the tremolo.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from .graph import Section, joined
from .model import R_LEAST, Values, branches
from .netlist import GROUND, Capacitor, Supply, Tremolo
from .port import PortCurve

Complex = npt.NDArray[np.complex128]


def swings(section: Section, values: Values, curves: Mapping[str, PortCurve],
           i_port: Mapping[str, float]) -> dict[str, float]:  # fmt: skip
    """Peak swing of each watched node either side of its mean.

    Parameters
    ----------
    section : Section
        A section that can be cut, with one tremolo or more.
    values : mapping of str to float
        Its state.
    curves : mapping of port to PortCurve
        The rectifiers.
    i_port : mapping of port to float
        The mean currents at which they work. [A]

    Returns
    -------
    dict of node to float
        Peaks of several tremolos add up, as if they fell together. [V]

    Notes
    -----
    Nodal analysis Y v = i with complex admittances at each tremolo's frequency.
    """
    found = dict.fromkeys(section.watched, 0.0)
    for tremolo in section.circuit.of(Tremolo):
        moved = _phasors(section, values, curves, i_port, tremolo)
        for node in found:
            found[node] += abs(moved.get(section.joined[node], 0.0))
    return found


def _phasors(section: Section, values: Values, curves: Mapping[str, PortCurve],
             i_port: Mapping[str, float], tremolo: Tremolo) -> dict[str, complex]:  # fmt: skip
    """Peak phasors of the nodes that one tremolo moves. [V]"""
    at = joined(section.circuit)
    front = section.cut.front_nodes if section.cut else frozenset()
    omega = 2.0 * np.pi * tremolo.frequency
    links: list[tuple[str, str, complex]] = [
        (a, b, 1.0 / max(r, R_LEAST)) for a, b, r in _resistances(section, values)
    ]
    links += [
        (at[c.start], at[c.end], 1j * omega * float(values[c.name]))
        for c in section.circuit.of(Capacitor)
    ]
    for port, curve in curves.items():
        slope = -float(curve.at(np.array([i_port[port]]))[1][0])
        links.append((port, GROUND, 1.0 / max(slope, R_LEAST)))
    links = [(a, b, y) for a, b, y in links if a != b and not {a, b} & front]
    nodes = sorted({n for a, b, _ in links for n in (a, b)} - {GROUND})
    index = {node: k for k, node in enumerate(nodes)}
    admittance = np.zeros((len(nodes), len(nodes)), dtype=complex)
    for a, b, y in links:
        _stamp(admittance, index, a, b, y)
    drive = np.zeros(len(nodes), dtype=complex)
    into = 0.5 * tremolo.v_pp / max(tremolo.r_source, R_LEAST)
    for node, sign in ((at[tremolo.end], 1.0), (at[tremolo.start], -1.0)):
        if node in index:
            drive[index[node]] += sign * into
    # A node that only hangs on others by no part at all has no row to solve.
    solution = np.linalg.lstsq(admittance, drive, rcond=None)[0]
    return {node: complex(solution[k]) for node, k in index.items()}


def _resistances(section: Section, values: Values) -> list[tuple[str, str, float]]:
    """All resistances as (node, node, ohm); a direct supply is only its own resistance here."""
    at = joined(section.circuit)
    supplies = {s.name: s for s in section.circuit.of(Supply)}
    found = []
    for branch in branches(section.circuit, values):
        a, b = branch.a, branch.b
        if branch.part in supplies:
            supply = supplies[branch.part]
            a, b = at[supply.plus], at[supply.minus]
        found.append((a, b, float(branch.r)))
    return found


def _stamp(admittance: Complex, index: Mapping[str, int], a: str, b: str, y: complex) -> None:
    for here, there in ((a, b), (b, a)):
        if here in index:
            admittance[index[here], index[here]] += y
            if there in index:
                admittance[index[here], index[there]] -= y
