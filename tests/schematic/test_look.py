"""It looks as a technician draws it: supply left, grids right, ground below, the pot upright.

Common practice of the trade's service sheets, no source.
"""

from __future__ import annotations

import dataclasses
import random

import pytest

from netcheck.graph import Section
from netcheck.netlist import GROUND, Diode, Pot, Supply, Valve, Winding
from netcheck.roles import Role, roles
from netcheck.schematic import Drawing, Pin, Symbol, layout

from .examples import SHIPPED, drawn, example, section

EVERY = pytest.mark.parametrize("name", SHIPPED)


def symbols(drawing: Drawing) -> dict[str, Symbol]:
    return {symbol.part: symbol for symbol in drawing.symbols if symbol.part}


def pin(symbol: Symbol, index: int) -> Pin:
    return next(pin for pin in symbol.pins if pin.index == index)


def in_role(name: str, role: Role) -> list[str]:
    return [part for part, is_for in roles(section(name)).items() if is_for is role]


@EVERY
def test_source_left_valves_right(name: str) -> None:
    found, circuit = symbols(drawn(name)), example(name)
    sources = [found[p.name] for p in circuit.parts if isinstance(p, Winding | Supply)]
    valves = [found[p.name] for p in circuit.of(Valve)]
    others = [s for s in found.values() if s not in sources and s not in valves]
    assert max(s.x for s in sources) < min(s.x for s in others)
    assert max(s.x for s in others) < min(s.x for s in valves)
    assert len({s.x for s in valves}) == 1  # one below the other


@EVERY
def test_rectifier_between_source_and_pot(name: str) -> None:
    found, circuit = symbols(drawn(name)), example(name)
    diodes = [found[p.name].x for p in circuit.of(Diode)]
    behind = [found[p.name].x for p in circuit.of(Pot)]
    behind += [found[p.name].x for p in circuit.of(Valve)]
    assert max(diodes, default=-1e9) < min(behind)


@EVERY
def test_pots_stand_upright_with_their_foot_below(name: str) -> None:
    found, circuit = symbols(drawn(name)), example(name)
    for pot in circuit.of(Pot):
        shown = found[pot.name]
        assert shown.angle == 90, "the top end is on top, as the file has it"
        assert pin(shown, 0).y < shown.y < pin(shown, 2).y
    for foot in in_role(name, Role.FOOT):
        shown = found[foot]
        assert shown.angle in (90, 270)
        assert all(shown.y > found[pot.name].y for pot in circuit.of(Pot))


@EVERY
def test_signs_for_ground_point_down_below_what_they_are_of(name: str) -> None:
    drawing = drawn(name)
    signs = [s for s in drawing.symbols if s.shape == "ground"]
    assert signs
    for sign in signs:
        assert sign.angle == 90
        assert sign.box.top > sign.y
    upright = [s for s in drawing.symbols if s.part and s.angle in (90, 270)]
    assert max(s.box.bottom for s in upright) < max(sign.box.bottom for sign in signs)
    for symbol in drawing.symbols:
        for one in symbol.pins:
            if symbol.part and one.node == GROUND and one.dy > 0:
                assert any(sign.x == one.x and sign.y >= one.y for sign in signs)


@EVERY
def test_the_clockwise_end_is_marked(name: str) -> None:
    """The mark stands beside the end that is named clockwise in the file, nearer than any other."""
    drawing, circuit = drawn(name), example(name)
    found = symbols(drawing)
    for pot in circuit.of(Pot):
        (mark,) = [t for t in drawing.texts if t.text == "cw" and t.part == pot.name]
        end = pin(found[pot.name], 0 if pot.clockwise == "top" else 2)
        other = pin(found[pot.name], 2 if pot.clockwise == "top" else 0)
        middle = (mark.box.top + mark.box.bottom) / 2
        assert abs(middle - end.y) < abs(middle - other.y)
        assert abs(middle - end.y) < 12
        assert abs(mark.box.left - end.x) < 12 or abs(mark.box.right - end.x) < 12


@EVERY
def test_reservoirs_and_their_like_hang_upright_in_one_line(name: str) -> None:
    found = symbols(drawn(name))
    hung = [found[p] for role in (Role.RESERVOIR, Role.SMOOTHING) for p in in_role(name, role)]
    assert all(s.angle in (90, 270) for s in hung)
    assert len({s.y for s in hung if s.pins[0].node == GROUND}) <= 1


@EVERY
def test_the_negative_side_is_above(name: str) -> None:
    """The plus of an electrolytic that is joined to ground is below."""
    for symbol in drawn(name).symbols:
        if symbol.shape == "electrolytic" and pin(symbol, 0).node == GROUND:
            assert pin(symbol, 0).y > pin(symbol, 1).y


