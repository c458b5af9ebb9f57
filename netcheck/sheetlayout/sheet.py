"""A sheet of readings, or one more reading, as lines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ..netlist import GROUND
from ..parse.entries import (
    Header,
    Heading,
    Measure,
    MeterLine,
    Place,
    PowerHead,
    Remark,
    Settings,
    SheetEntry,
    SheetLine,
    StageHead,
    Taken,
    ValvesHead,
    Word,
)
from ..parse.sheet import read_sheet
from ..readings import (
    START,
    UNSTATED,
    Conditions,
    Kind,
    Meter,
    Position,
    Reading,
    Sheet,
    State,
    dimension_of,
)
from ..source import Source
from .lines import Indent, format_sheet_lines, line_text, meter_text

_LONGEST_METER = 90  # columns of a meter line that is made by program

_WORDS: dict[Kind, Word] = {
    Kind.RIPPLE: "ripple",
    Kind.CURRENT: "cathode",
    Kind.CATHODE: "cathode",
    Kind.PLATE: "plate",
    Kind.SCREEN: "screen",
    Kind.LIFTED: "lifted",
    Kind.CAPACITANCE: "lifted",
    Kind.ESR: "esr",
    Kind.FORWARD: "forward",
    Kind.REVERSE: "reverse",
}
_ON_ONE_LINE = (
    frozenset({"cathode", "plate", "screen", "grid"}),
    frozenset({"forward", "reverse"}),
)


def _headings(now: Conditions, wanted: State) -> tuple[list[Heading], Conditions]:
    """The headings that bring about the conditions of a reading, and what holds then."""
    found: list[Heading] = []
    state = now.state
    # Only a stage that is headed again leaves a pot anywhere.
    if (
        state is None
        or state.stage != wanted.stage
        or state.pots.keys() - wanted.pots.keys()
        or (wanted.turn > state.turn and not wanted.pots)
    ):
        now, state = _with(found, now, StageHead(wanted.stage))
    if state.valves_out != wanted.valves_out:
        now, state = _with(found, now, ValvesHead(wanted.valves_out))
    if (state.live, state.discharged) != (wanted.live, wanted.discharged):
        now, state = _with(found, now, PowerHead(wanted.live, wanted.discharged))
    pots = _turned(state, wanted)
    if pots:
        now, state = _with(found, now, Settings(pots))
    return found, now


def _with(
    found: list[Heading], now: Conditions, heading: StageHead | ValvesHead | PowerHead | Settings
) -> tuple[Conditions, State]:
    found.append(heading)
    if isinstance(heading, StageHead):
        now = now.headed(heading.stage)
    elif isinstance(heading, ValvesHead):
        now = now.with_valves(heading.out)
    elif isinstance(heading, PowerHead):
        now = now.powered(heading.live, heading.discharged)
    else:
        now = now.turned(heading.pots)
    return now, now.state if now.state is not None else State()


def _turned(state: State, wanted: State) -> dict[str, Position]:
    """The pots that have to be named: those that stand elsewhere, and those set anew."""
    found = {}
    for name, position in wanted.pots.items():
        before = state.pots.get(name)
        is_anew = wanted.turn >= state.turn and position.turn == wanted.turn
        if (
            before is None
            or not before.same_place(position)
            or (is_anew and before.turn != position.turn)
        ):
            found[name] = position
    return found or (dict(wanted.pots) if wanted.turn > state.turn else {})


def _taken(reading: Reading, meter: str | None) -> Taken:
    """The line of one reading."""
    word = _WORDS.get(reading.kind, "")
    names: tuple[str, ...] = (reading.part,)
    place: Place = "part"
    if reading.kind is Kind.MAINS:
        place, names = "mains", ()
    elif reading.part:
        if reading.kind is Kind.DC and reading.minus == GROUND and not reading.plus:
            word = "grid"
        is_open = reading.kind is Kind.OHMS and reading.minus == GROUND and not reading.plus
        if (word and word != "ripple") or is_open:
            place = ""
    elif reading.minus != GROUND:
        place, names = "between", (reading.plus, reading.minus)
    else:
        names = (reading.plus,)
        place = "node" if reading.kind is Kind.OHMS else ""
    measure = Measure(word, reading.nominal, reading.last_digit, dimension_of(reading.kind))
    return Taken(place, names, (measure,), meter, reading.note)


def _joins(last: SheetEntry | None, new: Taken) -> bool:
    """Whether a reading goes on the line of the one before: both of one valve, or one diode."""
    if not isinstance(last, Taken):
        return False
    had, word = {measure.word for measure in last.measures}, new.measures[0].word
    return (
        (last.place, last.names, last.meter, last.note)
        == (new.place, new.names, new.meter, new.note)
        and any({*had, word} <= together for together in _ON_ONE_LINE)
        and word not in had
    )


def format_sheet(sheet: Sheet) -> str:
    """The canonical text of a sheet that may have been made by program.

    Raises
    ------
    ValueError
        If a name or a note in it cannot be written, or a reading was taken with a meter that
        is not among those of the sheet.
    """
    lines = [SheetLine(Header(sheet.circuit)), SheetLine(None)]
    if sheet.meters != (UNSTATED,):
        lines += [SheetLine(line) for meter in sheet.meters for line in _meter_lines(meter)]
        lines.append(SheetLine(None))
    lines += [SheetLine(Remark(note)) for note in sheet.notes]
    now = START
    for reading in sheet.readings:
        headings, now = _headings(now, reading.state)
        if any(isinstance(heading, StageHead) for heading in headings):
            lines.append(SheetLine(None))
        lines += [SheetLine(heading) for heading in headings]
        meter = _named_meter(reading, sheet, sheet.meters[0])
        taken, last = _taken(reading, meter), lines[-1].entry
        if isinstance(last, Taken) and _joins(last, taken):
            lines[-1] = SheetLine(replace(last, measures=last.measures + taken.measures))
        else:
            lines.append(SheetLine(taken))
        now = now.read()
    return format_sheet_lines(lines)


def _named_meter(reading: Reading, sheet: Sheet, usual: Meter) -> str | None:
    """The meter that the line of a reading has to name, None for the usual one."""
    if reading.meter not in sheet.meters:
        raise ValueError(f"the meter {reading.meter.name!r} is not among those of the sheet")
    return None if reading.meter == usual else reading.meter.name


def _meter_lines(meter: Meter) -> Iterator[MeterLine]:
    """A meter on one line, or on one for each function where that would be too long."""
    r_input = meter.r_input if meter.ohm_per_volt is None else None
    whole = MeterLine(meter.name, r_input, meter.ohm_per_volt, meter.accuracy, meter.v_test)
    if len(meter_text(whole)) <= _LONGEST_METER:
        yield whole
        return
    yield replace(whole, accuracy={})
    for function, accuracy in meter.accuracy.items():
        yield MeterLine(meter.name, accuracy={function: accuracy})


def append_reading(text: str, reading: Reading) -> str:
    """The text of a sheet with one more reading at its end.

    What stands there is kept letter for letter. The headings that the reading needs are put in
    front of it: stage, valves, power, pot positions. Pots are named where they stand elsewhere,
    or where the reading belongs to a later turn than the text's last one; in a new turn only
    those whose position carries the number of that turn, if any does.

    Parameters
    ----------
    text : str
        A sheet without errors, with or without readings.
    reading : Reading
        The reading, taken with one of the sheet's meters.

    Returns
    -------
    str
        A text that reads back with the reading as its last one. Its turn is counted on in the
        text, and its nodes are open again where the line names a part.

    Raises
    ------
    ValueError
        If the text has an error in it, the meter is none of the sheet's, or something in the
        reading cannot be written.
    """
    before = read_sheet(Source("sheet", text))
    if before.findings:
        raise ValueError(f"the sheet has an error in it: {before.findings[0].what}")
    known = {meter.name: meter for meter in before.sheet.meters}
    usual = known[before.conditions.meter] if before.conditions.meter else before.sheet.meters[0]
    headings, _ = _headings(before.conditions, reading.state)
    taken = _taken(reading, _named_meter(reading, before.sheet, usual))
    indent = Indent()
    for line in before.lines:
        indent.of(line.entry)
    gap = "\n" if text and not text.endswith("\n") else ""
    new = ""
    for entry in (*headings, taken):
        gap += "\n" if isinstance(entry, StageHead) and not new else ""
        new += f"{' ' * indent.of(entry)}{line_text(entry)}\n"
    return text + gap + new
