"""A circuit as text in its canonical form, which reads back as the same circuit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from itertools import groupby
from typing import Any

from .bands import read_bands
from .netlist import (
    Capacitor,
    Circuit,
    Diode,
    HighTension,
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
from .parse import Elsewhere, Entry, Line, Title
from .quantity import Dimension, write_exact

_MOST_ALIGNED = 30  # columns; longer terminals would push all values of a block off the screen
_TWO_ENDS = 2


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
        figures = f"{Decimal(repr(p.v_rms)).normalize():f}"
        volts = f"{figures}-0-{figures} Vac"
    return [
        volts,
        *_opt("", p.tolerance, Dimension.PERCENT),
        *_opt("at", p.i_load, Dimension.AMPERE),
        *_opt("source", p.r_source, Dimension.OHM),
    ]


def _supply(p: Supply) -> list[str]:
    return [
        _q(p.v, Dimension.VOLT),
        *_opt("", p.tolerance, Dimension.PERCENT),
        *_opt("source", p.r_source or None, Dimension.OHM),
    ]


def _resistor(p: Resistor) -> list[str]:
    value, tolerance = _q(p.r, Dimension.OHM), p.tolerance
    if p.bands:
        r, by_band = read_bands(p.bands)
        if float(r) == p.r:  # else the value was changed since the bands were read
            value = f"bands {' '.join(p.bands)}"
            tolerance = None if p.tolerance == by_band else p.tolerance
    return [
        value,
        *_opt("", tolerance, Dimension.PERCENT),
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


def _tremolo(p: Tremolo) -> list[str]:
    return [
        _q(p.v_pp, Dimension.VOLT_PP),
        _q(p.frequency, Dimension.HERTZ),
        *_opt("source", p.r_source or None, Dimension.OHM),
    ]


def _valve(p: Valve) -> list[str]:
    return [
        *_opt("plate", p.v_plate, Dimension.VOLT),
        *_opt("screen", p.v_screen, Dimension.VOLT),
        *_opt("cathode", p.r_cathode or None, Dimension.OHM),
        *(
            f"draws {_q(one.i_cathode, Dimension.AMPERE)} at {_q(one.v_grid, Dimension.VOLT)}"
            for one in p.readings
        ),
    ]


_FIELDS: dict[type[Part], Callable[[Any], list[str]]] = {
    Winding: _winding,
    Supply: _supply,
    Resistor: _resistor,
    Capacitor: _capacitor,
    Diode: _diode,
    Zener: _zener,
    Link: lambda _: [],
    Pot: _pot,
    Tremolo: _tremolo,
    Valve: _valve,
}


def _terminals(part: Part) -> str:
    if isinstance(part, Winding):
        taps = (f"tap {tap.node} {_q(tap.v_rms, Dimension.VOLT_AC)}" for tap in part.taps)
        ends = [f"{word} {node}" for word, node in part.terminals if word != "tap"]
        words = [*ends[:-1], *taps, ends[-1]]
    else:
        words = [f"{word} {node}" for word, node in part.terminals]
    if isinstance(part, Valve):
        words.insert(0, part.type)
    # "from a to b" is read as one, "plus a  minus b" as two.
    is_phrase = len(words) == _TWO_ENDS and words[0].startswith("from ")
    return (" " if is_phrase else "  ").join(words)


def quoted(text: str) -> str:
    """A text in the quotes of either language.

    Raises
    ------
    ValueError
        If it holds what cannot be quoted.
    """
    if '"' in text or "\n" in text:
        raise ValueError(f"a text in a file holds no quotation mark or line end: {text!r}")
    return f'"{text}"'


def _part_words(part: Part) -> tuple[str, str, str, str]:
    """A part as kind, name, terminals and the rest."""
    fields = _FIELDS[type(part)](part)
    fields += [f"year {part.year}"] if part.year is not None else []
    fields += [f"note {quoted(part.note)}"] if part.note is not None else []
    return part.kind, part.name, _terminals(part), "  ".join(fields)


def _whole_line(entry: Title | Elsewhere | Mains | HighTension) -> str:
    """A line that is about no part."""
    if isinstance(entry, Title):
        return f"circuit {quoted(entry.text)}"
    if isinstance(entry, Elsewhere):
        return f"elsewhere {' '.join(entry.nodes)}"
    if isinstance(entry, HighTension):
        fields = [
            *(f"{_q(v, Dimension.VOLT)} at {_q(i, Dimension.AMPERE)}" for v, i in entry.readings),
            *_opt("source", entry.r_source, Dimension.OHM),
            *_opt("at", entry.i_stated, Dimension.AMPERE),
            *([entry.rectifier] if entry.rectifier is not None else []),
            *(["standby"] if entry.standby else []),
        ]
        return " ".join(["hightension", *fields])
    fields = [
        _q(entry.v_nominal, Dimension.VOLT),
        _q(entry.frequency, Dimension.HERTZ),
        *_opt("", entry.tolerance, Dimension.PERCENT),
        *_opt("actual", entry.v_actual, Dimension.VOLT),
    ]
    return f"mains {' '.join(fields)}"


def _block(lines: Sequence[Line]) -> Iterable[str]:
    """Lines without an empty one among them, their columns aligned."""
    rows = [_part_words(line.entry) for line in lines if isinstance(line.entry, Part)]
    name = max((len(row[1]) for row in rows), default=0)
    lengths = (len(terminals) for _, _, terminals, _ in rows)
    width = max((length for length in lengths if length <= _MOST_ALIGNED), default=0)
    words = iter(rows)
    for line in lines:
        text = ""
        if isinstance(line.entry, Part):
            kind, designator, terminals, fields = next(words)
            text = f"{kind:<9} {designator:<{name}}  {terminals:<{width}}  {fields}".rstrip()
        elif line.entry is not None:
            text = _whole_line(line.entry)
        if line.comment is not None:
            text = f"{text}  # {line.comment}".strip()
        yield text


def format_lines(lines: Iterable[Line]) -> str:
    """The canonical text of a file's lines: comments kept, empty lines single.

    Every line must have been read without an error, or what it said is lost.
    """
    groups = groupby(lines, lambda line: line.entry is not None or line.comment is not None)
    blocks = ["\n".join(_block(list(group))) for filled, group in groups if filled]
    return "\n\n".join(blocks) + "\n"


def format_circuit(circuit: Circuit) -> str:
    """The canonical text of a circuit that may have been made by program."""
    head: list[Entry] = []
    if circuit.title:
        head.append(Title(circuit.title))
    if circuit.mains is not None:
        head.append(circuit.mains)
    if circuit.high_tension is not None:
        head.append(circuit.high_tension)
    if circuit.elsewhere:
        head.append(Elsewhere(circuit.elsewhere))
    lines = [Line(entry) for entry in head] + [Line(None)] * bool(head)
    return format_lines([*lines, *(Line(part) for part in circuit.parts)])
