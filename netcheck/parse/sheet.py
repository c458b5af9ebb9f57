"""Text to a sheet of readings: what could be read, and everything that is wrong with the rest."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..finding import Finding, Related, Severity, in_reading_order
from ..readings import START, UNSTATED, Conditions, Meter, Reading, Sheet, State
from ..source import NOWHERE, Source, Span
from .entries import (
    Header,
    MeterLine,
    PowerHead,
    Remark,
    Settings,
    SheetEntry,
    SheetLine,
    StageHead,
    Taken,
    UseMeter,
    ValvesHead,
)
from .lines import ENOUGH, ParsedLine, line_parser
from .meters import meters_of
from .taken import POWER_IS_OFF, POWER_IS_ON, build_line, readings_of
from .words import nearest

_CIRCUIT_WORDS = frozenset({"circuit", "winding", "resistor", "capacitor", "diode", "pot", "valve"})
_CIRCUIT_LINES = 3  # that begin like those of a circuit; a sheet has none


@dataclass(frozen=True, slots=True)
class SheetText:
    """A sheet as far as it could be read.

    Parameters
    ----------
    lines : tuple of SheetLine
        One for each line of the text; a line with an error in it has no entry.
    sheet : Sheet
        What could be read; all there is where there is no error among the findings.
    conditions : Conditions
        What holds at the end of the text.
    findings : tuple of Finding
        Every error of the text, in the order of reading.
    """

    lines: tuple[SheetLine, ...]
    sheet: Sheet
    conditions: Conditions
    findings: tuple[Finding, ...]


def parse_sheet(source: Source) -> tuple[Sheet | None, list[Finding]]:
    """Read a sheet of readings.

    Parameters
    ----------
    source : Source
        The text.

    Returns
    -------
    Sheet or None
        None when there is an error in the text.
    list of Finding
        Every error of the text, in the order of reading; with more than `ENOUGH` of them the
        text is read no further.
    """
    text = read_sheet(source)
    return (None if text.findings else text.sheet), list(text.findings)


def read_sheet(source: Source) -> SheetText:
    """Read a sheet of readings line by line, comments kept, as far as that goes.

    Parameters
    ----------
    source : Source
        The text.
    """
    if _is_circuit(source):
        finding = Finding("not-a-sheet", Severity.ERROR, source, NOWHERE,
                          "this is a circuit file, not a sheet of readings",
                          'a sheet begins with the line "readings for FILE"',
                          "name the sheet here; the circuit comes first")  # fmt: skip
        return SheetText((), Sheet("", (UNSTATED,), (), source=source), START, (finding,))
    parsed, findings = line_parser("readings.lark").parse(source)
    reader = _Reader(source)
    if len(findings) <= ENOUGH:
        reader.read(parsed)
    sheet = Sheet(
        reader.header.circuit if reader.header is not None else "",
        reader.meters,
        tuple(reader.readings),
        tuple(reader.notes),
        source,
        reader.header.span if reader.header is not None else NOWHERE,
    )
    found = in_reading_order([*findings, *reader.findings])
    return SheetText(tuple(reader.lines), sheet, reader.conditions, tuple(found))


def _is_circuit(source: Source) -> bool:
    first = [line.split()[0].lower() for line in source.lines if line.strip()]
    kinds = sum(word in _CIRCUIT_WORDS for word in first)
    return kinds >= _CIRCUIT_LINES and "readings" not in first and "as" not in first


class _Reader:
    """Goes through the lines from top to bottom, and knows under which conditions each stands."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.findings: list[Finding] = []
        self.lines: list[SheetLine] = []
        self.header: Header | None = None
        self.meters: tuple[Meter, ...] = (UNSTATED,)
        self.readings: list[Reading] = []
        self.notes: list[str] = []
        self.conditions = START
        self._by_name: dict[str, Meter] = {}
        self._lost: frozenset[str] = frozenset()
        self._unsure = False  # a line that could not be read may have changed the conditions

    def read(self, parsed: Sequence[ParsedLine]) -> None:
        """Read all lines."""
        self._read_meters(parsed)
        for line in parsed:
            self._line(line)
            if len(self.findings) > ENOUGH:
                return
        self._check_whole(parsed)

    def _read_meters(self, parsed: Sequence[ParsedLine]) -> None:
        """Meters first: a reading may name one whose line stands below."""
        found = []
        for line in parsed:
            if line.tree is not None and line.tree.data == "meter":
                entry, _ = build_line(self.source, line, None)
                found += [entry] if isinstance(entry, MeterLine) else []
        meters, problems = meters_of(self.source, found)
        self.findings += problems
        self.meters = meters or (UNSTATED,)
        self._by_name = {meter.name.lower(): meter for meter in meters}
        words = (re.findall(r'[^\s#",;]+', line.text.lower()) for line in parsed
                 if line.broken and line.tree is None)  # fmt: skip
        self._lost = frozenset(word for found in words for word in found)

    def _line(self, line: ParsedLine) -> None:
        state = self.conditions.state
        live = None if self._unsure else state is None or state.live
        entry, problems = build_line(self.source, line, live)
        self.findings += problems
        if any(problem.slug in (POWER_IS_ON, POWER_IS_OFF) for problem in problems):
            self._unsure = True  # once is enough: what follows was most likely read alike
        usable = entry is not None and not problems and not line.broken
        self.lines.append(SheetLine(entry if usable else None, line.comment))
        if entry is not None:  # a broken line may still say which conditions hold
            self._take(line, entry, usable)
        elif line.broken and line.tree is None:
            self._unsure = True

    def _take(self, line: ParsedLine, entry: SheetEntry, usable: bool) -> None:
        if isinstance(entry, Header):
            self._head(line, entry)
        elif isinstance(entry, Remark):
            self.notes += [entry.text] if usable else []
        elif isinstance(entry, Taken):
            self._readings(line, entry, usable)
        elif not isinstance(entry, MeterLine):
            self._heading(line, entry)

    def _head(self, line: ParsedLine, entry: Header) -> None:
        word = Span(line.number, _indent(line) + 1, _indent(line) + 1 + len("readings"))
        if self.header is not None:
            self._error("doubled-line", word, 'there is more than one "readings for" line',
                        "a sheet belongs to one circuit", "keep the right one",
                        (Related(self.header.span, "the first one"),))  # fmt: skip
            return
        if self.conditions.state is not None:
            self._error("misplaced-line", word, "the circuit is named too late",
                        "a sheet begins with the circuit that it belongs to",
                        "make this the first line")  # fmt: skip
        self.header = entry

    def _heading(
        self, line: ParsedLine, entry: UseMeter | StageHead | PowerHead | ValvesHead | Settings
    ) -> None:
        if isinstance(entry, UseMeter):
            meter = self._meter(entry.name, entry.span)
            self.conditions = _using(self.conditions, meter)
        elif isinstance(entry, StageHead):
            self.conditions = self.conditions.headed(entry.stage)
            self._unsure = False
        else:
            self._need_stage(line)
            if isinstance(entry, PowerHead):
                self.conditions = self.conditions.powered(entry.live, entry.discharged)
                self._unsure = False
            elif isinstance(entry, ValvesHead):
                self.conditions = self.conditions.with_valves(entry.out)
            else:
                self.conditions = self.conditions.turned(entry.pots)

    def _readings(self, line: ParsedLine, entry: Taken, usable: bool) -> None:
        self._need_stage(line)
        meter = self._meter(entry.meter or self.conditions.meter, entry.meter_span)
        if usable and meter is not None:
            self.readings += readings_of(entry, self._state, meter)
        self.conditions = self.conditions.read()

    @property
    def _state(self) -> State:
        state = self.conditions.state
        return State() if state is None else state

    def _need_stage(self, line: ParsedLine) -> None:
        """Complain, once, that no stage has been headed; then go on as found."""
        if self.conditions.state is not None:
            return
        if not self._unsure:
            start = _indent(line) + 1
            word = line.text.split()[0]
            self._error("no-stage", Span(line.number, start, start + len(word)),
                        "this stands before any stage",
                        "readings are taken before the repair, as found, or after it, as left",
                        'add the line "as found" before it')  # fmt: skip
        self.conditions = self.conditions.headed("as found")

    def _meter(self, name: str, span: Span) -> Meter | None:
        """The meter of a name, the first of the sheet for none; an unknown one is an error."""
        if not name:
            return self.meters[0]
        meter = self._by_name.get(name.lower())
        if meter is None and name.lower() not in self._lost:
            near = nearest(name, [one.name for one in self._by_name.values()])
            self._error("unknown-meter", span, f'there is no meter "{name}" in this sheet', "",
                        f'did you mean "{near}"?' if near else
                        f'add the line "meter {name} 10 Mohm"')  # fmt: skip
        return meter

    def _check_whole(self, parsed: Sequence[ParsedLine]) -> None:
        if self.header is not None or any(
            line.broken and "readings" in line.text.lower().split()[:2] for line in parsed
        ):
            return
        if all(line.tree is None and not line.broken for line in parsed):
            self._error("empty-file", NOWHERE, "the file holds no reading",
                        "a sheet begins with the circuit that it belongs to",
                        'write the line "readings for FILE", which names the circuit')  # fmt: skip
        elif not self._mistyped_head(parsed):
            self._error("missing-line", NOWHERE, "the sheet does not say which circuit it is for",
                        "what a name is, node or part, is known from the circuit",
                        'begin it with the line "readings for FILE"')  # fmt: skip

    def _mistyped_head(self, parsed: Sequence[ParsedLine]) -> bool:
        """Whether a first word that was complained of was meant for this line."""
        return any(
            line.broken and line.tree is None and nearest(line.text.split()[0], ["readings"])
            for line in parsed
            if line.text.strip()
        )

    def _error(self, slug: str, span: Span, what: str, why: str, fix: str,
               related: tuple[Related, ...] = ()) -> None:  # fmt: skip
        self.findings.append(
            Finding(slug, Severity.ERROR, self.source, span, what, why, fix, related)
        )


def _using(conditions: Conditions, meter: Meter | None) -> Conditions:
    """Readings are taken with a meter from here on."""
    if meter is None:
        return conditions
    return Conditions(conditions.state, meter.name, conditions.turns)


def _indent(line: ParsedLine) -> int:
    return len(line.text) - len(line.text.lstrip())
