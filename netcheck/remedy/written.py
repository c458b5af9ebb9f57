"""A remedy written into the user's own circuit file, with as little of it changed as can be."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, replace

from ..errors import InputError
from ..layout import format_lines, quoted
from ..netlist import Circuit, Part, Pot, Resistor, Valve
from ..parse import Line, parse_circuit
from ..quantity import Dimension, show_part, write_exact
from ..source import Source
from .fitted import with_part
from .option import Option
from .start import Start
from .ways import Kind

_BESIDE = {"name", "span", "marks", "note", "bands"}  # fields that are looked at apart


def written(circuit: Circuit, start: Start, option: Option) -> str:
    """The text of a circuit file with a remedy in it.

    Parameters
    ----------
    circuit : Circuit
        As read from the user's file.
    start : Start
        What the remedy began with.
    option : Option
        The remedy.

    Raises
    ------
    InputError
        If it cannot be written as a circuit file.
    """
    wanted = _wanted(circuit, start, option)
    for edited in (_by_fields, _whole_line):
        text = _text(circuit, wanted, edited)
        found, _ = parse_circuit(Source(circuit.source.name, text), circuit.own_types)
        if found == wanted:
            return text
    raise InputError("this remedy cannot be written as a circuit file: the fault that it works "
                     "around is none that a drawing can show")  # fmt: skip


def _wanted(circuit: Circuit, start: Start, option: Option) -> Circuit:
    """The circuit to write: valves as drawn, and remarks on what was at fault."""
    wanted = option.circuit
    for valve in circuit.of(Valve):
        wanted = with_part(wanted, valve)
    restores = [w for w in (option.way, option.before) if w is not None and w.kind is Kind.RESTORE]
    for name in start.faults:
        was, now = circuit.part(name), wanted.part(name)
        if was is None or now is None or now.note != was.note:
            continue  # the remedy itself is remarked already
        if restores:
            remark = f"put back to {_value(was)}" if _value(was) else "replaced"
        else:
            remark = f"as found; {_value(was)} drawn" if _value(was) else "as found"
        note = f"{was.note}; {remark}" if was.note else remark
        wanted = with_part(wanted, replace(now, note=note))
    return wanted


def _value(part: Part) -> str:
    return show_part(part.r) if isinstance(part, Resistor | Pot) else ""


_Edited = Callable[[str, Part, Part], str]


def _text(circuit: Circuit, wanted: Circuit, edited: _Edited) -> str:
    lines = circuit.source.lines
    behind: dict[int, list[str]] = {}
    last = 0
    for part in wanted.parts:
        was = circuit.part(part.name)
        if was is None:
            behind.setdefault(last, []).append(_indent(lines, last) + _canonical(part))
            continue
        last = was.span.line
        if was != part:
            lines[last - 1] = edited(lines[last - 1], was, part)
    return "\n".join(_with(lines, behind))


def _with(lines: Sequence[str], behind: Mapping[int, Sequence[str]]) -> Iterator[str]:
    for number, line in enumerate(lines, start=1):
        yield line
        yield from behind.get(number, ())


def _indent(lines: Sequence[str], number: int) -> str:
    line = lines[number - 1] if number else ""
    return line[: len(line) - len(line.lstrip())]


def _canonical(part: Part, comment: str | None = None) -> str:
    return format_lines([Line(part, comment)]).rstrip("\n")


# ------------------------------------------------------------------------------ editing

_COMMENT = re.compile(r'((?:[^"#]|"[^"]*")*?)(\s*)(#.*)?$')


def _whole_line(line: str, was: Part, part: Part) -> str:
    """The line anew in its canonical form, its comment kept."""
    match = _COMMENT.match(line)
    comment = match.group(3) if match else None
    text = _canonical(part)
    return _indent([line], 1) + text + (f"  {comment}" if comment else "")


def _by_fields(line: str, was: Part, part: Part) -> str:
    """The line with the fields that differ replaced, taken out or put behind the others."""
    edits: list[tuple[int, int, str]] = []
    added: list[str] = []
    for name in _differing(was, part):
        text = _field(name, part)
        mark = was.marks.get(_MARK.get(name, name))
        if mark is None:
            added += [text] if text else []
            continue
        start, end = mark.column - 1, mark.end - 1
        if name in _KEYED and text is not None:
            text = text.partition(" ")[2]  # the mark leaves its key word out
        if text is None:
            start = len(_KEY_BEFORE.sub("", line[:start])) if name in _KEYED else start
            start = len(line[:start].rstrip())
        edits.append((start, end, text or ""))
    if added:
        edits.append(_insertion(line, was, "  ".join(added)))
    for start, end, text in sorted(edits, reverse=True):
        line = line[:start] + text + line[end:]
    return line.rstrip()


def _insertion(line: str, was: Part, text: str) -> tuple[int, int, str]:
    """Where a text goes: in front of the remark, which comes last, or of the comment."""
    note = was.marks.get("note")
    if note is not None:
        at = len(_KEY_BEFORE.sub("", line[: note.column - 1]))
        return at, at, f"{text}  "
    match = _COMMENT.match(line)
    at = len(match.group(1)) if match else len(line)
    return at, at, f"  {text}"


_KEY_BEFORE = re.compile(r"(?i:note|year)\s*$")
_KEYED = {"note", "year"}
_MARK = {"r_end": "end", "start": "from", "end": "to"}


def _differing(was: Part, part: Part) -> list[str]:
    names = [f.name for f in fields(part) if f.name not in _BESIDE]
    changed = [n for n in names if getattr(was, n) != getattr(part, n)]
    if getattr(was, "bands", ()) and not getattr(part, "bands", ()) and "tolerance" not in changed:
        changed.append("tolerance")  # which the bands have said so far
    # The remark comes last on a line.
    return changed + (["note"] if was.note != part.note else [])


_DIMENSIONS = {"r": Dimension.OHM, "tolerance": Dimension.PERCENT, "power": Dimension.WATT,
               "v_rated": Dimension.VOLT, "v_rms": Dimension.VOLT_AC, "v": Dimension.VOLT,
               "v_zener": Dimension.VOLT, "c": Dimension.FARAD}  # fmt: skip
_WORDS = {"r_end": ("end", Dimension.OHM), "mid": ("mid", Dimension.PERCENT),
          "esr": ("esr", Dimension.OHM), "r_leak": ("leakage", Dimension.OHM)}  # fmt: skip


def _field(name: str, part: Part) -> str | None:
    """A field as it is written; None where it has no value."""
    value = getattr(part, name)
    if value is None:
        return None
    if name == "note":
        return f"note {quoted(value)}"
    if name == "year":
        return f"year {value}"
    if name in _DIMENSIONS:
        return write_exact(value, _DIMENSIONS[name])
    if name in _WORDS:
        word, dimension = _WORDS[name]
        return f"{word} {write_exact(value, dimension)}"
    return str(value)