@EVERY
def test_the_way_to_the_pot_is_a_straight_line(name: str) -> None:
    """The series parts from the rectifier on lie in the row of the supply."""
    found = symbols(drawn(name))
    rows = {found[p].y for p in in_role(name, Role.SERIES) if found[p].angle in (0, 180)}
    drops = {found[p].y for p in in_role(name, Role.DROPPER) if found[p].angle in (0, 180)}
    assert len(rows | drops) <= (2 if "balance" in name else 1)


def test_balance_pot_between_its_branches() -> None:
    found = symbols(drawn("two-el34-balance"))
    assert found["R5"].x == found["R6"].x
    assert found["V1"].y < found["RV2"].y < found["V2"].y
    assert found["RV2"].y < found["RV1"].y < found["R3"].y < found["V2"].y
    assert found["C3"].x == found["C4"].x


def test_a_pot_for_each_valve_in_its_row() -> None:
    found = symbols(drawn("four-6l6gc-pot-per-valve"))
    for k in "1234":
        assert found[f"RV{k}"].y == found[f"R1{k}"].y == found[f"V{k}"].y
        assert found[f"R5{k}"].y < found[f"RV{k}"].y
    assert found["R3"].y > found["RV4"].y


def test_bridge_in_two_legs() -> None:
    found = symbols(drawn("two-7591-bridge"))
    assert found["D1"].x == found["D3"].x < found["D2"].x == found["D4"].x
    assert found["D1"].y < found["T1"].y < found["D3"].y
    assert found["D3"].y == found["D4"].y


def test_full_wave_in_two_rows() -> None:
    found = symbols(drawn("two-kt88-full-wave"))
    assert found["D1"].x == found["D2"].x
    assert found["D1"].y < found["T1"].y < found["D2"].y


def test_doubler_as_a_chain() -> None:
    found = symbols(drawn("two-el84-doubler"))
    assert found["C1"].angle in (0, 180)
    assert found["D1"].angle in (90, 270)
    assert found["C1"].x < found["D1"].x < found["D2"].x < found["C2"].x


def test_safety_resistor_stands_on_the_wiper() -> None:
    found = symbols(drawn("two-6v6gt-foot"))
    assert pin(found["R6"], 1).y <= pin(found["RV1"], 1).y
    assert found["RV1"].x < found["R6"].x < found["C2"].x < found["R4"].x
    assert found["R4"].x == found["R5"].x
    assert found["R4"].y < found["R5"].y


def test_zener_across_the_supply() -> None:
    found = symbols(drawn("two-el34-zener"))
    assert found["Z1"].angle in (90, 270)
    assert found["R2"].x < found["Z1"].x < found["R7"].x < found["RV1"].x


def test_winding_lies_as_its_terminals_do() -> None:
    """On the winding of 340-0-340 V the tap lies between the centre and the end it counts to."""
    shown = symbols(drawn("two-6l6gc-ht-tap"))["T1"]
    ys = [pin(shown, k).y for k in range(4)]  # from, centre, tap, to
    assert ys in (sorted(ys), sorted(ys, reverse=True))
    arrows = [s for s in drawn("two-6l6gc-ht-tap").symbols if s.shape == "arrow"]
    assert {s.pins[0].node for s in arrows} == {"ht1", "ht2"}


def test_crossings_are_few() -> None:
    """Lines cross where they must: in the bridge once, for three of four pots, nowhere else."""
    allowed = {"two-7591-bridge": 1, "four-6l6gc-pot-per-valve": 3}
    for name in SHIPPED:
        wires = drawn(name).wires
        count = sum(
            a.node != b.node and a.y1 < b.y1 < a.y2 and b.x1 < a.x1 < b.x2
            for a in wires for b in wires
        )  # fmt: skip
        assert count <= allowed.get(name, 0), name


def test_order_of_lines_makes_no_mess() -> None:
    """Another order in the file may change which branch is above, but not the spine."""
    circuit = example("two-6v6gt-foot")
    for seed in range(5):
        parts = list(circuit.parts)
        random.Random(seed).shuffle(parts)
        found = symbols(layout(Section(dataclasses.replace(circuit, parts=tuple(parts)))))
        spine = [found[name].x for name in ("T1", "R1", "D1", "R2", "RV1", "R6", "R4", "V1")]
        assert spine == sorted(spine)
        assert found["R1"].y == found["D1"].y == found["R2"].y
        assert found["RV1"].x == found["R3"].x
