"""The lines of a circuit file, turned into the parts of a circuit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from lark import Token, Tree

from ..bands import read_bands
from ..finding import Finding
from ..netlist import (
    OPEN,
    Capacitor,
    Diode,
    Link,
    Mains,
    Part,
    Pot,
    Resistor,
    Supply,
    Tap,
    Valve,
    Winding,
    Zener,
)
from ..quantity import Dimension, Quantity, ValueProblem
from ..source import Source
from ..valves import lookup, nearest
from .fields import Fields, Slot
from .lines import ParsedLine, token_span, tree_span, walk

_OHM, _FARAD, _VOLT, _VAC = Dimension.OHM, Dimension.FARAD, Dimension.VOLT, Dimension.VOLT_AC
_AMPERE, _WATT, _PERCENT, _HERTZ = (
    Dimension.AMPERE, Dimension.WATT, Dimension.PERCENT, Dimension.HERTZ,
)  # fmt: skip

_RESISTANCE = Slot("resistance", _OHM, 0.01, 1e9, "4k7 or 470 ohm")
_TOLERANCE = Slot("tolerance", _PERCENT, 0.0005, 0.9, "10%")
_POWER = Slot("power rating", _WATT, 0.02, 500.0, "0.5 W")
_RATING = Slot("voltage rating", _VOLT, 1.0, 10e3, "350 V")
_CAPACITANCE = Slot("capacitance", _FARAD, 1e-12, 0.1, "47 uF or 100n")
_WINDING_VOLTS = Slot("winding voltage", _VAC, 0.5, 2000.0, "48 Vac", (_VOLT,))
_LOAD = Slot("load current", _AMPERE, 1e-6, 10.0, "20 mA")
_SOURCE = Slot("source resistance", _OHM, 1e-3, 100e3, "60 ohm")
_SUPPLY_VOLTS = Slot("supply voltage", _VOLT, 0.5, 2000.0, "400 V")
_DROP = Slot("forward drop", _VOLT, 0.05, 50.0, "0.7 V")
_SERIES = Slot("resistance", _OHM, 1e-3, 10e3, "200 ohm")
_ZENER_VOLTS = Slot("zener voltage", _VOLT, 1.5, 400.0, "47 V")
_ESR = Slot("series resistance", _OHM, 1e-3, 10e3, "2 ohm")
_LEAK_CURRENT = Slot("leakage current", _AMPERE, 1e-12, 1.0, "0.5 mA")
_LEAK_RESISTANCE = Slot("leakage resistance", _OHM, 1.0, 1e12, "470k")
_MID = Slot("share of the track at half rotation", _PERCENT, 0.01, 0.49, "10%")
_END = Slot("end resistance", _OHM, 1e-3, 100e3, "20 ohm")
_END_SHARE = Slot("end resistance", _PERCENT, 1e-5, 0.2, "1%")
_PLATE = Slot("plate voltage", _VOLT, 60.0, 2000.0, "390 V")
_SCREEN = Slot("screen voltage", _VOLT, 40.0, 1200.0, "385 V")
_CATHODE = Slot("cathode resistor", _OHM, 0.01, 2000.0, "1 ohm")
_MAINS_VOLTS = Slot("mains voltage", _VOLT, 80.0, 480.0, "230 V", (_VAC,))
_FREQUENCY = Slot("mains frequency", _HERTZ, 15.0, 1000.0, "50 Hz")


@dataclass(frozen=True, slots=True)
class Title:
    """The line that names the circuit."""

    text: str


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """The line that lists nodes which go on outside the section."""

    nodes: tuple[str, ...]


Entry = Part | Mains | Title | Elsewhere


def build_entry(source: Source, line: ParsedLine) -> tuple[Entry | None, list[Finding]]:
    """What one line says.

    Returns
    -------
    entry or None
        None for a line that says nothing or cannot be used.
    list of Finding
        What is wrong in it, beyond its syntax.
    """
    if line.tree is None:
        return None, []
    fields = Fields(source, line.number, line.tree, line.broken)
    entry = _BUILDERS[str(line.tree.data)](fields, line.tree)
    unusable = bool(fields.findings) or line.broken
    return (None if unusable else entry), fields.findings


def _nominal(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.nominal


def _common(f: Fields) -> dict[str, Any]:
    """Name, note, year and places: what every part has."""
    note = f.text("note")
    year_tree = f.one("year")
    year = None
    if year_tree is not None:
        typed = str(year_tree.children[-1])
        span = tree_span(year_tree, f.number)
        if typed.isascii() and typed.isdigit() and 1900 <= int(typed[:6]) <= 2100:
            year = int(typed)
        else:
            f.report("absurd-value", span, f'"{typed}" cannot be a year of manufacture',
                     "expected: a year such as 1968")  # fmt: skip
    return {"name": f.words[0], "note": note, "year": year,
            "span": f.word_spans[0], "marks": f.marks}  # fmt: skip


def _circuit(f: Fields, tree: Tree[Token]) -> Title:
    return Title(f.words[0][1:-1])


def _mains(f: Fields, tree: Tree[Token]) -> Mains | None:
    slots = {"v_nominal": _MAINS_VOLTS, "frequency": _FREQUENCY, "tolerance": _TOLERANCE}
    plain = f.plain(slots, "v_nominal")
    actual = f.keyed("actual", _MAINS_VOLTS)
    if "v_nominal" not in plain:
        f.missing("v_nominal", "its voltage", 'write "mains 230 V 50 Hz"')
    if "frequency" not in plain:
        f.missing("frequency", "its frequency", 'write "mains 230 V 50 Hz"')
    if not {"v_nominal", "frequency"} <= plain.keys():
        return None
    return Mains(plain["v_nominal"].nominal, plain["frequency"].nominal, _nominal(actual),
                 _nominal(plain.get("tolerance")), f.kind_span)  # fmt: skip


def _elsewhere(f: Fields, tree: Tree[Token]) -> Elsewhere:
    return Elsewhere(tuple(f.words))


def _winding(f: Fields, tree: Tree[Token]) -> Winding | None:
    ends = {"start": f.node("from"), "end": f.node("to"), "centre": f.word("centre")}
    plain = f.plain({"v_rms": _WINDING_VOLTS, "tolerance": _TOLERANCE}, "v_rms")
    load, source = f.keyed("load", _LOAD), f.keyed("source", _SOURCE)
    halves = f.one("halves")
    if halves is not None:
        _halves(f, halves, plain, ends["centre"])
    elif ends["centre"] is not None and "v_rms" in plain:
        f.report("wrong-unit", f.marks["v_rms"],
                 "the volts of a centre-tapped winding are given for both halves",
                 "so that it is clear whether a half is meant or the whole",
                 "write, for instance, 50-0-50 Vac")  # fmt: skip
    if "v_rms" not in plain:
        f.missing("v_rms", "its voltage", 'add its alternating volts, such as "48 Vac"')
        return None
    if load is not None and source is None:
        f.report("missing-field", f.marks["load"],
                 "volts under load need the source resistance as well",
                 "the no-load volts follow from the two",
                 'add "source 60 ohm", as measured across the winding')  # fmt: skip
    v_rms = plain["v_rms"].nominal
    return Winding(**_common(f), **ends, v_rms=v_rms, taps=_taps(f, v_rms), i_load=_nominal(load),
                   r_source=_nominal(source), tolerance=_nominal(plain.get("tolerance")))  # fmt: skip


def _halves(f: Fields, tree: Tree[Token], plain: dict[str, Quantity], centre: str | None) -> None:
    tokens = [child for child in tree.children if isinstance(child, Token)]
    span = tree_span(tree, f.number)
    left, _, right = str(tokens[0]).partition("-0-")
    if left != right:
        f.report("absurd-value", span, f"the halves of {tokens[0]} differ",
                 "a centre tap has the same volts either side",
                 'enter the larger side with a "tap" for the other')  # fmt: skip
        return
    if centre is None:
        f.missing("centre", "the node at its centre", 'add "centre NODE", often "centre ground"')
    unit = str(tokens[1]) if len(tokens) > 1 else None
    half = f.quantity(Tree("quantity", [Token("VALUE", left, line=1, column=span.column,
                                              end_column=span.end),
                                        *([Token("UNIT", unit, line=1, column=span.column,
                                                 end_column=span.end)] if unit else [])]),
                      _WINDING_VOLTS)  # fmt: skip
    if half is None:
        f.broken = True
    elif "v_rms" in plain:
        f.report("doubled-field", span, "winding voltage is given twice", "one of the two is wrong",
                 "keep the right one")  # fmt: skip
    else:
        plain["v_rms"] = half
        f.marks["v_rms"] = span


def _taps(f: Fields, v_rms: float) -> tuple[Tap, ...]:
    taps = []
    for tree in f.all("tap"):
        node = next(child for child in tree.children if isinstance(child, Token)
                    and child.type == "NODE")  # fmt: skip
        quantity_tree = next(walk(tree))
        volts = f.quantity(quantity_tree, _WINDING_VOLTS)
        if volts is None:
            continue
        f.marks.setdefault("tap", token_span(node, f.number))
        if volts.nominal >= v_rms:
            f.report("absurd-value", tree_span(quantity_tree, f.number),
                     "a tap cannot have more volts than the winding it is on",
                     "its volts count from the start of the winding, or from its centre",
                     'swap "to" and "tap", or correct the volts')  # fmt: skip
            continue
        taps.append(Tap(str(node), volts.nominal))
    return tuple(sorted(taps, key=lambda tap: tap.v_rms))


def _supply(f: Fields, tree: Tree[Token]) -> Supply | None:
    ends = {"plus": f.node("plus"), "minus": f.node("minus")}
    plain = f.plain({"v": _SUPPLY_VOLTS, "tolerance": _TOLERANCE}, "v")
    source = f.keyed("source", _SOURCE)
    if "v" not in plain:
        f.missing("v", "its voltage", 'add its direct volts, such as "400 V"')
        return None
    return Supply(**_common(f), **ends, v=plain["v"].nominal, r_source=_nominal(source) or 0.0,
                  tolerance=_nominal(plain.get("tolerance")))  # fmt: skip


def _resistor(f: Fields, tree: Tree[Token]) -> Resistor | None:
    ends = {"start": f.node("from"), "end": f.node("to")}
    colours, r, tolerance = _colours(f)
    slots = {"r": _RESISTANCE, "tolerance": _TOLERANCE, "power": _POWER, "v_rated": _RATING}
    plain = f.plain(slots, "r")
    if "r" in plain:
        r, tolerance = plain["r"].nominal, plain["r"].tolerance
    stated = plain.get("tolerance")
    if r is None:
        f.missing("r", "its value", 'add its resistance, such as "4k7" or "470 ohm"')
        return None
    return Resistor(**_common(f), **ends, r=r, bands=colours,
                    tolerance=tolerance if stated is None else stated.nominal,
                    power=_nominal(plain.get("power")),
                    v_rated=_nominal(plain.get("v_rated")))  # fmt: skip


def _colours(f: Fields) -> tuple[tuple[str, ...], float | None, float | None]:
    """Colour bands: as typed, the resistance and the tolerance they give."""
    tree = f.one("bands")
    if tree is None:
        return (), None, None
    colours = tuple(str(token).lower() for token in tree.children[1:])
    span = tree_span(tree, f.number)
    try:
        r, tolerance = read_bands(list(colours))
    except ValueProblem as problem:
        f.report("unreadable-value", span, problem.what, problem.expected, problem.fix)
        f.broken = True
        return colours, None, None
    f.marks["r"] = span  # so that a value in figures beside the bands is a doubled one
    return colours, float(r), tolerance


def _capacitor(f: Fields, tree: Tree[Token]) -> Capacitor | None:
    polarised = bool(f.all("plus") or f.all("minus"))
    words = ("plus", "minus") if polarised else ("from", "to")
    if polarised and (f.all("from") or f.all("to")):
        stray = (f.all("from") + f.all("to"))[0]
        f.report("misplaced-word", tree_span(stray, f.number),
                 "a capacitor has either plus and minus, or from and to",
                 "plus and minus make it an electrolytic", "use one pair of words")  # fmt: skip
    ends = {"start": f.node(words[0]), "end": f.node(words[1])}
    plain = f.plain({"c": _CAPACITANCE, "tolerance": _TOLERANCE, "v_rated": _RATING}, "c")
    esr = f.keyed("esr", _ESR)
    leak = f.keyed("leakage", _LEAK_CURRENT, _LEAK_RESISTANCE)
    rated = plain.get("v_rated")
    if "c" not in plain:
        f.missing("c", "its value", 'add its capacitance, such as "47 uF"')
        return None
    is_current = leak is not None and leak.dimension is _AMPERE
    if is_current and rated is None:
        f.report("missing-field", f.marks["leakage"],
                 "a leakage current needs the voltage at which it flows",
                 "it is stated at the rated voltage",
                 'add the rating, such as "100 V", or give the leakage in ohm')  # fmt: skip
    return Capacitor(**_common(f), **ends, c=plain["c"].nominal, polarised=polarised,
                     tolerance=_nominal(plain.get("tolerance")), v_rated=_nominal(rated),
                     esr=_nominal(esr) or 0.0, i_leak=_nominal(leak) if is_current else None,
                     r_leak=None if is_current else _nominal(leak))  # fmt: skip


def _diode(f: Fields, tree: Tree[Token]) -> Diode:
    ends = {"anode": f.node("anode"), "cathode": f.node("cathode")}
    plain = f.plain({"v_reverse": _RATING}, "v_reverse")
    return Diode(**_common(f), **ends, material=(f.word("material") or "silicon").lower(),
                 v_reverse=_nominal(plain.get("v_reverse")), type=f.word("type"),
                 v_drop=_nominal(f.keyed("drop", _DROP)),
                 r_series=_nominal(f.keyed("resistance", _SERIES)))  # fmt: skip


def _zener(f: Fields, tree: Tree[Token]) -> Zener | None:
    ends = {"anode": f.node("anode"), "cathode": f.node("cathode")}
    plain = f.plain({"v_zener": _ZENER_VOLTS, "tolerance": _TOLERANCE, "power": _POWER}, "v_zener")
    resistance = f.keyed("resistance", _SERIES)
    if "v_zener" not in plain:
        f.missing("v_zener", "its voltage", 'add its zener volts, such as "47 V"')
        return None
    return Zener(**_common(f), **ends, v_zener=plain["v_zener"].nominal,
                 tolerance=_nominal(plain.get("tolerance")), power=_nominal(plain.get("power")),
                 r_zener=_nominal(resistance))  # fmt: skip


def _link(f: Fields, tree: Tree[Token]) -> Link:
    return Link(start=f.node("from"), end=f.node("to"), **_common(f))


def _pot(f: Fields, tree: Tree[Token]) -> Pot | None:
    open_end = f'add it, or "{{}} {OPEN}" when nothing is soldered to it'
    ends = {word: f.node(word, open_end.format(word)) for word in ("top", "bottom")}
    wiper = f.node("wiper")
    plain = f.plain({"r": _RESISTANCE, "tolerance": _TOLERANCE, "power": _POWER}, "r")
    taper_tree = f.one("taper")
    taper = "linear"
    if taper_tree is not None:
        taper = " ".join(str(token).lower() for token in taper_tree.children)
    clockwise = (f.word("clockwise") or "top").lower()
    mid, end = f.keyed("mid", _MID), f.keyed("end", _END, _END_SHARE)
    if mid is not None and taper == "linear":
        f.report("misplaced-word", f.marks["mid"], "a linear pot is at 50 % at half rotation",
                 '"mid" belongs to an audio taper', 'write "audio", or leave "mid" out')  # fmt: skip
    if "r" not in plain:
        f.missing("r", "its value", 'add its end-to-end resistance, such as "10k"')
        return None
    r = plain["r"].nominal
    r_end = _nominal(end)
    if end is not None and end.dimension is _PERCENT:
        r_end = end.nominal * r
    return Pot(**_common(f), **ends, wiper=wiper, r=r, tolerance=_nominal(plain.get("tolerance")),
               power=_nominal(plain.get("power")), taper=taper, mid=_nominal(mid),
               clockwise=clockwise, r_end=r_end)  # fmt: skip


def _valve(f: Fields, tree: Tree[Token]) -> Valve:
    type_name = f.words[1]
    f.marks["type"] = f.word_spans[1]
    if lookup(type_name) is None:
        near = nearest(type_name)
        f.report("unknown-valve", f.word_spans[1], f'the valve type "{type_name}" is not known',
                 f"nearest known types: {', '.join(near)}" if near else "",
                 '"netcheck valves" lists the types that are known')  # fmt: skip
    return Valve(type=type_name, grid=f.node("grid"),
                 v_plate=_nominal(f.keyed("plate", _PLATE)),
                 v_screen=_nominal(f.keyed("screen", _SCREEN)),
                 r_cathode=_nominal(f.keyed("resistor_k", _CATHODE)) or 0.0,
                 **_common(f))  # fmt: skip


_BUILDERS: dict[str, Callable[[Fields, Tree[Token]], Entry | None]] = {
    "circuit": _circuit,
    "mains": _mains,
    "elsewhere": _elsewhere,
    "winding": _winding,
    "supply": _supply,
    "resistor": _resistor,
    "capacitor": _capacitor,
    "diode": _diode,
    "zener": _zener,
    "link": _link,
    "pot": _pot,
    "valve": _valve,
}
