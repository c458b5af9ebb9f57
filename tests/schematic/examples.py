"""Circuits that are drawn in these tests, and what is written into them."""

from __future__ import annotations

import functools

from netcheck.files import read_source
from netcheck.graph import Section
from netcheck.netlist import Circuit
from netcheck.parse import parse_circuit
from netcheck.resources import folder
from netcheck.schematic import Drawing, Entry, Mark, Notes, layout
from netcheck.source import Source

SHIPPED = sorted(path.stem for path in folder("circuits").glob("*.bias"))
FAULTY = sorted(path.stem for path in (folder("circuits") / "faulty").glob("*.bias"))
_ALTERNATING = {"tap", "feed", "ac", "ac1", "ac2", "pump", "couple", "ht1", "ht2"}


def circuit_of(text: str) -> Circuit:
    """The circuit in a text without errors."""
    circuit, findings = parse_circuit(Source("test.bias", text))
    assert circuit is not None, [finding.what for finding in findings]
    return circuit


@functools.cache
def example(name: str) -> Circuit:
    """A circuit that is shipped, or one of those that are faulty."""
    place = folder("circuits") / f"{name}.bias"
    if not place.is_file():
        place = folder("circuits") / "faulty" / f"{name}.bias"
    circuit, _ = parse_circuit(read_source(str(place)))
    assert circuit is not None
    return circuit


def section(name: str) -> Section:
    return Section(example(name))


def volts_only(circuit: Circuit) -> Notes:
    """The voltages that a drawing usually holds: as long as they get."""
    return Notes({node: "48.0 Vac" if node in _ALTERNATING else "-40.8 to -30.2 V"
                  for node in circuit.nodes})  # fmt: skip


def crowded(circuit: Circuit) -> Notes:
    """As much as can stand in a drawing: readings everywhere, every other part marked."""
    parts = [part.name for part in circuit.parts]
    lines = ["read -26.1 V cw", "read -37.8 V acw", "read -31.7 V middle", "read -30.0 V 40 %"]
    return Notes(
        volts=volts_only(circuit).volts,
        readings={node: lines[: 1 + k % 4] for k, node in enumerate(circuit.nodes)},
        part_readings={name: ["read 20.2k in place"] for name in parts[::3]},
        marks={name: Mark((k + 1, 12), "over 99 %" if k % 2 else "")
               for k, name in enumerate(parts[::2])},
        legend=[Entry("R3 acts as 20.2k where 27k is drawn (over 99 % sure).", 1)],
    )  # fmt: skip


WRITTEN = {"bare": lambda _: Notes(), "volts": volts_only, "crowded": crowded}
"""What is written into a drawing, by how much it is."""


@functools.cache
def drawn(name: str, written: str = "bare") -> Drawing:
    """An example, laid out."""
    return layout(section(name), WRITTEN[written](example(name)))
