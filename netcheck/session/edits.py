"""Changes to the text of a sheet: lines added, lines taken back."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from ..parse.entries import Header, Measure, MeterLine, SheetEntry, SheetLine, StageHead, Taken
from ..parse.sheet import SheetText
from ..readings import ASSUMED, Function, Reading
from ..sheetlayout import append_reading, format_sheet_lines
from ..sheetlayout.lines import Indent, line_text
from ..source import Span

TAKEN_BACK = "taken back: "
"""How the comment begins that keeps a line which no longer counts."""

USUAL_METER = MeterLine(
    "dmm", 10e6, accuracy={of: ASSUMED[of] for of in (Function.DC_VOLTS, Function.OHMS)}
)
"""The usual hand-held digital multimeter, for who has no other at hand."""


def new_sheet(circuit: str, meter: MeterLine) -> str:
    """The text of a sheet before its first reading.

    Parameters
    ----------
    circuit : str
        The circuit file, as it is found from the sheet.
    meter : MeterLine
        The meter.

    Raises
    ------
    ValueError
        If the name of the circuit cannot be written.
    """
    entries = (Header(circuit), None, meter, None, StageHead("as found"))
    return format_sheet_lines([SheetLine(entry) for entry in entries])


def with_line(content: SheetText, text: str, line: str, entry: SheetEntry | None = None) -> str:
    """A text with one more line at its end, moved in as the lines before it are.

    Parameters
    ----------
    content : SheetText
        What `text` says.
    text : str
        The text.
    line : str
        The line as typed.
    entry : SheetEntry or None
        What it says, where that is known.
    """
    whole = _ended(text)
    if content.conditions.state is None and not isinstance(entry, Header | MeterLine | StageHead):
        whole += "\nas found\n"
    indent = Indent()
    for known in content.lines:
        indent.of(known.entry)
    return f"{whole}{' ' * indent.of(entry)}{line.strip()}\n"


def headed(text: str, asked: Reading) -> str:
    """A text that ends with the conditions of a reading, but not yet with the reading."""
    with_reading = append_reading(text, replace(asked, nominal=1.0, last_digit=1.0, note=None))
    return "".join(with_reading.splitlines(keepends=True)[:-1])


def without(content: SheetText, text: str, spans: Collection[Span]) -> str:
    """A text in which some readings no longer count: their lines are kept as comments.

    Parameters
    ----------
    content : SheetText
        What `text` says.
    text : str
        The text.
    spans : collection of Span
        Where the readings stand. What else was read on the same line stays.
    """
    numbers = {span.line for span in spans}
    lines = []
    for number, line in enumerate(_ended(text).split("\n"), start=1):
        if number not in numbers:
            lines.append(line)
            continue
        indent = line[: len(line) - len(line.lstrip())]
        lines.append(f"{indent}# {TAKEN_BACK}{line.strip()}")
        entry = content.lines[number - 1].entry
        kept = [m for m in _measures(entry) if m.span not in spans]
        if kept and isinstance(entry, Taken):
            lines.append(indent + line_text(replace(entry, measures=tuple(kept))))
    return "\n".join(lines)


def last_taken(lines: Sequence[SheetLine]) -> int | None:
    """Number of the last line that holds a reading, None if there is none. [count]"""
    taken = [n for n, line in enumerate(lines, start=1) if isinstance(line.entry, Taken)]
    return taken[-1] if taken else None


def spans_on(content: SheetText, number: int) -> list[Span]:
    """Where the readings of a line stand."""
    return [measure.span for measure in _measures(content.lines[number - 1].entry)]


def _measures(entry: SheetEntry | None) -> tuple[Measure, ...]:
    return entry.measures if isinstance(entry, Taken) else ()


def _ended(text: str) -> str:
    return text if not text or text.endswith("\n") else f"{text}\n"
