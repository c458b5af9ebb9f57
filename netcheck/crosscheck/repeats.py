"""Readings that were taken twice under the same conditions, and do not agree."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from ..finding import Finding, Related, Severity
from ..graph import Section
from ..netlist import Pot
from ..readings import OVERLOAD, Kind, Reading, Sheet, function_of
from .shown import as_read

_DRIFT = 0.01
"""The mains moves by about as much from one minute to the next; common practice. [1]"""

_MAINS_DRIFT = 0.05
"""The mains may move by as much in the course of a job; common practice. [1]"""


def repeats(sheet: Sheet, section: Section) -> Iterator[Finding]:
    """Readings that contradict an earlier one of the same thing.

    Parameters
    ----------
    sheet : Sheet
        With the nodes of its readings known.
    section : Section
        The circuit.
    """
    pots = [pot.name for pot in section.circuit.of(Pot)]
    first: dict[Any, Reading] = {}
    for reading in sheet.readings:
        other = first.setdefault(_condition(reading, pots), reading)
        if other is not reading and not _agree(other, reading):
            yield Finding(
                "contradicts-itself", Severity.WARNING, sheet.source, reading.span,
                f"{as_read(reading)} here, and {as_read(other)} before, under the same conditions",
                "the two differ by more than the meters can be off",
                "take it once more, and strike out the one that was wrong",
                (Related(other.span, "the first one"),),
            )  # fmt: skip


def _condition(reading: Reading, pots: list[str]) -> tuple[Any, ...]:
    """What two readings have in common if they are of one thing under one condition.

    A pot at a stop is there again; one that was judged by eye, or stands anywhere, is the same
    only as long as it is not touched.
    """
    state = reading.state
    places: list[tuple[Any, ...]] = []
    for pot in pots if reading.kind is not Kind.MAINS else ():
        position = state.pots.get(pot)
        if position is None:
            places.append(("anywhere", state.turn))
        elif position.by_eye:
            places.append(("by eye", position.turn))
        else:
            places.append(("stop", position.travel))
    return (reading.kind, reading.plus, reading.minus, reading.part, state.stage, state.live,
            state.valves_out, tuple(places))  # fmt: skip


def _agree(a: Reading, b: Reading) -> bool:
    if OVERLOAD in (a.nominal, b.nominal):
        return a.nominal == b.nominal
    room = _limit(a) + _limit(b)
    if a.kind is Kind.MAINS:
        room += _MAINS_DRIFT * abs(a.nominal)
    elif a.state.live:
        room += _DRIFT * max(abs(a.nominal), abs(b.nominal))
    return math.fabs(a.nominal - b.nominal) <= room


def _limit(reading: Reading) -> float:
    """How far a reading may be off. [SI]"""
    off = reading.meter.uncertainty(function_of(reading.kind), reading.nominal, reading.last_digit)
    return off.gain * abs(reading.nominal) + off.floor
