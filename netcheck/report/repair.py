"""Whether a repair did what it was to do, for the terminal."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from ..compare import Change, IdleLeft, Outcome, Repair
from ..compare import Verdict as Agreement
from ..diagnose.words import listed, place, position_words, subject
from ..quantity import Dimension, show
from ..readings import OVERLOAD, Kind
from ..valves.practice import USUAL_WINDOW
from .comparison import deviation_words, figure, measured_words
from .tables import paragraph, table

_PERCENT = frozenset({Kind.OHMS, Kind.LIFTED, Kind.CAPACITANCE, Kind.ESR})
_NAMED = 6  # readings that are named in a sentence [count]


def closing(r: Repair) -> list[str]:
    """The verdict on the job: a sentence, and below it what speaks for and against."""
    lines = paragraph(f"The job: {outcome_words(r)}")
    for text in closing_words(r):
        lines += paragraph(text, "    ", "  ")
    return lines


def closing_words(r: Repair) -> list[str]:
    """What speaks for and against closing the job, one sentence each."""
    return [_left_words(r), changes_words(r), *_idle_words(r)]


def outcome_words(r: Repair) -> str:
    """Whether the job is closed, of which the first words name it."""
    if r.outcome is Outcome.CLOSED:
        return "closed. The repair did what was predicted, and nothing is left to explain."
    if r.outcome is Outcome.UNREAD:
        wanted = []
        if r.as_left.verdict is Agreement.NOTHING:
            wanted.append("a reading of the bias section")
        if r.unread:
            wanted.append(f"the cathode current of {listed(r.unread)}")
        return f"not closed yet. Nothing speaks against it; read {listed(wanted)} as left."
    return "not closed."


def _left_words(r: Repair) -> str:
    if r.as_left.verdict is Agreement.NOTHING:
        return "As left no reading was taken that can be predicted."
    if r.as_left.verdict is Agreement.CONSISTENT:
        return "As left the readings agree with the repaired circuit."
    return "As left the readings do not agree with the repaired circuit: see below."


def changes_words(r: Repair) -> str:
    """Whether readings changed as predicted."""
    count = len(r.changes)
    if not count:
        return ("No reading was taken before and after under the same conditions: the change "
                "itself cannot be judged.")  # fmt: skip
    if r.joint.agrees:
        many = "The one reading" if count == 1 else f"All {count} readings"
        return f"{many} taken before and after changed as the repair predicts."
    odd = [place(one.left) for one in sorted(r.changes, key=lambda c: -abs(c.deviation))
           if one.is_outside]  # fmt: skip
    told = f"Changed otherwise than the repair predicts: {'; '.join(odd[:_NAMED])}" if odd else (
        "Together the readings changed otherwise than the repair predicts, none by much"
        )  # fmt: skip
    return f"{told}."


def _idle_words(r: Repair) -> Iterator[str]:
    for one in r.idle:
        yield _valve_words(r, one)
    if r.matched is not None and not r.matched.matched:
        yield (f"{listed([one.valve.name for one in r.idle])} are "
               f"{show(r.matched.spread, Dimension.AMPERE)} apart, more than the "
               f"{show(r.matched.allowed, Dimension.AMPERE)} that are acceptable.")  # fmt: skip


def _valve_words(r: Repair, one: IdleLeft) -> str:
    judged, (low, high) = one.judged, r.window or USUAL_WINDOW
    wanted = f"{low * 100:g} to {high * 100:g} % {'wanted' if r.window else 'that are usual'}"
    where = "within" if one.accepted else "outside of"
    return (f"{one.valve.name} idles at {show(judged.i_cathode, Dimension.AMPERE)}, "
            f"{show(judged.p_plate.nominal, Dimension.WATT)} on the plate, "
            f"{judged.of_limit.nominal * 100:.0f} % of the limit: {where} the {wanted}."
            )  # fmt: skip


def change_table(r: Repair) -> list[str]:
    """Each reading as found, the change predicted, what it should be now, and what it is."""
    if not r.changes:
        return []
    head = ["", "found", "to change by", "so now", "left", "s.d."]
    rows: list[list[str]] = []
    groups: list[int] = []
    for where, own in itertools.groupby(r.changes, key=_where):
        if where:
            groups.append(len(rows))
            rows.append([f"  {where}", "", "", "", "", ""])
        rows += [_row(one) for one in own]
    # The conditions stand across the columns.
    across = [rows[k][0] for k in groups]
    for k in groups:
        rows[k][0] = ""
    lines = table(head, rows)
    for k, text in zip(groups, across, strict=True):
        lines[k + 1] = text
    said = ("Before and after. To change by: what the repair changes on the chassis as drawn. So "
            "now: between these the reading as found, changed by that, lies after 95 of 100 such "
            "repairs; what is the same before and after drops out. s.d.: how far from the middle. "
            "A ! is outside.")  # fmt: skip
    return [*paragraph(said), *lines]


def _where(one: Change) -> str:
    state = one.left.state
    power = "" if state.live else "power off"
    valves = "valves out" if state.valves_out else ""
    return ", ".join(filter(None, (power, valves, position_words(state))))


def _row(one: Change) -> list[str]:
    low, high = (figure(one.left, value, one.wanted) for value in one.band)
    number, _, unit = low.partition(" ")
    band = f"{number if unit and high.endswith(f' {unit}') else low} to {high}"
    return [
        f"    {subject(one.left)}",
        measured_words(one.found),
        _change(one),
        band,
        measured_words(one.left),
        deviation_words(one.deviation) + ("!" if one.is_outside else " "),
    ]


def _change(one: Change) -> str:
    if OVERLOAD in (one.before, one.after):
        return f"{figure(one.found, one.before)} to {figure(one.left, one.after)}"
    change = one.after - one.before
    if one.left.kind in _PERCENT:
        if not one.before:
            return ""
        return f"{change / one.before * 100:+.{int(abs(change) < 0.1 * one.before)}f} %"
    size = figure(one.left, abs(change), one.after)
    is_none = not any(digit in "123456789" for digit in size)
    return size if is_none else f"{'-' if change < 0 else '+'}{size}"


def remarks(r: Repair) -> Iterator[str]:
    """What could not be held against each other."""
    if r.not_again:
        names = list(dict.fromkeys(place(one) for one in r.not_again))
        more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
        told = "; ".join(names[:_NAMED])
        yield f"Not read again under the conditions they were found in: {told}{more}."
