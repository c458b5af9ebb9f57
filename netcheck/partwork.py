"""What each part does in a simulated state: currents, volts across it, dissipation."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from .engine.elements import GROUND, Floats, Waveforms
from .graph import joined
from .model import Values, branches
from .netlist import Capacitor, Circuit, Diode, Part, Pot, Resistor, Supply, Winding, Zener


@dataclass(frozen=True, slots=True)
class PartWork:
    """One part in one state.

    Parameters
    ----------
    i_mean : float
        Mean current from its first terminal to its second, forward through a diode, backward
        through a zener; the larger one of a pot's two halves; 0 for a capacitor. [A]
    i_rms : float
        The same current, root mean square. [A rms]
    power : float
        Mean dissipation; the whole track of a pot. [W]
    v_high, v_low : float
        Greatest and least voltage from its first terminal to its second; of a diode and a
        zener from cathode to anode. [V]
    """

    i_mean: float
    i_rms: float
    power: float
    v_high: float
    v_low: float


def part_work(circuit: Circuit, values: Values, waves: Waveforms) -> dict[str, PartWork]:
    """The work of all parts of a circuit over one period.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    values : mapping of str to float
        The state that was simulated.
    waves : Waveforms
        The period.

    Returns
    -------
    dict of part name to PartWork
        Valves and links are left out.
    """
    node = joined(circuit)

    def across(a: str, b: str) -> Floats:
        return _wave(waves, node.get(a, a)) - _wave(waves, node.get(b, b))

    flows: dict[str, list[tuple[Floats, float]]] = {}
    for branch in branches(circuit, values):
        r = float(branch.r)
        flows.setdefault(branch.part, []).append((across(branch.a, branch.b) / r, r))
    return {
        part.name: _work(part, waves, flows.get(part.name, []), across(*ends))
        for part, ends in _two_ends(circuit)
    }


def _two_ends(circuit: Circuit) -> Iterator[tuple[Part, tuple[str, str]]]:
    for part in circuit.parts:
        if isinstance(part, Resistor | Capacitor | Winding):
            yield part, (part.start, part.end)
        elif isinstance(part, Diode | Zener):
            yield part, (part.cathode, part.anode)
        elif isinstance(part, Supply):
            yield part, (part.plus, part.minus)
        elif isinstance(part, Pot):
            yield part, (part.top, part.bottom)


def _wave(waves: Waveforms, node: str) -> Floats:
    if node == GROUND or node not in waves.v:
        return np.zeros_like(waves.t)
    return waves.v[node]


def _work(part: Part, waves: Waveforms, flows: list[tuple[Floats, float]], v: Floats) -> PartWork:
    power = sum(waves.mean(i * i) * r for i, r in flows)
    i = np.zeros_like(v)
    if isinstance(part, Diode | Zener):
        # Against `v`, which counts from cathode to anode.
        i = -sum((waves.i.get(n, np.zeros_like(v)) for n in _junctions(part)), np.zeros_like(v))
        if isinstance(part, Zener):
            i += waves.i.get(f"{part.name}.volts", 0.0)
        power = waves.mean(i * v)
    elif flows and not isinstance(part, Capacitor):
        i = max(flows, key=lambda flow: waves.mean(flow[0] ** 2))[0]
    i_mean = -waves.mean(i) if isinstance(part, Diode) else waves.mean(i)
    return PartWork(i_mean, float(np.sqrt(waves.mean(i * i))), float(power),
                    float(np.max(v)), float(np.min(v)))  # fmt: skip


def _junctions(part: Diode | Zener) -> tuple[str, ...]:
    """The junctions through which current leaves a part's anode for its cathode."""
    return (part.name,) if isinstance(part, Diode) else (f"{part.name}.forward",)


def largest(works: Sequence[dict[str, PartWork]]) -> dict[str, PartWork]:
    """For each part the largest figures over several states."""
    return {
        name: PartWork(
            max((work[name].i_mean for work in works), key=abs),
            max(work[name].i_rms for work in works),
            max(work[name].power for work in works),
            max(work[name].v_high for work in works),
            min(work[name].v_low for work in works),
        )
        for name in works[0]
    }
