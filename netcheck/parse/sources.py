"""The lines about what feeds a bias section."""

from __future__ import annotations

from collections.abc import Mapping

from lark import Token, Tree

from ..netlist import HighTension, Mains, Supply, Tap, Tremolo, Winding
from ..quantity import Quantity
from . import slots
from .common import common, nominal
from .fields import Fields
from .lines import tokens_of, walk


def mains(f: Fields) -> Mains | None:
    """The mains line; None where it lacks its voltage or its frequency."""
    plain = f.plain({"v_nominal": slots.MAINS_VOLTS, "frequency": slots.FREQUENCY,
                     "tolerance": slots.TOLERANCE}, "v_nominal")  # fmt: skip
    actual = f.keyed("actual", slots.MAINS_VOLTS)
    if not f.has_values(plain, v_nominal=slots.MAINS_VOLTS, frequency=slots.FREQUENCY):
        return None
    return Mains(plain["v_nominal"].nominal, plain["frequency"].nominal, nominal(actual),
                 nominal(plain.get("tolerance")), f.kind_span)  # fmt: skip


def high_tension(f: Fields) -> HighTension:
    """The line about the high tension."""
    source, load = f.keyed("source", slots.HT_SOURCE), f.keyed("load", slots.HT_LOAD)
    if f.all("load") and not f.all("source") and not f.is_lossy:
        f.report("missing-field", f.marks["load"],
                 "a load current says nothing without the source resistance",
                 "how far the volts fall follows from the two",
                 'add "source 150 ohm", or leave it out')  # fmt: skip
    rectifier = f.word("material")
    return HighTension(nominal(source), nominal(load), _plate_readings(f),
                       rectifier.lower() if rectifier is not None else None,
                       f.one("standby") is not None, f.kind_span)  # fmt: skip


def _plate_readings(f: Fields) -> tuple[tuple[float, float], ...]:
    """Two readings of plate volts against current, which give the source resistance."""
    trees, found = f.all("measured"), []
    for tree in trees:
        f.marks.setdefault("measured", f.span(tree))
        volts, current = walk(tree)
        v, i = f.quantity(volts, slots.PLATE), f.quantity(current, slots.HT_LOAD)
        if v is not None and i is not None:
            found.append((v.nominal, i.nominal))
    if trees and f.all("source"):
        f.doubled("the source resistance", f.marks["measured"], f.span(f.all("source")[0]),
                  "two readings say it already")  # fmt: skip
    if len(trees) not in (0, 2) and not f.is_lossy:
        f.report("missing-field", f.marks["measured"],
                 "the fall of the high tension takes two readings",
                 "the source resistance follows from two currents and their volts",
                 'write, for instance, "402 V at 25 mA  390 V at 90 mA"')  # fmt: skip
        return ()
    if len(found) == 2 and (found[0][0] - found[1][0]) * (found[1][1] - found[0][1]) <= 0.0:
        f.report("absurd-value", f.span(trees[1]), "these readings do not fall with the current",
                 "the high tension is lower where the valves draw more",
                 "look whether the two were swapped")  # fmt: skip
    return tuple(found)


def winding(f: Fields) -> Winding | None:
    """A winding line; None where it lacks its voltage."""
    start, end = f.nodes("from", "to")
    centre = f.word("centre")
    plain = f.plain({"v_rms": slots.WINDING_VOLTS, "tolerance": slots.TOLERANCE}, "v_rms")
    volts = _winding_volts(f, plain, centre)
    load, source = f.keyed("load", slots.LOAD), f.keyed("source", slots.SOURCE)
    if f.all("load") and not f.all("source") and not f.is_lossy:
        f.report("missing-field", f.marks["load"],
                 "volts under load need the source resistance as well",
                 "the no-load volts follow from the two",
                 'add "source 60 ohm", as measured across the winding')  # fmt: skip
    taps = _taps(f, nominal(volts))
    if volts is None:
        return None
    return Winding(**common(f), start=start, end=end, centre=centre, v_rms=volts.nominal,
                   taps=taps, i_load=nominal(load), r_source=nominal(source),
                   tolerance=nominal(plain.get("tolerance")))  # fmt: skip


def _winding_volts(f: Fields, plain: Mapping[str, Quantity], centre: str | None) -> Quantity | None:
    """The volts of a winding, or of each half of one with a centre tap."""
    halves = f.one("halves")
    if halves is None:
        whole = plain.get("v_rms")
        if f.has_values(plain, v_rms=slots.WINDING_VOLTS) and whole and centre is not None:
            f.report("unclear-value", f.marks["v_rms"],
                     f"{whole.text} may be half of the winding or all of it",
                     "the volts of a centre-tapped winding are given either side",
                     "write, for instance, 50-0-50 Vac")  # fmt: skip
        return whole
    if "v_rms" in f.marks:
        f.doubled("the winding voltage", f.marks["halves"], f.marks["v_rms"])
    if centre is None:
        f.missing('has no "centre" node', 'add "centre NODE", often "centre ground"')
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


def supply(f: Fields) -> Supply | None:
    """A supply line; None where it lacks its voltage."""
    plus, minus = f.nodes("plus", "minus")
    plain = f.plain({"v": slots.SUPPLY_VOLTS, "tolerance": slots.TOLERANCE}, "v")
    source = f.keyed("source", slots.SOURCE)
    if not f.has_values(plain, v=slots.SUPPLY_VOLTS):
        return None
    return Supply(**common(f), plus=plus, minus=minus, v=plain["v"].nominal,
                  r_source=nominal(source) or 0.0,
                  tolerance=nominal(plain.get("tolerance")))  # fmt: skip


def tremolo(f: Fields) -> Tremolo | None:
    """A tremolo line; None where it lacks its voltage or its frequency."""
    start, end = f.nodes("from", "to")
    source = f.keyed("source", slots.TREMOLO_SOURCE)
    wanted = {"v_pp": slots.TREMOLO_VOLTS, "frequency": slots.TREMOLO_FREQUENCY}
    plain = f.plain(wanted, "v_pp")
    if not f.has_values(plain, **wanted):
        return None
    return Tremolo(**common(f), start=start, end=end, v_pp=plain["v_pp"].nominal,
                   frequency=plain["frequency"].nominal,
                   r_source=nominal(source) or 0.0)  # fmt: skip
