"""The lines of a circuit file, turned into the parts of a circuit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from lark import Token, Tree

from ..bands import read_bands
from ..finding import Finding
from ..netlist import (
    OPEN,
    Capacitor,
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
from ..quantity import Dimension, Quantity, ValueProblem
from ..source import Source
from ..valves import lookup, nearest
from . import slots
from .fields import Fields
from .lines import ParsedLine, tokens_of, walk


@dataclass(frozen=True, slots=True)
class Title:
    """The line that names the circuit."""

    text: str


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """The line that lists nodes which go on outside the section."""

    nodes: tuple[str, ...]


Entry = Part | Mains | HighTension | Title | Elsewhere


def build_entry(source: Source, line: ParsedLine) -> tuple[Entry | None, list[Finding]]:
    """What one line says.

    Parameters
    ----------
    source : Source
        The text.
    line : ParsedLine
        The line.

    Returns
    -------
    entry or None
        None for a line that says nothing or cannot be used.
    list of Finding
        What is wrong in it, beyond its syntax.
    """
    if line.tree is None:
        return None, []
    fields = Fields(source, line, line.tree)
    entry = _BUILDERS[str(line.tree.data)](fields)
    unusable = bool(fields.findings) or line.broken
    return (None if unusable else entry), fields.findings


def _nominal(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.nominal


def _common(f: Fields) -> dict[str, Any]:
    """Name, note, year and places: what every part has."""
    return {"name": f.words[0], "note": f.text("note"), "year": _year(f),
            "span": f.word_spans[0], "marks": f.marks}  # fmt: skip


def _year(f: Fields) -> int | None:
    typed = f.word("year")
    if typed is None:
        return None
    is_figures = typed.isascii() and typed.isdigit()
    if is_figures and len(typed) == 4 and 1900 <= int(typed) <= 2100:
        return int(typed)
    fix = f"write 19{typed}" if is_figures and len(typed) == 2 else ""
    f.report("absurd-value", f.marks["year"], f'"{typed}" cannot be a year of manufacture',
             "expected: a year such as 1968", fix)  # fmt: skip
    return None


def _tolerance(f: Fields, plain: Mapping[str, Quantity], of: str) -> float | None:
    """The tolerance: stated, or said by a letter behind the value, as in 4k7J."""
    stated = _nominal(plain.get("tolerance"))
    by_letter = plain[of].tolerance if of in plain else None
    if stated is not None and by_letter is not None and stated != by_letter:
        f.doubled("the tolerance", f.marks["tolerance"], f.marks[of])
    return by_letter if stated is None else stated


def _circuit(f: Fields) -> Title:
    return Title(f.words[0][1:-1])


def _mains(f: Fields) -> Mains | None:
    plain = f.plain({"v_nominal": slots.MAINS_VOLTS, "frequency": slots.FREQUENCY,
                     "tolerance": slots.TOLERANCE}, "v_nominal")  # fmt: skip
    actual = f.keyed("actual", slots.MAINS_VOLTS)
    if not f.has_values(plain, v_nominal=slots.MAINS_VOLTS, frequency=slots.FREQUENCY):
        return None
    return Mains(plain["v_nominal"].nominal, plain["frequency"].nominal, _nominal(actual),
                 _nominal(plain.get("tolerance")), f.kind_span)  # fmt: skip


def _elsewhere(f: Fields) -> Elsewhere:
    return Elsewhere(tuple(f.words))


def _high_tension(f: Fields) -> HighTension:
    source, load = f.keyed("source", slots.HT_SOURCE), f.keyed("load", slots.HT_LOAD)
    if f.all("load") and not f.all("source") and not f.is_lossy:
        f.report("missing-field", f.marks["load"],
                 "a load current says nothing without the source resistance",
                 "how far the volts fall follows from the two",
                 'add "source 150 ohm", or leave it out')  # fmt: skip
    rectifier = f.word("material")
    return HighTension(_nominal(source), _nominal(load),
                       rectifier.lower() if rectifier is not None else None,
                       f.one("standby") is not None, f.kind_span)  # fmt: skip


def _winding(f: Fields) -> Winding | None:
    start, end = f.nodes("from", "to")
    centre = f.word("centre")
    plain = f.plain({"v_rms": slots.WINDING_VOLTS, "tolerance": slots.TOLERANCE}, "v_rms")
    volts = _winding_volts(f, plain.get("v_rms"), centre)
    load, source = f.keyed("load", slots.LOAD), f.keyed("source", slots.SOURCE)
    if f.all("load") and not f.all("source") and not f.is_lossy:
        f.report("missing-field", f.marks["load"],
                 "volts under load need the source resistance as well",
                 "the no-load volts follow from the two",
                 'add "source 60 ohm", as measured across the winding')  # fmt: skip
    taps = _taps(f, _nominal(volts))
    if volts is None:
        return None
    return Winding(**_common(f), start=start, end=end, centre=centre, v_rms=volts.nominal,
                   taps=taps, i_load=_nominal(load), r_source=_nominal(source),
                   tolerance=_nominal(plain.get("tolerance")))  # fmt: skip


def _winding_volts(f: Fields, whole: Quantity | None, centre: str | None) -> Quantity | None:
    """The volts of a winding, or of each half of one with a centre tap."""
    halves = f.one("halves")
    if halves is None:
        if whole is not None and centre is not None:
            f.report("unclear-value", f.marks["v_rms"],
                     f"{whole.text} may be half of the winding or all of it",
                     "the volts of a centre-tapped winding are given either side",
                     "write, for instance, 50-0-50 Vac")  # fmt: skip
        return whole
    if "v_rms" in f.marks:
        f.doubled("the winding voltage", f.marks["halves"], f.marks["v_rms"])
    if centre is None:
        f.missing('has no "centre"', 'add "centre NODE", often "centre ground"')
    f.marks["v_rms"] = f.marks["halves"]
    return _half(f, halves)


def _half(f: Fields, tree: Tree[Token]) -> Quantity | None:
    figures, *unit = tokens_of(tree)
    left, _, right = figures.partition("-0-")
    half = f.value([left, *unit], f.span(tree), slots.WINDING_VOLTS)
    if half is None or left == right:
        return half
    other = f.value([right, *unit], f.span(tree), slots.WINDING_VOLTS)
    if other is not None and other.exact != half.exact:
        f.report("absurd-value", f.span(tree), f"the halves of {figures} differ",
                 "a centre tap has the same volts either side",
                 'enter the larger side with a "tap" for the other')  # fmt: skip
    return half


def _taps(f: Fields, v_rms: float | None) -> tuple[Tap, ...]:
    taps = []
    for tree in f.all("tap"):
        f.marks.setdefault("tap", f.span(tree))
        quantity_tree = next(walk(tree))
        volts = f.quantity(quantity_tree, slots.WINDING_VOLTS)
        if volts is None:
            continue
        if v_rms is not None and volts.nominal >= v_rms:
            f.report("absurd-value", f.span(quantity_tree),
                     "a tap cannot have more volts than the winding it is on",
                     "its volts count from the start of the winding, or from its centre",
                     'swap "to" and "tap", or correct the volts')  # fmt: skip
        taps.append(Tap(str(tokens_of(tree)[-1]), volts.nominal))
    return tuple(sorted(taps, key=lambda tap: tap.v_rms))


def _supply(f: Fields) -> Supply | None:
    plus, minus = f.nodes("plus", "minus")
    plain = f.plain({"v": slots.SUPPLY_VOLTS, "tolerance": slots.TOLERANCE}, "v")
    source = f.keyed("source", slots.SOURCE)
    if not f.has_values(plain, v=slots.SUPPLY_VOLTS):
        return None
    return Supply(**_common(f), plus=plus, minus=minus, v=plain["v"].nominal,
                  r_source=_nominal(source) or 0.0,
                  tolerance=_nominal(plain.get("tolerance")))  # fmt: skip


def _resistor(f: Fields) -> Resistor | None:
    start, end = f.nodes("from", "to")
    colours, r, by_band = _colours(f)
    plain = f.plain({"r": slots.RESISTANCE, "tolerance": slots.TOLERANCE, "power": slots.POWER,
                     "v_rated": slots.RATING}, "r")  # fmt: skip
    tolerance = _tolerance(f, plain, "r")
    if "r" in plain:
        r = plain["r"].nominal
    elif not colours:
        f.has_values(plain, r=slots.RESISTANCE)
    if colours and tolerance is None:
        tolerance = by_band
    elif len(colours) > 3 and by_band not in (None, tolerance):
        f.doubled("the tolerance", f.marks["tolerance"], f.marks["bands"])
    if r is None:
        return None
    return Resistor(**_common(f), start=start, end=end, r=r, bands=colours, tolerance=tolerance,
                    power=_nominal(plain.get("power")),
                    v_rated=_nominal(plain.get("v_rated")))  # fmt: skip


def _colours(f: Fields) -> tuple[tuple[str, ...], float | None, float | None]:
    """Colour bands: as typed, the resistance and the tolerance they give."""
    tree = f.one("bands")
    if tree is None:
        return (), None, None
    colours = tuple(token.lower() for token in tokens_of(tree)[1:])
    f.marks["r"] = f.marks["bands"]  # so that a value in figures beside the bands is doubled
    try:
        r, tolerance = read_bands(colours)
    except ValueProblem as problem:
        f.report("unreadable-value", f.marks["bands"], problem.what, problem.expected, problem.fix)
        return colours, None, None
    return colours, float(r), tolerance


def _capacitor(f: Fields) -> Capacitor | None:
    polarised = bool(f.all("plus") or f.all("minus"))
    stray = f.all("from") + f.all("to")
    start, end = f.nodes("plus", "minus") if polarised else f.nodes("from", "to")
    if polarised and stray and not f.is_lossy:
        f.report("misplaced-word", f.span(stray[0]),
                 "a capacitor has either plus and minus, or from and to",
                 "plus and minus make it an electrolytic", "use one pair of words")  # fmt: skip
    plain = f.plain({"c": slots.CAPACITANCE, "tolerance": slots.TOLERANCE,
                     "v_rated": slots.RATING}, "c")  # fmt: skip
    esr = f.keyed("esr", slots.ESR)
    leak = f.keyed("leakage", slots.LEAK_CURRENT, slots.LEAK_RESISTANCE)
    tolerance = _tolerance(f, plain, "c")
    is_current = leak is not None and leak.dimension is Dimension.AMPERE
    if is_current and "v_rated" not in f.marks and not f.is_lossy:
        f.report("missing-field", f.marks["leakage"],
                 "a leakage current needs the voltage at which it flows",
                 "it is stated at the rated voltage",
                 'add the rating, such as "100 V", or give the leakage in ohm')  # fmt: skip
    if not f.has_values(plain, c=slots.CAPACITANCE):
        return None
    return Capacitor(**_common(f), start=start, end=end, c=plain["c"].nominal,
                     polarised=polarised, tolerance=tolerance,
                     v_rated=_nominal(plain.get("v_rated")), esr=_nominal(esr) or 0.0,
                     i_leak=_nominal(leak) if is_current else None,
                     r_leak=None if is_current else _nominal(leak))  # fmt: skip


def _diode(f: Fields) -> Diode:
    anode, cathode = f.nodes("anode", "cathode")
    plain = f.plain({"v_reverse": slots.RATING}, "v_reverse")
    return Diode(**_common(f), anode=anode, cathode=cathode,
                 material=(f.word("material") or "silicon").lower(),
                 v_reverse=_nominal(plain.get("v_reverse")), type=f.word("type"),
                 v_drop=_nominal(f.keyed("drop", slots.DROP)),
                 r_series=_nominal(f.keyed("resistance", slots.SERIES)))  # fmt: skip


def _zener(f: Fields) -> Zener | None:
    anode, cathode = f.nodes("anode", "cathode")
    plain = f.plain({"v_zener": slots.ZENER_VOLTS, "tolerance": slots.TOLERANCE,
                     "power": slots.POWER}, "v_zener")  # fmt: skip
    resistance = f.keyed("resistance", slots.SERIES)
    if not f.has_values(plain, v_zener=slots.ZENER_VOLTS):
        return None
    return Zener(**_common(f), anode=anode, cathode=cathode, v_zener=plain["v_zener"].nominal,
                 tolerance=_nominal(plain.get("tolerance")), power=_nominal(plain.get("power")),
                 r_zener=_nominal(resistance))  # fmt: skip


def _link(f: Fields) -> Link:
    start, end = f.nodes("from", "to")
    return Link(**_common(f), start=start, end=end)


def _pot(f: Fields) -> Pot | None:
    nothing_there = f'"{{}} {OPEN}" when nothing is soldered to it'
    top, bottom = f.nodes("top", "bottom", or_else=nothing_there)
    (wiper,) = f.nodes("wiper")
    plain = f.plain({"r": slots.RESISTANCE, "tolerance": slots.TOLERANCE, "power": slots.POWER},
                    "r")  # fmt: skip
    taper_tree = f.one("taper")
    taper = " ".join(tokens_of(taper_tree)).lower() if taper_tree is not None else "linear"
    clockwise = (f.word("clockwise") or "top").lower()
    mid = f.keyed("mid", slots.MID)
    if f.all("mid") and taper == "linear":
        f.report("misplaced-word", f.marks["mid"], "a linear pot is at 50% at half rotation",
                 '"mid" belongs to an audio taper',
                 'write "audio", or leave "mid" out')  # fmt: skip
    r_end = _end_resistance(f, plain.get("r"))
    tolerance = _tolerance(f, plain, "r")
    if not f.has_values(plain, r=slots.RESISTANCE):
        return None
    return Pot(**_common(f), top=top, wiper=wiper, bottom=bottom, r=plain["r"].nominal,
               tolerance=tolerance, power=_nominal(plain.get("power")), taper=taper,
               mid=_nominal(mid), clockwise=clockwise, r_end=r_end)  # fmt: skip


def _end_resistance(f: Fields, track: Quantity | None) -> float | None:
    """The end resistance of a pot, which may be given as a share of its track."""
    end = f.keyed("end", slots.END, slots.END_SHARE)
    if end is None or track is None:
        return None
    r_end = end.nominal
    if end.dimension is Dimension.PERCENT:
        r_end = float(end.exact * track.exact)  # as decimals: 1.3% of 4k7 is 61.1 ohm
    largest = min(slots.END.high, 1.000001 * slots.END_SHARE.high * track.nominal)
    if not slots.END.low <= r_end <= largest:
        f.report("absurd-value", f.marks["end"],
                 f"this cannot be the end resistance of a pot of {track.text}",
                 "some 1% of the track is left at the stop",
                 "look for a slip in the unit")  # fmt: skip
        return None
    return r_end


def _tremolo(f: Fields) -> Tremolo | None:
    start, end = f.nodes("from", "to")
    source = f.keyed("source", slots.TREMOLO_SOURCE)
    wanted = {"v_pp": slots.TREMOLO_VOLTS, "frequency": slots.TREMOLO_FREQUENCY}
    plain = f.plain(wanted, "v_pp")
    if not f.has_values(plain, **wanted):
        return None
    return Tremolo(**_common(f), start=start, end=end, v_pp=plain["v_pp"].nominal,
                   frequency=plain["frequency"].nominal,
                   r_source=_nominal(source) or 0.0)  # fmt: skip


def _readings(f: Fields) -> tuple[IdleReading, ...]:
    """What a valve was measured to draw."""
    readings = []
    trees = f.all("draws")
    for tree in trees:
        f.marks.setdefault("draws", f.span(tree))
        current, volts = walk(tree)
        i_cathode = f.quantity(current, slots.DRAWN)
        v_grid = f.quantity(volts, slots.DRAWN_AT)
        if i_cathode is not None and v_grid is not None:
            readings.append(IdleReading(i_cathode.nominal, v_grid.nominal))
    for extra in trees[_MOST_READINGS:]:
        f.report("doubled-field", f.span(extra), "this is a third reading of one valve",
                 "two readings say all that is used", "keep those farthest apart")  # fmt: skip
    return tuple(readings)


def _valve(f: Fields) -> Valve:
    type_name = f.words[1]
    f.marks["type"] = f.word_spans[1]
    if lookup(type_name) is None and not f.is_lossy:
        near = nearest(type_name)
        f.report("unknown-valve", f.word_spans[1], f'the valve type "{type_name}" is not known',
                 f"the known types nearest to it are {', '.join(near)}" if near else "",
                 '"netcheck valves" lists the types that are known')  # fmt: skip
    (grid,) = f.nodes("grid")
    return Valve(**_common(f), type=type_name, grid=grid,
                 v_plate=_nominal(f.keyed("plate", slots.PLATE)),
                 v_screen=_nominal(f.keyed("screen", slots.SCREEN)),
                 r_cathode=_nominal(f.keyed("resistor_k", slots.CATHODE)) or 0.0,
                 readings=_readings(f))  # fmt: skip


_BUILDERS: dict[str, Callable[[Fields], Entry | None]] = {
    "circuit": _circuit,
    "mains": _mains,
    "elsewhere": _elsewhere,
    "hightension": _high_tension,
    "winding": _winding,
    "supply": _supply,
    "resistor": _resistor,
    "capacitor": _capacitor,
    "diode": _diode,
    "zener": _zener,
    "link": _link,
    "pot": _pot,
    "tremolo": _tremolo,
    "valve": _valve,
}
