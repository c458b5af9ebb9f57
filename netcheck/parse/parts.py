"""The lines about the parts of a bias section behind its source, and its valves."""

from __future__ import annotations

from ..bands import read_bands
from ..netlist import (
    OPEN,
    Capacitor,
    Diode,
    IdleReading,
    Link,
    Pot,
    Resistor,
    Valve,
    Zener,
)
from ..quantity import Dimension, Quantity, ValueProblem
from ..valves import lookup, nearest
from . import slots
from .common import common, nominal, tolerance_of
from .fields import Fields
from .lines import tokens_of, walk

_MOST_READINGS = 2


def resistor(f: Fields) -> Resistor | None:
    """A resistor line; None where it lacks its value."""
    start, end = f.nodes("from", "to")
    colours, r, by_band = _colours(f)
    plain = f.plain({"r": slots.RESISTANCE, "tolerance": slots.TOLERANCE, "power": slots.POWER,
                     "v_rated": slots.RATING}, "r")  # fmt: skip
    tolerance = tolerance_of(f, plain, "r")
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
    return Resistor(**common(f), start=start, end=end, r=r, bands=colours, tolerance=tolerance,
                    power=nominal(plain.get("power")),
                    v_rated=nominal(plain.get("v_rated")))  # fmt: skip


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


def capacitor(f: Fields) -> Capacitor | None:
    """A capacitor line; None where it lacks its value."""
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
    tolerance = tolerance_of(f, plain, "c")
    is_current = leak is not None and leak.dimension is Dimension.AMPERE
    if is_current and "v_rated" not in f.marks and not f.is_lossy:
        f.report("missing-field", f.marks["leakage"],
                 "a leakage current needs the voltage at which it flows",
                 "it is stated at the rated voltage",
                 'add the rating, such as "100 V", or give the leakage in ohm')  # fmt: skip
    if not f.has_values(plain, c=slots.CAPACITANCE):
        return None
    return Capacitor(**common(f), start=start, end=end, c=plain["c"].nominal,
                     polarised=polarised, tolerance=tolerance,
                     v_rated=nominal(plain.get("v_rated")), esr=nominal(esr) or 0.0,
                     i_leak=nominal(leak) if is_current else None,
                     r_leak=None if is_current else nominal(leak))  # fmt: skip


def diode(f: Fields) -> Diode:
    """A diode line."""
    anode, cathode = f.nodes("anode", "cathode")
    plain = f.plain({"v_reverse": slots.RATING}, "v_reverse")
    return Diode(**common(f), anode=anode, cathode=cathode,
                 material=(f.word("material") or "silicon").lower(),
                 v_reverse=nominal(plain.get("v_reverse")), type=f.word("type"),
                 v_drop=nominal(f.keyed("drop", slots.DROP)),
                 r_series=nominal(f.keyed("resistance", slots.SERIES)))  # fmt: skip


def zener(f: Fields) -> Zener | None:
    """A zener line; None where it lacks its voltage."""
    anode, cathode = f.nodes("anode", "cathode")
    plain = f.plain({"v_zener": slots.ZENER_VOLTS, "tolerance": slots.TOLERANCE,
                     "power": slots.POWER}, "v_zener")  # fmt: skip
    resistance = f.keyed("resistance", slots.SERIES)
    if not f.has_values(plain, v_zener=slots.ZENER_VOLTS):
        return None
    return Zener(**common(f), anode=anode, cathode=cathode, v_zener=plain["v_zener"].nominal,
                 tolerance=nominal(plain.get("tolerance")), power=nominal(plain.get("power")),
                 r_zener=nominal(resistance))  # fmt: skip


def link(f: Fields) -> Link:
    """A link line."""
    start, end = f.nodes("from", "to")
    return Link(**common(f), start=start, end=end)


def pot(f: Fields) -> Pot | None:
    """A pot line; None where it lacks its value."""
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
    tolerance = tolerance_of(f, plain, "r")
    if not f.has_values(plain, r=slots.RESISTANCE):
        return None
    return Pot(**common(f), top=top, wiper=wiper, bottom=bottom, r=plain["r"].nominal,
               tolerance=tolerance, power=nominal(plain.get("power")), taper=taper,
               mid=nominal(mid), clockwise=clockwise, r_end=r_end)  # fmt: skip


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


def valve(f: Fields) -> Valve:
    """A valve line."""
    type_name = f.words[1]
    f.marks["type"] = f.word_spans[1]
    if lookup(type_name, f.own_types) is None and not f.is_lossy:
        near = nearest(type_name, f.own_types)
        f.report("unknown-valve", f.word_spans[1], f'the valve type "{type_name}" is not known',
                 f"the known types nearest to it are {', '.join(near)}" if near else "",
                 '"netcheck valves" lists the known ones; your own go into a file valves.toml '
                 "beside the circuit")  # fmt: skip
    (grid,) = f.nodes("grid")
    return Valve(**common(f), type=type_name, grid=grid,
                 v_plate=nominal(f.keyed("plate", slots.PLATE)),
                 v_screen=nominal(f.keyed("screen", slots.SCREEN)),
                 r_cathode=nominal(f.keyed("resistor_k", slots.CATHODE)) or 0.0,
                 readings=_readings(f))  # fmt: skip


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
