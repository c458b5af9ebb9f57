"""Circuits, lines and texts for property tests of the language."""

from __future__ import annotations

import functools
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from netcheck.bands import read_bands, write_bands
from netcheck.netlist import (
    GROUND,
    OPEN,
    Capacitor,
    Circuit,
    Diode,
    HighTension,
    IdleReading,
    Link,
    Mains,
    Part,
    Pot,
    Resistor,
    Supply,
    Tap,
    Tremolo,
    Valve,
    Winding,
    Zener,
)
from netcheck.parse import Elsewhere, Entry, Line, Title
from netcheck.parse import slots as known
from netcheck.parse.slots import Slot
from netcheck.valves import known_types

# Names of the trade, key words, what looks like a value, letters of other alphabets.
ODD_NODES = (
    *("raw", "grid1", "B+", "-50V", "12V", "4k7", "tap", "to", "plus", "valve", "note", "1"),
    *(
        "k\u00e9bl",
        "\u0437\u0435\u043c\u043b\u044f",
        "\u4e2d",
        "a.b/c",
        "(x)",
        "=",
        "$1",
        "%",
        "x'",
    ),
)
_NAME_SIGNS = st.characters(
    codec="utf-8",
    categories=("L", "N", "P", "S"),
    exclude_characters='#",;',
)
_TEXT_SIGNS = st.characters(codec="utf-8", exclude_characters='"\n\r')


def names() -> st.SearchStrategy[str]:
    """Names that a part or a node can have."""
    return st.sampled_from(ODD_NODES) | st.text(_NAME_SIGNS, min_size=1, max_size=8)


def part_names() -> st.SearchStrategy[str]:
    """Names that a part can have."""
    return names().filter(lambda name: not set(name) & set(".@") and name.lower() != "mains")


def texts() -> st.SearchStrategy[str]:
    """Texts that can stand in quotes, a # among them."""
    return st.sampled_from(["", "#", "a # b", " ", "\t", "it's"]) | st.text(
        _TEXT_SIGNS, max_size=12
    )


def comments() -> st.SearchStrategy[str]:
    """Comments as they are kept: without blanks at their ends."""
    return st.text(_TEXT_SIGNS, max_size=12).map(str.strip) | st.sampled_from(["# x", '"', "--"])


@functools.cache
def within(slot: Slot) -> st.SearchStrategy[float]:
    """Values that a quantity can have: round ones, and any float."""
    round_ones = [
        float(value)
        for figures in ("1", "2.2", "4.7", "47.5", "1.234567")
        for power in range(-13, 13)
        for value in (Decimal(figures).scaleb(power), -Decimal(figures).scaleb(power))
        if slot.low <= value <= slot.high
    ]
    return st.sampled_from(round_ones) | st.floats(slot.low, slot.high)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """None, or something."""
    return st.none() | strategy


def _zero_or(slot: Slot) -> st.SearchStrategy[float]:
    return st.just(0.0) | within(slot)


class Nodes:
    """Node names of one circuit, no two of them alike but for capitals.

    Parameters
    ----------
    names : list of str
        Any names.
    """

    def __init__(self, names: list[str]) -> None:
        by_lower = {name.lower(): name for name in names}
        reserved = {GROUND, OPEN, "gnd", "earth", "chassis", "0v", "0"}
        self.names = [GROUND, *(each for low, each in by_lower.items() if low not in reserved)]

    def one(self) -> st.SearchStrategy[str]:
        """One of them."""
        return st.sampled_from(self.names)


