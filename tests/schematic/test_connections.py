"""What is drawn says what the circuit says: read back from lines and dots alone.

How wires cross and join is that of IEC 61082-1: lines that cross are not connected unless a dot
stands there; where a line ends on another, the dot is asked for too.
"""

from __future__ import annotations

import dataclasses
import random
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings

from netcheck.entry.pieces import Arrangement
from netcheck.entry.templates import ARRANGEMENTS
from netcheck.graph import Section
from netcheck.netlist import (
    GROUND,
    OPEN,
    Capacitor,
    Circuit,
    Diode,
    Link,
    Mains,
    Part,
    Pot,
    Resistor,
    Supply,
    Tremolo,
    Valve,
    Winding,
    Zener,
)
from netcheck.schematic import Drawing, layout
from netcheck.schematic.notes import NOTHING
from netcheck.schematic.proof import faults, is_sound
from netcheck.schematic.shelves import on_shelves

from ..entry.test_templates import built
from ..graph.sections import SOUND, parsed
from ..language.strategies import circuits
from ..travel.random_sections import sections
from .examples import FAULTY, SHIPPED, WRITTEN, circuit_of, crowded, drawn, example
from .reading import doubtful, meant, read, touching


def check(drawing: Drawing, circuit: Circuit) -> None:
    """A drawing shows each part once, joined as in the circuit, and nothing is in doubt."""
    drawn = sorted(symbol.part for symbol in drawing.symbols if symbol.part)
    assert drawn == sorted(part.name for part in circuit.parts)
    assert read(drawing) == meant(circuit)
    assert list(doubtful(drawing)) == []
    assert list(touching(drawing)) == []
    for wire in drawing.wires:
        assert wire.x1 == wire.x2 or wire.y1 == wire.y2
        assert (wire.x1, wire.y1) < (wire.x2, wire.y2)


@pytest.mark.parametrize("name", [*SHIPPED, *FAULTY])
def test_examples(name: str) -> None:
    circuit = example(name)
    for written in WRITTEN:
        check(drawn(name, written), circuit)


@pytest.mark.parametrize("name", SOUND)
def test_arrangements_of_the_trade(name: str) -> None:
    circuit = parsed(SOUND[name].text)
    check(layout(Section(circuit)), circuit)


@pytest.mark.parametrize("kind", ARRANGEMENTS, ids=lambda kind: kind.key)
def test_what_the_dialog_writes(kind: Arrangement) -> None:
    circuit = built(kind)
    check(layout(Section(circuit)), circuit)


@settings(max_examples=40)
@given(sections())
def test_random_sections(text: str) -> None:
    circuit = circuit_of(text)
    check(layout(Section(circuit)), circuit)


@settings(max_examples=80, suppress_health_check=list(HealthCheck))
@given(circuits())
def test_anything_that_can_be_typed(circuit: Circuit) -> None:
    check(layout(Section(circuit)), circuit)


# ------------------------------------------------------------------- odd on purpose


def altered(seed: int) -> Circuit:
    """An example to which somebody has soldered some parts, anywhere."""
    draw = random.Random(seed)
    circuit = example(draw.choice(SHIPPED))
    parts = list(circuit.parts)
    nodes = [*circuit.nodes, GROUND, GROUND]
    for k in range(draw.randint(1, 5)):
        parts.append(any_part(draw, f"X{k}", nodes))
    if seed % 3 == 0:
        draw.shuffle(parts)
    return dataclasses.replace(circuit, parts=tuple(parts))


def any_part(draw: random.Random, name: str, nodes: list[str]) -> Part:
    a, b, c = (draw.choice(nodes) for _ in range(3))
    kind = draw.choice("rrrrcccdzlpvtws")
    made: dict[str, Callable[[], Part]] = {
        "r": lambda: Resistor(name=name, start=a, end=b, r=10e3, power=0.5),
        "c": lambda: Capacitor(name=name, start=a, end=b, c=1e-6, polarised=draw.random() < 0.5),
        "d": lambda: Diode(name=name, anode=a, cathode=b),
        "z": lambda: Zener(name=name, anode=a, cathode=b, v_zener=47.0),
        "l": lambda: Link(name=name, start=a, end=b),
        "p": lambda: Pot(name=name, top=draw.choice([a, OPEN]), wiper=b, bottom=c, r=10e3),
        "v": lambda: Valve(name=name, type="EL34", grid=a),
        "t": lambda: Tremolo(name=name, start=a, end=b, v_pp=30.0, frequency=4.0),
        "w": lambda: Winding(name=name, start=a, end=b, v_rms=40.0,
                             centre=c if draw.random() < 0.3 else None),
        "s": lambda: Supply(name=name, plus=a, minus=b, v=42.0),
    }  # fmt: skip
    return made[kind]()


