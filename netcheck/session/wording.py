"""What a session says: questions, how the suspects stand, what they come to."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from ..diagnose.diagnosis import Diagnosis, Verdict
from ..diagnose.evidence import evidence, odd_readings
from ..diagnose.gain import NextReading
from ..diagnose.suspects import Suspect
from ..diagnose.words import (
    listed,
    position_words,
    request,
    shown,
    subject,
    suspect_name,
    suspect_words,
)
from ..graph import Section
from ..parse.entries import (
    MeterLine,
    PowerHead,
    Remark,
    Settings,
    SheetEntry,
    StageHead,
    UseMeter,
    ValvesHead,
)
from ..readings import ANYWHERE, DIODE_TEST, OVERLOAD, WITH_OVERLOAD, Kind, Reading, State
from ..readout.scales import V_ADDED, overload
from .session import Reached

LIVE = (
    "Power on: the chassis is live, with lethal voltages. One hand, insulated probes; clips go "
    "on with the power off."
)
OFF = (
    "Power off, and the mains plug out. Discharge the reservoir capacitors and check with a "
    "meter before you touch anything."
)
HELP = """\
Type what the meter shows: -44.0 or -44.0 V, 26.8k, 35.2 mA, OL. Instead of it:
  grid1 -44.0 V       any other reading, as a line of the sheet; the same thing under
  across R3 26.8k     the same conditions corrects an earlier one
  RV1 at clockwise    where a pot stands now; also anticlockwise, middle, 30%
  power off           also: power on, valves out, valves in, as left, note "..."
  skip                do not ask for this again
  undo                take the last reading back; it stays in the file as a comment
  more                ask on, though the end is reached
  list, why           the readings so far; what speaks for the first suspect
  quit                end; every reading noted is in the file already"""

_BAR = 24  # characters of a bar that stands for certainty [count]
_SHOWN = 4  # suspects [count]
_LEAST = 0.02  # a suspect less probable is one of the others [1]
_STANDS_OUT = 0.2  # a suspect from here on does [1]
_COMPARED = 12  # suspects that are looked at for the two that a reading tells apart [count]
_APART = 1.0  # widths by which two suspects have to differ to be told apart [1]
_WIDE = 3.0  # times the width of a sound section's range [1]
_NOTHING = 5e-4  # less is nothing to most meters [V]


# ----------------------------------------------------------------------- the question


def asking(section: Section, question: NextReading) -> str:
    """What to do."""
    text = request(section, question.candidate.reading)
    return f"{text[0].upper()}{text[1:]}."


def reason(question: NextReading, diagnosis: Diagnosis) -> str:
    """Why that, and what to expect."""
    told = _told_apart(question, diagnosis)
    reading = question.candidate.reading
    sound = question.if_fault.get(())
    if sound is None:
        return f"{told} Expected: {_span(reading, question.likely)}."
    return f"{told} If nothing is wrong: {_span(reading, sound)}."


def _told_apart(question: NextReading, diagnosis: Diagnosis) -> str:
    """The two suspects that the reading tells apart best, or those that it shows by themselves."""
    reading = question.candidate.reading
    known = [s for s in diagnosis.suspects if s.parts in question.if_fault][:_COMPARED]
    best, pair = 0.0, None
    for a, b in itertools.combinations(known, 2):
        apart = _apart(reading, question.if_fault[a.parts], question.if_fault[b.parts])
        worth = a.probability * b.probability * min(apart, 3.0)
        if apart > _APART and worth > best:
            best, pair = worth, (a, b)
    if pair is not None:
        names = [f"{_name(s, diagnosis)} (about {_value(reading, question.if_fault[s.parts][1])})"
                 for s in pair]  # fmt: skip
        return f"It tells {names[0]} from {names[1]}."
    shows = _shown_alone(question, diagnosis)
    if not shows:
        return "It narrows the suspects down."
    return f"It shows whether {listed(shows, 'or')} is at fault."


def _shown_alone(question: NextReading, diagnosis: Diagnosis) -> list[str]:
    """The suspects under which the reading may be almost anything, as against all others."""
    reading = question.candidate.reading
    widths = {parts: _width(reading, likely) for parts, likely in question.if_fault.items()}
    least = widths.get((), min(widths.values(), default=0.0))
    wide = [s for s in diagnosis.suspects
            if s.parts and widths.get(s.parts, 0.0) > _WIDE * least]  # fmt: skip
    return [_name(s, diagnosis) for s in wide[:3]]


def _apart(reading: Reading, a: Sequence[float], b: Sequence[float]) -> float:
    """How far apart two ranges are, in their widths. [1]"""
    width = 0.5 * (_width(reading, a) + _width(reading, b))
    return abs(_scale(reading, a[1]) - _scale(reading, b[1])) / width


def _width(reading: Reading, likely: Sequence[float]) -> float:
    return max(abs(_scale(reading, likely[2]) - _scale(reading, likely[0])), 1e-3)


def _scale(reading: Reading, value: float) -> float:
    """Volts as they are, what spans decades as a logarithm."""
    if reading.kind in DIODE_TEST:
        return math.log(max(value, 0.0) + V_ADDED)
    return value if reading.kind is Kind.DC else math.log(max(value, 1e-9))


def _name(suspect: Suspect, diagnosis: Diagnosis) -> str:
    if not suspect.parts:
        return "a sound section"
    return suspect_name(suspect, diagnosis.readout.readings)


def _value(reading: Reading, value: float) -> str:
    if reading.kind in {Kind.DC, *DIODE_TEST} and abs(value) < _NOTHING:
        value = 0.0
    # Of what is likely, which is a range.
    if reading.kind in WITH_OVERLOAD and value > 0.98 * overload(reading):
        return "OL"
    return shown(reading.kind, value)


def _span(reading: Reading, likely: Sequence[float]) -> str:
    low, high = _value(reading, likely[0]), _value(reading, likely[2])
    return f"about {low}" if low == high else f"{low} to {high}"


# ----------------------------------------------------------------------- the suspects


def standing(diagnosis: Diagnosis) -> list[str]:
    """How the suspects stand, a few lines."""
    suspects = [s for s in diagnosis.suspects if s.probability >= _LEAST][:_SHOWN]
    first = next((s for s in diagnosis.suspects if s.parts), None)
    if first is not None and max(s.probability for s in diagnosis.suspects) < _STANDS_OUT:
        return [f"Nothing stands out yet; most probable is {_name(first, diagnosis)}, "
                f"{_percent(first.probability)}."]  # fmt: skip
    rows = [(suspect_name(s, diagnosis.readout.readings), s.probability) for s in suspects]
    rest = 1.0 - sum(s.probability for s in suspects)
    others = len(diagnosis.suspects) - len(suspects)
    if others and rest >= 0.005:
        rows.append((f"{others} other{'s' if others > 1 else ''}", rest))
    width = max((len(name) for name, _ in rows), default=0)
    return [f"{name:<{width}}  {_bar(share)} {_percent(share):>5}" for name, share in rows]


def _bar(share: float) -> str:
    filled = round(_BAR * share)
    return "#" * filled + "." * (_BAR - filled)


def _percent(share: float) -> str:
    return "> 99%" if share >= 0.995 else f"{share:.0%}"


def verdict(diagnosis: Diagnosis, section: Section, reached: Reached) -> Iterator[str]:
    """What the session comes to, in paragraphs."""
    readings = diagnosis.readout.readings
    if reached is Reached.NOTHING_MORE:
        yield "No reading that is left would tell much more."
    group = diagnosis.group
    if diagnosis.verdict is Verdict.SOUND:
        yield (f"Nothing wrong ({_percent(group[0].probability)}): all that was read agrees with "
               "the drawing, within its tolerances.")  # fmt: skip
    elif diagnosis.verdict is Verdict.NAMED:
        yield f"{_percent(group[0].probability)}: {suspect_words(section, group[0], readings)}."
        if group[0].mode.hypothesis.reading is not None:
            yield "Read it again: what you type then takes the place of the first."
        yield from _explained(group[0])
    elif diagnosis.verdict is Verdict.NONE_FITS:
        yield "Nothing that is thought of here explains these readings."
        for odd in odd_readings(diagnosis)[:3]:
            reading = readings[odd.reading]
            yield (f"  {_where(reading)}: {_value(reading, odd.measured)} read, "
                   f"{_span(reading, odd.wanted)} by all the others")  # fmt: skip
        yield ("Read again what is odd here; then look for what is not drawn: a part added, a "
               "wire to another place.")  # fmt: skip
    else:
        lead = ("It may be sound, or one of these:" if diagnosis.verdict is Verdict.UNDETERMINED
                else "One of these, and the readings do not tell which:")  # fmt: skip
        yield lead
        for suspect in group:
            words = suspect_words(section, suspect, readings) if suspect.parts else "nothing wrong"
            yield f"  {_percent(suspect.probability):>5}  {words}"


def _explained(suspect: Suspect) -> Iterator[str]:
    others = [explanation.text for explanation in suspect.explanations[1:]]
    if others:
        yield f"That would do it too: {listed(others, 'or')}."


def why(diagnosis: Diagnosis) -> list[str]:
    """What speaks for the first suspect that is a fault, as against a sound section."""
    first = next((s for s in diagnosis.suspects if s.parts), None)
    if first is None or not diagnosis.readout.readings:
        return ["Nothing has been read yet."]
    readings = diagnosis.readout.readings
    name = _name(first, diagnosis)
    lines = [f"{name}, {_percent(first.probability)}, as against a sound section:"]
    for one in evidence(diagnosis, first):
        reading = readings[one.reading]
        fault = "" if one.fault is None else f", {_value(reading, one.fault)} with the fault"
        odds = 2.0 ** min(abs(one.bits), 20.0)
        side = "for it" if one.bits > 0.0 else "against it"
        lines.append(f"  {_where(reading)}: {_value(reading, one.measured)} read; sound would be "
                     f"{_span(reading, one.sound)}{fault}; {odds:.3g} to 1 {side}")  # fmt: skip
    if len(lines) == 1:
        lines.append("  no reading speaks clearly for it, or against it")
    return lines


# ------------------------------------------------------------------------- the readings


def noted(readings: Sequence[Reading]) -> str:
    """Readings with the conditions that they were noted under."""
    values = ", ".join(f"{subject(r)} {_exact(r)}" for r in readings)
    where = conditions(readings[0].state, readings[0].kind not in ANYWHERE)
    return f"{values}  ({where})"


def _exact(reading: Reading) -> str:
    """A value to the digit that was read."""
    size, digit = abs(reading.nominal), reading.last_digit
    digits = 3
    if 0.0 < size < OVERLOAD and digit > 0.0:
        digits = max(1, math.floor(math.log10(size)) - round(math.log10(digit)) + 1)
    return shown(reading.kind, reading.nominal, min(digits, 9))


def conditions(state: State, with_pots: bool = True) -> str:
    """Conditions in words: "power on, RV1 fully clockwise"."""
    words = ["power on" if state.live else "power off"]
    words += ["output valves out"] if state.valves_out else []
    words += [position_words(state)] if with_pots and state.pots else []
    return ", ".join(words)


def _where(reading: Reading) -> str:
    place = position_words(reading.state, short=True) if reading.kind not in ANYWHERE else ""
    return f"{subject(reading)}, {place}" if place else subject(reading)


def listing(readings: Sequence[Reading]) -> list[str]:
    """The readings so far, one a line."""
    if not readings:
        return ["Nothing has been read yet."]
    return [f"{number:>3}  {noted([reading])}" for number, reading in enumerate(readings, start=1)]


def counted(number: int) -> str:
    """A number of readings: "no reading", "1 reading", "12 readings"."""
    return "no reading" if not number else f"{number} reading{'s' if number > 1 else ''}"


def was_set(entry: SheetEntry | None, state: State) -> str:
    """What a line that is no reading did."""
    if isinstance(entry, Settings):
        return f"now: {position_words(state)}"
    if isinstance(entry, ValvesHead | PowerHead):
        return f"now: {conditions(state)}"
    if isinstance(entry, StageHead):
        return f'from here on "{entry.stage}": {conditions(state)}'
    if isinstance(entry, UseMeter):
        return f"from here on with the meter {entry.name}"
    if isinstance(entry, MeterLine):
        return f"noted: the meter {entry.name}"
    return "noted" if isinstance(entry, Remark) else "noted as a comment"