@st.composite
def _resistor(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Resistor:
    ends = {"start": draw(node), "end": draw(node)}
    rest = {"power": draw(maybe(within(known.POWER))), "v_rated": draw(maybe(within(known.RATING)))}
    if draw(st.booleans()):
        tolerance = draw(st.sampled_from([0.01, 0.02, 0.05, 0.1, 0.2]))
        bands = write_bands(draw(st.sampled_from([4.7, 10.0, 4700.0, 68e3, 1e6])), tolerance)
        r, by_band = read_bands(bands)
        stated = draw(st.just(by_band) | within(known.TOLERANCE)) if len(bands) == 3 else by_band
        return Resistor(**common, **ends, **rest, r=float(r), bands=bands, tolerance=stated)
    return Resistor(**common, **ends, **rest, r=draw(within(known.RESISTANCE)),
                    tolerance=draw(maybe(within(known.TOLERANCE))))  # fmt: skip


@st.composite
def _winding(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Winding:
    v_rms = draw(within(known.WINDING_VOLTS))
    below = st.floats(known.WINDING_VOLTS.low, v_rms, exclude_max=True)
    taps = [] if v_rms == known.WINDING_VOLTS.low else draw(st.lists(below, max_size=2))
    source = draw(maybe(within(known.SOURCE)))
    return Winding(
        **common,
        start=draw(node),
        end=draw(node),
        centre=draw(maybe(node)),
        v_rms=v_rms,
        taps=tuple(Tap(draw(node), volts) for volts in sorted(taps)),
        i_load=None if source is None else draw(maybe(within(known.LOAD))),
        r_source=source,
        tolerance=draw(maybe(within(known.TOLERANCE))),
    )


@st.composite
def _capacitor(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Capacitor:
    rated = draw(maybe(within(known.RATING)))
    i_leak = None if rated is None else draw(maybe(within(known.LEAK_CURRENT)))
    return Capacitor(
        **common,
        start=draw(node),
        end=draw(node),
        c=draw(within(known.CAPACITANCE)),
        polarised=draw(st.booleans()),
        tolerance=draw(maybe(within(known.TOLERANCE))),
        v_rated=rated,
        esr=draw(_zero_or(known.ESR)),
        i_leak=i_leak,
        r_leak=draw(maybe(within(known.LEAK_RESISTANCE))) if i_leak is None else None,
    )


@st.composite
def _diode(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Diode:
    return Diode(
        **common,
        anode=draw(node),
        cathode=draw(node),
        material=draw(st.sampled_from(["silicon", "selenium", "vacuum"])),
        v_reverse=draw(maybe(within(known.RATING))),
        type=draw(maybe(st.sampled_from(["1N4007", "BY127", "6AL5"]))),
        v_drop=draw(maybe(within(known.DROP))),
        r_series=draw(maybe(within(known.SERIES))),
    )


@st.composite
def _pot(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Pot:
    taper = draw(st.sampled_from(["linear", "audio", "reverse audio"]))
    r = draw(within(known.RESISTANCE))
    largest = min(known.END.high, known.END_SHARE.high * r)
    ends = st.none() if largest <= known.END.low else maybe(st.floats(known.END.low, largest))
    end = st.just(OPEN) | node
    return Pot(
        **common,
        top=draw(end),
        wiper=draw(node),
        bottom=draw(end),
        r=r,
        tolerance=draw(maybe(within(known.TOLERANCE))),
        power=draw(maybe(within(known.POWER))),
        taper=taper,
        mid=None if taper == "linear" else draw(maybe(within(known.MID))),
        clockwise=draw(st.sampled_from(["top", "bottom"])),
        r_end=draw(ends),
    )


@st.composite
def _valve(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Valve:
    reading = st.builds(IdleReading, within(known.DRAWN), within(known.DRAWN_AT))
    return Valve(
        **common,
        type=draw(st.sampled_from(known_types())),
        grid=draw(node),
        v_plate=draw(maybe(within(known.PLATE))),
        v_screen=draw(maybe(within(known.SCREEN))),
        r_cathode=draw(_zero_or(known.CATHODE)),
        readings=tuple(draw(st.lists(reading, max_size=2))),
    )


@st.composite
def _supply(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Supply:
    return Supply(**common, plus=draw(node), minus=draw(node), v=draw(within(known.SUPPLY_VOLTS)),
                  r_source=draw(_zero_or(known.SOURCE)),
                  tolerance=draw(maybe(within(known.TOLERANCE))))  # fmt: skip


@st.composite
def _zener(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Zener:
    return Zener(**common, anode=draw(node), cathode=draw(node),
                 v_zener=draw(within(known.ZENER_VOLTS)),
                 tolerance=draw(maybe(within(known.TOLERANCE))),
                 power=draw(maybe(within(known.POWER))),
                 r_zener=draw(maybe(within(known.SERIES))))  # fmt: skip


@st.composite
def _tremolo(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Tremolo:
    return Tremolo(**common, start=draw(node), end=draw(node),
                   v_pp=draw(within(known.TREMOLO_VOLTS)),
                   frequency=draw(within(known.TREMOLO_FREQUENCY)),
                   r_source=draw(_zero_or(known.TREMOLO_SOURCE)))  # fmt: skip


@st.composite
def _link(draw: st.DrawFn, common: dict[str, Any], node: Any) -> Link:
    return Link(**common, start=draw(node), end=draw(node))


BUILDERS: dict[type[Part], Callable[..., st.SearchStrategy[Any]]] = {
    Winding: _winding,
    Supply: _supply,
    Resistor: _resistor,
    Capacitor: _capacitor,
    Diode: _diode,
    Zener: _zener,
    Link: _link,
    Pot: _pot,
    Tremolo: _tremolo,
    Valve: _valve,
}
"""A strategy for each kind of part, given what all parts have and a strategy for nodes."""


@st.composite
def parts(draw: st.DrawFn, name: str, node: st.SearchStrategy[str]) -> Part:
    """A part of any kind with any of its fields."""
    common = {"name": name, "note": draw(maybe(texts())),
              "year": draw(maybe(st.integers(1900, 2100)))}  # fmt: skip
    part: Part = draw(BUILDERS[draw(st.sampled_from(list(BUILDERS)))](common, node))
    return part


def mains() -> st.SearchStrategy[Mains]:
    """A mains line."""
    volts = within(known.MAINS_VOLTS)
    return st.builds(Mains, volts, within(known.FREQUENCY), maybe(volts),
                     maybe(within(known.TOLERANCE)))  # fmt: skip


@st.composite
def high_tensions(draw: st.DrawFn) -> HighTension:
    """A line about the high tension, its source resistance stated or by two readings."""
    source = draw(maybe(within(known.HT_SOURCE)))
    readings = st.sampled_from(
        [(), ((402.0, 0.025), (390.5, 0.09)), ((300.0, 0.1), (310.0, 0.0333))]
    )
    return HighTension(
        r_source=source,
        i_stated=None if source is None else draw(maybe(within(known.HT_LOAD))),
        readings=draw(readings) if source is None else (),
        rectifier=draw(maybe(st.sampled_from(["silicon", "selenium", "vacuum"]))),
        standby=draw(st.booleans()),
    )


def _loose_ends(found: list[Part], nodes: Nodes) -> tuple[str, ...]:
    """Nodes of one part alone, which a circuit has to declare."""
    count: dict[str, int] = {}
    for part in found:
        for node in {node for _, node in part.terminals}:
            count[node] = count.get(node, 0) + 1
    return tuple(n for n in nodes.names if count.get(n) == 1 and n not in (GROUND, OPEN))


@st.composite
def circuits(draw: st.DrawFn) -> Circuit:
    """A circuit that holds together: one ground, mains where needed, no node alone."""
    nodes = Nodes(draw(st.lists(names(), min_size=1, max_size=6)))
    designators = draw(st.lists(part_names(), max_size=6, unique_by=str.lower))
    found = [draw(parts(name, nodes.one())) for name in designators]
    taken = {name.lower() for name in designators}
    spare = next(f"W{n}" for n in range(99) if f"w{n}" not in taken)
    found.append(Link(name=spare, start=GROUND, end=draw(nodes.one())))
    needs_mains = any(isinstance(part, Winding) for part in found)
    return Circuit(
        title=draw(texts()),
        mains=draw(mains()) if needs_mains else draw(maybe(mains())),
        parts=tuple(found),
        elsewhere=_loose_ends(found, nodes),
        high_tension=draw(maybe(high_tensions())),
    )


@st.composite
def lines(draw: st.DrawFn) -> list[Line]:
    """The lines of such a circuit in any order, with comments and empty lines between."""
    circuit = draw(circuits())
    entries: list[Entry] = [*circuit.parts]
    if circuit.title:
        entries.append(Title(circuit.title))
    entries += [e for e in (circuit.mains, circuit.high_tension) if e is not None]
    if circuit.elsewhere:
        entries.append(Elsewhere(circuit.elsewhere))
    found = [Line(entry, draw(maybe(comments()))) for entry in draw(st.permutations(entries))]
    for _ in range(draw(st.integers(0, 3))):
        extra = Line(None, draw(maybe(comments())))
        found.insert(draw(st.integers(0, len(found))), extra)
    return found
