"""Nothing lies on anything else, and the whole can be read on a sheet of paper."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.graph import Section
from netcheck.report.schematicshapes import paths
from netcheck.schematic import Box, Symbol, layout, lettering
from netcheck.schematic.shelves import on_shelves
from netcheck.schematic.symbols import SHAPES, symbol

from ..graph.sections import SOUND, parsed
from .examples import FAULTY, SHIPPED, WRITTEN, crowded, drawn, example, section, volts_only
from .outlines import points_of
from .reading import crowding

_A4 = 1120.0, 700.0
"""On a sheet of A4 across, letters of 12 units are then some 8 points high. [unit]"""


@pytest.mark.parametrize("name", [*SHIPPED, *FAULTY])
@pytest.mark.parametrize("written", WRITTEN)
def test_nothing_lies_on_anything(name: str, written: str) -> None:
    drawing = drawn(name, written)
    assert list(crowding(drawing)) == []
    box = drawing.box
    for other in (*(t.box for t in drawing.texts), *(s.box for s in drawing.symbols)):
        assert box.left <= other.left <= other.right <= box.right
        assert box.top <= other.top <= other.bottom <= box.bottom


@pytest.mark.parametrize("name", SOUND)
def test_nor_in_other_arrangements(name: str) -> None:
    circuit = parsed(SOUND[name].text)
    assert list(crowding(layout(Section(circuit), volts_only(circuit)))) == []


@pytest.mark.parametrize("name", SHIPPED)
def test_nor_on_shelves(name: str) -> None:
    circuit = example(name)
    assert list(crowding(on_shelves(circuit, crowded(circuit)))) == []


@pytest.mark.parametrize("name", SHIPPED)
def test_it_fits_on_a_sheet(name: str) -> None:
    box = drawn(name, "volts").box
    assert box.right - box.left <= _A4[0]
    assert box.bottom - box.top <= _A4[1]
    assert box.right - box.left > 300


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_ones_are_drawn_as_by_hand(name: str) -> None:
    circuit = example(name)
    for written, notes in WRITTEN.items():
        assert drawn(name, written) != on_shelves(circuit, notes(circuit))


def test_a_wide_one_is_folded() -> None:
    one = section("four-el34-foot")
    notes = volts_only(one.circuit)
    folded, plain = layout(one, notes), layout(one, notes, folds=False)
    assert folded.box.right < plain.box.right
    assert any(text.text == "-40.8 to" for text in folded.texts)
    assert any(text.text == "-40.8 to -30.2 V" for text in plain.texts)
    assert not any(text.text.endswith(" to") for text in plain.texts)


def test_room_depends_on_what_is_written() -> None:
    one = section("two-6v6gt-foot")
    bare = layout(one).box
    full = layout(one, crowded(one.circuit)).box
    assert full.right - full.left > bare.right - bare.left
    assert full.bottom - full.top > bare.bottom - bare.top


@pytest.mark.parametrize("name", SHIPPED)
def test_labels_stand_beside_what_they_are_of(name: str) -> None:
    """A value is no further from its symbol than from any other, a voltage touches its wire."""
    drawing = drawn(name, "volts")
    bodies = {s.part: s.box for s in drawing.symbols if s.part}
    for text in drawing.texts:
        if text.part:
            own = _gap(text.box, bodies[text.part])
            assert own <= 40
            assert all(own <= _gap(text.box, box) for box in bodies.values())
    nearest: dict[str, float] = {}
    for text in drawing.texts:
        if text.node:
            gaps = [_gap(text.box, w.box) for w in drawing.wires if w.node == text.node]
            gaps += [_gap(text.box, s.box) for s in drawing.symbols
                     if s.shape == "arrow" and s.pins[0].node == text.node]  # fmt: skip
            gap = min(gaps)
            nearest[text.node] = min(nearest.get(text.node, gap), gap)
            others = [_gap(text.box, w.box) for w in drawing.wires if w.node != text.node]
            assert min(others) > 0
    assert all(gap <= 8 for gap in nearest.values()), nearest


def _gap(one: Box, two: Box) -> float:
    """The distance between two boxes."""
    dx = max(one.left - two.right, two.left - one.right, 0.0)
    dy = max(one.top - two.bottom, two.top - one.bottom, 0.0)
    return float((dx * dx + dy * dy) ** 0.5)


# ------------------------------------------------------------------------- the symbols


def _one_of_each() -> dict[str, Symbol]:
    """A symbol of each shape, out of the examples."""
    found: dict[str, Symbol] = {}
    for name in (*SHIPPED, *FAULTY):
        for one in drawn(name).symbols:
            found.setdefault(one.shape, one)
    circuit = parsed(
        'circuit "x"\nmains 230 V 50 Hz\nwinding T1 from ground to a 40 Vac\n'
        "tremolo OSC from ground to b 30 Vpp 4 Hz\nresistor R1 from a to b 1k\n"
        "capacitor C1 from a to b 100n\nlink W1 from a to b\nzener Z1 anode a cathode b 10 V\n"
    )
    for one in layout(Section(circuit)).symbols:
        found.setdefault(one.shape, one)
    return found


def test_every_shape_is_drawn_within_its_box() -> None:
    found = _one_of_each()
    assert set(found) == set(SHAPES)
    for shape, one in found.items():
        spots = [_placed(one, point) for data in paths(one) for point in points_of(data)]
        leads = around_pins(one)
        for x, y in spots:
            assert one.box.grown(0.6).holds(x, y) or leads.grown(0.6).holds(x, y), (shape, x, y)
        for pin in one.pins:
            assert any(abs(pin.x - x) < 0.01 and abs(pin.y - y) < 0.01 for x, y in spots), shape


def around_pins(one: Symbol) -> Box:
    """The ways of the leads: from the terminals to the middle, a little wider than they are."""
    xs = [one.x, *(pin.x for pin in one.pins)]
    ys = [one.y, *(pin.y for pin in one.pins)]
    return Box(min(xs), min(ys), max(xs), max(ys))


def _placed(one: Symbol, point: tuple[float, float]) -> tuple[float, float]:
    x, y = point
    y = -y if one.mirror else y
    for _ in range(one.angle // 90):
        x, y = -y, x
    return one.x + x, one.y + y


def test_a_symbol_turned_keeps_its_terminals_in_order() -> None:
    part = example("two-6v6gt-foot").part("RV1")
    assert part is not None
    for angle, mirror in itertools.product((0, 90, 180, 270), (False, True)):
        one = symbol(part, 100.0, 50.0, angle, mirror=mirror)
        assert [pin.node for pin in one.pins] == ["head", "sweep", "foot"]
        assert one.box.holds(one.x, one.y)
        for pin in one.pins:
            assert not one.box.holds(pin.x, pin.y)
            # The way out leads away from the middle.
            assert (pin.x - one.x) * pin.dx + (pin.y - one.y) * pin.dy > 0


# ----------------------------------------------------------------------------- letters


def test_width_of_a_line() -> None:
    assert lettering.width("", "value") == 0
    assert lettering.width("27k", "value") < lettering.width("27kk", "value")
    assert lettering.width("27k", "value") < lettering.width("27k", "part")  # which is bold
    assert lettering.width("\u4e2d", "value") == lettering.SIZES["value"]
    assert not lettering.is_known("\u4e2d")
    assert lettering.is_known("-40.8 to -30.2 V +2 more & <b>")


@given(st.text(max_size=60), st.floats(20, 300))
def test_wrapped_lines_fit_and_lose_nothing(text: str, room: float) -> None:
    lines = lettering.wrapped(text, "legend", room)
    assert "".join(lines).replace(" ", "") == "".join(text.split())
    for line in lines:
        assert lettering.width(line, "legend") <= room or len(line) == 1


@settings(max_examples=50)
@given(st.text(max_size=80), st.floats(30, 300))
def test_shortened_lines_fit(text: str, room: float) -> None:
    line = lettering.shortened(text, "node", room)
    assert lettering.width(line, "node") <= room
    assert line == text or line.endswith("...")


def test_what_cannot_be_drawn_is_left_out() -> None:
    assert lettering.printable("a\x00\x1b[31m\u202eb\ud800\n") == "a  [31m b"
