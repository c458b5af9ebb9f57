"""A circuit as text in its canonical form, which reads back as the same circuit."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import groupby
from typing import Any

from .bands import read_bands
from .netlist import (
    Capacitor,
    Circuit,
    Diode,
    Link,
    Mains,
    Part,
    Pot,
    Resistor,
    Supply,
    Valve,
    Winding,
    Zener,
)
from .parse import Elsewhere, Entry, Line, Title
from .quantity import Dimension, write_exact

_TERMINALS_WIDTH = 34  # longer ones would push every value of the block off the screen


def _q(value: float, dimension: Dimension) -> str:
    return write_exact(value, dimension)


def _opt(word: str, value: float | None, dimension: Dimension) -> list[str]:
    """A key word with its quantity, or the quantity alone; nothing where there is no value."""
    if value is None:
        return []
    return [f"{word} {_q(value, dimension)}".strip()]


def _winding(p: Winding) -> list[str]:
    if p.centre is None:
        volts = _q(p.v_rms, Dimension.VOLT_AC)
    else:
        number = _q(p.v_rms, Dimension.VOLT_AC).removesuffix(" Vac")
        volts = f"{number}-0-{number} Vac"
    return [
        volts,
        *_opt("", p.tolerance, Dimension.PERCENT),
        *_opt("at", p.i_load, Dimension.AMPERE),
        *_opt("source", p.r_source, Dimension.OHM),
    ]


def _supply(p: Supply) -> list[str]:
    source = p.r_source or None
    return [
        _q(p.v, Dimension.VOLT),
        *_opt("", p.tolerance, Dimension.PERCENT),
        *_opt("source", source, Dimension.OHM),
    ]


def _resistor(p: Resistor) -> list[str]:
    by_bands = read_bands(list(p.bands))[1] if p.bands else None
    stated = None if p.tolerance == by_bands else p.tolerance
    return [
        "bands " + " ".join(p.bands) if p.bands else _q(p.r, Dimension.OHM),
        *_opt("", stated, Dimension.PERCENT),
        *_opt("", p.power, Dimension.WATT),
        *_opt("", p.v_rated, Dimension.VOLT),
    ]


def _capacitor(p: Capacitor) -> list[str]:
    return [
        _q(p.c, Dimension.FARAD),
        *_opt("", p.tolerance, Dimension.PERCENT),
        *_opt("", p.v_rated, Dimension.VOLT),
        *_opt("esr", p.esr or None, Dimension.OHM),
        *_opt("leakage", p.i_leak, Dimension.AMPERE),
        *_opt("leakage", p.r_leak, Dimension.OHM),
    ]


def _diode(p: Diode) -> list[str]:
    return [
        *([f"type {p.type}"] if p.type else []),
        *([p.material] if p.material != "silicon" else []),
        *_opt("", p.v_reverse, Dimension.VOLT),
        *_opt("drop", p.v_drop, Dimension.VOLT),
        *_opt("resistance", p.r_series, Dimension.OHM),
    ]


def _zener(p: Zener) -> list[str]:
    return [
        _q(p.v_zener, Dimension.VOLT),
        *_opt("", p.tolerance, Dimension.PERCENT),
        *_opt("", p.power, Dimension.WATT),
        *_opt("resistance", p.r_zener, Dimension.OHM),
    ]


def _link(p: Link) -> list[str]:
    return []


def _pot(p: Pot) -> list[str]:
    return [
        _q(p.r, Dimension.OHM),
        *_opt("", p.tolerance, Dimension.PERCENT),
        *_opt("", p.power, Dimension.WATT),
        p.taper,
        *_opt("mid", p.mid, Dimension.PERCENT),
        f"clockwise {p.clockwise}",
        *_opt("end", p.r_end, Dimension.OHM),
    ]


def _valve(p: Valve) -> list[str]:
    return [
        *_opt("plate", p.v_plate, Dimension.VOLT),
        *_opt("screen", p.v_screen, Dimension.VOLT),
        *_opt("cathode", p.r_cathode or None, Dimension.OHM),
    ]


_FIELDS: dict[type[Part], Callable[[Any], list[str]]] = {
    Winding: _winding,
    Supply: _supply,
    Resistor: _resistor,
    Capacitor: _capacitor,
    Diode: _diode,
    Zener: _zener,
    Link: _link,
    Pot: _pot,
    Valve: _valve,
}


def _terminals(part: Part) -> str:
    words = []
    volts = {tap.node: tap.v_rms for tap in part.taps} if isinstance(part, Winding) else {}
    for word, node in part.terminals:
        words.append(f"{word} {node}")
        if word == "tap":
            words[-1] += f" {_q(volts[node], Dimension.VOLT_AC)}"
    if isinstance(part, Valve):
        words.insert(0, part.type)
    return "  ".join(words) if len(words) > 2 else " ".join(words)


def _columns(entry: Entry) -> tuple[str, str, str, str]:
    """An entry as kind, name, terminals and the rest."""
    if isinstance(entry, Title):
        return "circuit", "", f'"{entry.text}"', ""
    if isinstance(entry, Elsewhere):
        return "elsewhere", "", " ".join(entry.nodes), ""
    if isinstance(entry, Mains):
        fields = [
            _q(entry.v_nominal, Dimension.VOLT),
            _q(entry.frequency, Dimension.HERTZ),
            *_opt("", entry.tolerance, Dimension.PERCENT),
            *_opt("actual", entry.v_actual, Dimension.VOLT),
        ]
        return "mains", "", "  ".join(fields), ""
    fields = _FIELDS[type(entry)](entry)
    fields += [f"year {entry.year}"] if entry.year is not None else []
    fields += [f'note "{entry.note}"'] if entry.note is not None else []
    return entry.kind, entry.name, _terminals(entry), "  ".join(fields)


def _block(lines: list[Line]) -> Iterable[str]:
    """Lines without an empty one among them, their columns aligned."""
    rows = [(_columns(line.entry) if line.entry else None, line.comment) for line in lines]
    parts = [row for row, _ in rows if row is not None and row[1]]
    name = max((len(row[1]) for row in parts), default=0)
    width = min(max((len(row[2]) for row in parts), default=0), _TERMINALS_WIDTH)
    for row, comment in rows:
        text = ""
        if row is not None and row[1]:
            text = f"{row[0]:<9} {row[1]:<{name}}  {row[2]:<{width}}  {row[3]}".rstrip()
        elif row is not None:
            text = f"{row[0]} {row[2]}"
        if comment is not None:
            text = f"{text}  # {comment}".rstrip() if text else f"# {comment}".rstrip()
        yield text


def format_lines(lines: Iterable[Line]) -> str:
    """The canonical text of a file's lines: comments kept, empty lines single.

    Every line must have been read without an error, or what it said is lost.
    """
    blocks = [
        list(group)
        for filled, group in groupby(lines, lambda li: li.entry is not None or li.comment is not None)
        if filled
    ]  # fmt: skip
    return "\n\n".join("\n".join(_block(block)) for block in blocks) + "\n"


def format_circuit(circuit: Circuit) -> str:
    """The canonical text of a circuit that may have been made by program."""
    head: list[Entry] = []
    if circuit.title:
        head.append(Title(circuit.title))
    if circuit.mains is not None:
        head.append(circuit.mains)
    if circuit.elsewhere:
        head.append(Elsewhere(circuit.elsewhere))
    lines = [Line(entry) for entry in head] + [Line(None)] * bool(head)
    return format_lines([*lines, *(Line(part) for part in circuit.parts)])
