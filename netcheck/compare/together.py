"""Readings that are all off in the same proportion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..readings import Kind
from .reading import Compared

_LEAST = 3  # readings that make a pattern [count]
_ALIKE = 0.02  # proportions that differ by less are the same, meters left out [1]
_MUCH = 0.03  # what is off by less is not worth a word [1]
_SMALL = 1.0  # the proportion of a smaller voltage says little [V]


@dataclass(frozen=True, slots=True)
class Together:
    """Readings that are all off in the same proportion.

    Parameters
    ----------
    kind : Kind
        `Kind.DC` or `Kind.OHMS`.
    share : float
        How far, over what is predicted; negative for low. [1]
    count : int
        How many readings. [count]
    """

    kind: Kind
    share: float
    count: int


def together(found: Sequence[Compared]) -> list[Together]:
    """Kinds of readings of which all are off in the same proportion.

    What was read with a pot judged by eye is left out: it tells of the position too.
    """
    patterns = []
    for kind in (Kind.DC, Kind.OHMS):
        own = [one for one in found if one.reading.kind is kind and _is_sure(one)]
        if len({_place(one) for one in own}) < _LEAST:
            continue
        shares = np.array([one.share for one in own], dtype=float)
        room = _ALIKE + np.array([_meter_share(one) for one in own])
        middle = float(np.median(shares))
        if abs(middle) >= _MUCH and np.all(np.abs(shares - middle) <= room):
            patterns.append(Together(kind, middle, len(own)))
    return patterns


def _is_sure(one: Compared) -> bool:
    if one.share is None or one.explained or not one.predicted or one.deviation is None:
        return False
    if one.reading.kind is Kind.DC and abs(one.predicted) < _SMALL:
        return False
    return not any(at.by_eye for at in one.reading.state.pots.values())


def _place(one: Compared) -> tuple[str, ...]:
    return tuple(sorted((one.reading.plus, one.reading.minus)))


def _meter_share(one: Compared) -> float:
    """What the last digits of the meter may make of the proportion. [1]"""
    assert one.predicted
    return 2.0 * one.reading.last_digit / abs(one.predicted)
