"""The readings beside what they should be, and before and after a repair."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from ..compare import Change, Compared, Comparison, Repair
from ..diagnose.words import listed, position_words, subject
from ..netlist import Pot
from ..quantity import Dimension, show
from ..readings import OVERLOAD, SOLDERED_IN, Kind, State
from ..report.comparison import (
    StageComparison,
    conduction_words,
    deviation_words,
    figure,
    measured_words,
    sentence,
    together_words,
)
from ..report.tables import between
from .tables import Group, Table, capital

_BY_SHARE = frozenset({Kind.OHMS, Kind.LIFTED, Kind.CAPACITANCE, Kind.ESR})
_OUTSIDE = "\N{BLACK LOZENGE} outside"
_BAND_NOTE = (
    "Should be: what the meter would show on the chassis as drawn. Sound: between these it lies on "
    "95 of 100 sound chassis, tolerances, pots set by eye and the meter's load and error in. s.d.: "
    "how far off, in standard deviations of all that."
)
_CHANGE_NOTE = (
    "To change by: what the repair changes on the chassis as drawn. So now: between these the "
    "reading as found, changed by that, lies after 95 of 100 such repairs."
)


def verdict(one: StageComparison) -> str:
    """What the readings of a stage say together."""
    return f"{capital(one.stage)}: {sentence(one.comparison)}"


def readings_table(one: StageComparison) -> Table:
    """Each reading beside what it should be, under the conditions it was taken in."""
    c = one.comparison
    has_pots = any(c.section.circuit.of(Pot))
    groups = [Group([_row(found) for found in own], where)
              for where, own in itertools.groupby(c.found, key=lambda f: _where(f, has_pots))
              ]  # fmt: skip
    caption = f"Readings {one.stage}{_mains(c)}"
    head = ("reading", "measured", "should be", "sound", "off by", "s.d.", "")
    return Table(caption, head, groups, note=_BAND_NOTE)


def _mains(c: Comparison) -> str:
    if c.mains is None:
        return ""
    how = "as read" if c.mains.is_read else "not read, as the circuit file has it"
    return f", mains {show(c.mains.v, Dimension.VOLT)} ({how})"


def _where(one: Compared, has_pots: bool) -> str:
    """The conditions under which a reading was taken."""
    state, kind = one.reading.state, one.reading.kind
    if kind is Kind.MAINS:
        return ""
    return _conditions(state, has_pots)


def _conditions(state: State, has_pots: bool) -> str:
    told = [
        "" if state.live else "power off",
        "valves out" if state.valves_out else "",
        position_words(state) or ("pots where they stood" if has_pots else ""),
    ]
    return capital(", ".join(filter(None, told)))


def _row(one: Compared) -> list[str]:
    reading = one.reading
    name, measured = subject(reading), measured_words(reading)
    if reading.kind is Kind.MAINS:
        return [name, measured, "", "", "", "", ""]
    predicted = "" if one.predicted is None else figure(reading, one.predicted)
    if one.band is None:
        return [name, measured, predicted and f"{predicted} drawn", "", _off(one), "", ""]
    low, high = (figure(reading, value, one.predicted) for value in one.band)
    deviation = "" if one.deviation is None else deviation_words(one.deviation)
    mark = _OUTSIDE if one.is_outside and not one.explained else ""
    return [name, measured, predicted, between(low, high), _off(one), deviation, mark]


def _off(one: Compared) -> str:
    if one.difference is None:
        return ""
    if one.reading.kind in _BY_SHARE:
        return "" if one.share is None else _signed(f"{abs(one.share) * 100:.0f} %", one.share)
    return _signed(figure(one.reading, abs(one.difference), one.predicted), one.difference)


def _signed(size: str, value: float) -> str:
    is_none = not any(digit in "123456789" for digit in size)
    return size if is_none else f"{'-' if value < 0 else '+'}{size}"


def remarks(one: StageComparison) -> Iterator[str]:
    """What goes with the readings of a stage."""
    c = one.comparison
    for pattern in c.together:
        yield together_words(pattern)
    for found in c.found:
        for way in found.conduction:
            yield conduction_words(found, way)
    if c.unknown_pots:
        yield (f"{listed(c.unknown_pots)}: not said where it stood at every reading; taken for the "
               "middle of the travel, with all of it in the band.")  # fmt: skip
    if any(f.reading.kind in SOLDERED_IN and not f.reading.state.discharged for f in c.found):
        yield ("The sheet does not say that the capacitors were discharged: what it reads with "
               "the power off is trusted less.")  # fmt: skip


# ------------------------------------------------------------------------ before and after


def change_table(r: Repair) -> Table:
    """Each reading that was taken before and after, and what it should have become."""
    groups = [Group([_change_row(one) for one in own], where) for where, own in itertools.groupby(
        r.changes, key=lambda one: _conditions(one.left.state, has_pots=False))]  # fmt: skip
    head = ("reading", "as found", "to change by", "so now", "as left", "s.d.", "")
    return Table("Before and after the repair", head, groups, note=_CHANGE_NOTE)


def _change_row(one: Change) -> list[str]:
    low, high = (figure(one.left, value, one.wanted) for value in one.band)
    return [
        subject(one.left),
        measured_words(one.found),
        _change(one),
        between(low, high),
        measured_words(one.left),
        deviation_words(one.deviation),
        _OUTSIDE if one.is_outside else "",
    ]


def _change(one: Change) -> str:
    if OVERLOAD in (one.before, one.after):
        return f"{figure(one.found, one.before)} to {figure(one.left, one.after)}"
    change = one.after - one.before
    if one.left.kind in _BY_SHARE:
        return _signed(f"{abs(change / one.before) * 100:.0f} %", change) if one.before else ""
    return _signed(figure(one.left, abs(change), one.after), change)
