"""Every part of every circuit fails in every way: counted here from the circuit alone."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from netcheck.failures import failures_of
from netcheck.graph import Section
from netcheck.netlist import Circuit, Part
from netcheck.resources import folder

from .sections import COUPLED, FOOT_RHEOSTAT, HIGH_TENSION, MAINS, circuit_of

FILES = sorted(folder("circuits").glob("**/*.bias"))

WAYS: dict[str, set[str]] = {
    "resistor": {"open", "short"},
    "zener": {"open", "short"},
    "tremolo": {"open", "short"},
    "diode": {"open", "short", "leaky (10k)"},
    "capacitor": {"open", "short", "leaky (10k)"},
    "link": {"open"},
    "supply": {"dead"},
    "winding": {"dead"},
    "valve": {"grid to cathode 100k", "grid to cathode short"},
    "pot": {"wiper lifted"},
}
"""What fails how: the job's list, and for electrolytics, diodes and grids what common practice
knows besides."""


def expected(circuit: Circuit, part: Part) -> set[str]:
    """The ways in which one part fails, from its line alone."""
    ways = set(WAYS[part.kind])
    ends = dict(part.terminals)
    if part.kind == "capacitor" and "plus" in ends:
        ways.add("dried out")
    if part.kind == "pot":
        soldered = [end for end in ("top", "bottom") if ends[end] != "open"]
        ways |= {f"{end} broken off" for end in soldered}
        ways |= {"short from end to end"} if len(soldered) == 2 else set()
    if part.kind == "winding" and "centre" in ends:
        nodes = Counter(n for p in circuit.parts if p is not part for _, n in p.terminals)
        ways |= {"half from its start dead"} if nodes[ends["from"]] else set()
        beyond = {node for word, node in part.terminals if word in ("tap", "to")}
        ways |= {"half to its end dead"} if any(nodes[node] for node in beyond) else set()
    return ways


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_part_of_every_circuit_fails_in_every_way(file: Path) -> None:
    circuit = circuit_of(file.read_text(encoding="utf-8"))
    found = [(one.part, one.mode.value) for one in failures_of(Section(circuit))]
    wanted = [(p.name, way) for p in circuit.parts for way in sorted(expected(circuit, p))]
    assert len(found) == len(set(found))
    assert sorted(found) == sorted(wanted)
    order = [part.name for part in circuit.parts]
    assert [order.index(name) for name, _ in found] == sorted(order.index(n) for n, _ in found)


@pytest.mark.parametrize("text", [MAINS, COUPLED, FOOT_RHEOSTAT, HIGH_TENSION])
def test_of_sections_written_here_too(text: str) -> None:
    circuit = circuit_of(text)
    found = {(one.part, one.mode.value) for one in failures_of(Section(circuit))}
    assert found == {(p.name, way) for p in circuit.parts for way in expected(circuit, p)}


def test_every_kind_of_part_is_known() -> None:
    """A kind added to the language must be given its ways."""
    kinds = {cls.kind for cls in Part.__subclasses__()}
    assert kinds == set(WAYS)


def test_what_is_said_of_a_failure() -> None:
    words = [one.words for one in failures_of(Section(circuit_of(MAINS)))]
    assert {"R3 open", "RV1 wiper lifted", "C1 leaky (10k)", "T1 dead"} <= set(words)