def anything(seed: int, parts: int, nodes: int) -> Circuit:
    """Parts between nodes, all drawn by lot."""
    draw = random.Random(seed)
    names = [f"n{k}" for k in range(nodes)] + [GROUND] * (nodes // 2)
    return Circuit(
        "by lot",
        Mains(230.0, 50.0),
        tuple(any_part(draw, f"P{k}", names) for k in range(parts)),
        elsewhere=tuple(dict.fromkeys(name for name in names[:nodes] if draw.random() < 0.1)),
    )


def test_examples_with_more_soldered_in() -> None:
    """Most are drawn as by hand; the others, on shelves, are right too."""
    plain = 0
    for seed in range(24):
        circuit = altered(seed)
        drawing = layout(Section(circuit))
        check(drawing, circuit)
        plain += drawing == on_shelves(circuit, NOTHING)
    assert plain <= 2


@pytest.mark.parametrize("parts", [1, 2, 4, 8, 16, 40])
@pytest.mark.parametrize("seed", range(4))
def test_parts_by_lot(seed: int, parts: int) -> None:
    circuit = anything(seed, parts, max(1, parts // 2))
    check(layout(Section(circuit)), circuit)
    check(on_shelves(circuit, crowded(circuit)), circuit)


def test_very_many_parts() -> None:
    circuit = anything(7, 150, 60)
    check(layout(Section(circuit)), circuit)


def test_no_parts_at_all() -> None:
    drawing = layout(Section(Circuit("", None, ())))
    assert not drawing.symbols
    assert not drawing.wires


ODD = {
    "a ring": "resistor R1 from a to b 1k\nresistor R2 from b to c 1k\nresistor R3 from c to a 1k\n"
    "resistor R4 from a to ground 1k\n",
    "three in parallel": "supply S1 plus ground minus a 40 V\nresistor R1 from a to b 1k\n"
    "resistor R2 from b to a 1k\nresistor R3 from a to b 1k\nresistor R4 from b to ground 1k\n",
    "between ground and ground": "resistor R1 from ground to ground 1k\n"
    "resistor R2 from a to ground 1k\nresistor R3 from a to ground 1k\n",
    "all of a pot grounded": "pot RV1 top ground wiper ground bottom ground 10k\n"
    "resistor R1 from a to ground 1k\nresistor R2 from a to ground 1k\n",
    "no source, only elsewhere": "elsewhere in\nresistor R1 from in to a 1k\n"
    "pot RV1 top a wiper g bottom ground 10k\nvalve V1 EL84 grid g\n",
    "links in a row": "supply S1 plus ground minus a 40 V\nlink W1 from a to b\nlink W2 from b to c\n"
    "link W3 from c to a\nresistor R1 from c to ground 1k\n",
    "a grid at ground": "valve V1 EL84 grid ground\nresistor R1 from a to ground 1k\n"
    "resistor R2 from a to ground 1k\n",
    "two grids on one node": "supply S1 plus ground minus a 10 V\nresistor R1 from a to g 1k\n"
    "valve V1 EL84 grid g\nvalve V2 EL84 grid g\nvalve V3 EL84 grid g\n",
    "a tremolo and a switch": "supply S1 plus ground minus a 40 V\nresistor R1 from a to b 1k\n"
    "tremolo OSC from ground to osc 30 Vpp 4 Hz source 100k\nlink W1 from osc to dry\n"
    "capacitor C1 from dry to b 100n\nresistor R2 from b to g 1k\nvalve V1 EL84 grid g\n",
    "a winding with both ends grounded": "mains 230 V 50 Hz\n"
    "winding T1 from ground centre a to ground 40-0-40 Vac\nresistor R1 from a to ground 1k\n",
}


@pytest.mark.parametrize("name", ODD)
def test_odd_ones(name: str) -> None:
    circuit = circuit_of(ODD[name])
    check(layout(Section(circuit)), circuit)
    check(on_shelves(circuit, NOTHING), circuit)


# ------------------------------------------------------------------- the proof itself


@pytest.mark.parametrize("name", SHIPPED)
def test_the_proof_says_the_same(name: str) -> None:
    """The layout's own proof, by which it falls back, agrees with what is read here."""
    circuit = example(name)
    assert is_sound(drawn(name), circuit)


def test_the_proof_sees_what_is_wrong() -> None:
    circuit = example("two-6v6gt-foot")
    drawing = layout(Section(circuit))
    for k, wire in enumerate(drawing.wires):
        rest = drawing.wires[:k] + drawing.wires[k + 1 :]
        less = dataclasses.replace(drawing, wires=rest)
        assert any("join other" in fault for fault in faults(less, circuit)), wire
        assert read(less) != meant(circuit)
    bare = dataclasses.replace(drawing, dots=())
    assert any("join other" in fault for fault in faults(bare, circuit))
    moved = dataclasses.replace(drawing.wires[0], node="other")
    crossed = dataclasses.replace(drawing, wires=(*drawing.wires, moved))
    assert any("touch" in fault for fault in faults(crossed, circuit))
    twice = dataclasses.replace(drawing, texts=(*drawing.texts, drawing.texts[0]))
    assert any("overlap" in fault for fault in faults(twice, circuit))
    fewer = dataclasses.replace(drawing, symbols=drawing.symbols[1:])
    assert any("once" in fault for fault in faults(fewer, circuit))
