"""Whether a repair did what it was to do: as found, the change predicted, as left.

What a reading should be after the repair is what it was before, changed by as much as the
drawing changes. Most of what a sound chassis may be off by is in both readings alike and drops
out: the change is known better than either. Sound chassis drawn at random are the same ones
before and after, but for the parts that were changed, the positions set anew and the mains.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..engine.elements import Floats
from ..idle import Judged, Match, judge, match
from ..idle import Stage as ValveStage
from ..idle import Verdict as IdleVerdict
from ..netlist import Circuit, Valve
from ..probability import normal_score
from ..readings import ANYWHERE, OVERLOAD, Kind, Reading
from ..readout.coordinates import GAIN_SHARE
from ..readout.model import SectionModel
from ..readout.readout import Readout
from ..valves import lookup
from .comparison import Comparison, Joint, Verdict, agreement
from .expected import DRAWS, Expected, Scores, expected, mains_read

_LIMITS = (0.025, 0.975)


class Outcome(Enum):
    """Whether the job is done."""

    CLOSED = "closed"
    """As left all agrees with the repaired circuit, and the valves idle as wanted."""
    UNREAD = "not read enough"
    """Nothing speaks against it, but what would settle it was not read."""
    NOT_CLOSED = "not closed"
    """Something is left to explain, or to set."""


@dataclass(frozen=True, slots=True)
class Change:
    """A reading before and after the repair.

    Parameters
    ----------
    found, left : Reading
        The two, taken under the same conditions.
    before, after : float
        What the meter would show on the chassis as drawn before and after the repair. [SI]
    wanted : float
        What it should show now: as found, and the change that was predicted. [SI]
    band : (float, float)
        So it reads after 95 of 100 such repairs. [SI]
    deviation : float
        How far the reading as left is from what it should be, in standard deviations. [1]
    """

    found: Reading
    left: Reading
    before: float
    after: float
    wanted: float
    band: tuple[float, float]
    deviation: float

    @property
    def is_outside(self) -> bool:
        """Whether the change was not the one predicted."""
        return not self.band[0] <= self.left.nominal <= self.band[1]


@dataclass(frozen=True, slots=True)
class IdleLeft:
    """A valve as it was left.

    Parameters
    ----------
    valve : Valve
        As drawn.
    judged : Judged
        What its current means.
    accepted : bool
        Whether that lies in the window, or within the usual one where none was given.
    """

    valve: Valve
    judged: Judged
    accepted: bool


@dataclass(frozen=True, slots=True)
class Repair:
    """What a repair did.

    Parameters
    ----------
    changes : tuple of Change
        Readings that were taken before and after, in the order of those as left.
    joint : Joint
        All changes taken together.
    not_again : tuple of Reading
        As found, and not read again under the same conditions.
    idle : tuple of IdleLeft
        The valves whose current was read as left.
    unread : tuple of str
        Valves whose current was not.
    matched : Match or None
        How the valves that were read match; None for fewer than two, or of several types.
    window : (float, float) or None
        Dissipation wanted, of the limit; None for what common practice aims at. [1]
    as_left : Comparison
        The readings as left, held against the repaired circuit.
    """

    changes: tuple[Change, ...]
    joint: Joint
    not_again: tuple[Reading, ...]
    idle: tuple[IdleLeft, ...]
    unread: tuple[str, ...]
    matched: Match | None
    window: tuple[float, float] | None
    as_left: Comparison

    @property
    def outcome(self) -> Outcome:
        """Whether the job is done."""
        if (self.as_left.verdict is Verdict.NOT_CONSISTENT or not self.joint.agrees
                or not all(one.accepted for one in self.idle)):  # fmt: skip
            return Outcome.NOT_CLOSED
        if self.as_left.verdict is Verdict.NOTHING or self.unread:
            return Outcome.UNREAD
        return Outcome.CLOSED


def repair(before: SectionModel, after: SectionModel, found: Sequence[Reading],
           left: Sequence[Reading], as_left: Comparison, year: int,
           window: tuple[float, float] | None = None) -> Repair:  # fmt: skip
    """Hold the readings after a repair against what it was to do.

    Parameters
    ----------
    before, after : SectionModel
        The section as it came in, and as it was repaired.
    found, left : sequence of Reading
        As found and as left, nodes filled in.
    as_left : Comparison
        The latter held against the repaired section.
    year : int
        The year of the readings. [year]
    window : (float, float), optional
        Dissipation wanted, of the limit. [1]

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    explained = {id(one.reading) for one in as_left.found if one.explained}
    pairs = [pair for pair in _pairs(found, left) if id(pair[1]) not in explained]
    changes, joint = _changes(before, after, (found, left), pairs, year)
    again = {id(one) for one, _ in pairs}
    circuit = after.section.circuit
    idle = [one for valve in circuit.of(Valve) if (one := _idle(circuit, valve, left, window))]
    read = {one.valve.name for one in idle}
    return Repair(
        changes=tuple(changes),
        joint=joint,
        not_again=tuple(one for one in found if id(one) not in again and one.kind in _KINDS),
        idle=tuple(idle),
        unread=tuple(valve.name for valve in circuit.of(Valve) if valve.name not in read),
        matched=_match(idle),
        window=window,
        as_left=as_left,
    )


# ------------------------------------------------------------------------- changes

_KINDS = frozenset(Kind) - {Kind.MAINS, Kind.PLATE, Kind.SCREEN}
"""What the bias section answers for; the rest are conditions."""


def _pairs(found: Sequence[Reading], left: Sequence[Reading]) -> list[tuple[Reading, Reading]]:
    """Readings as left with the last ones as found under the same conditions."""
    before = {_conditions(reading): reading for reading in found}
    return [(before[_conditions(reading)], reading) for reading in left
            if reading.kind in _KINDS and _conditions(reading) in before]  # fmt: skip


def _conditions(reading: Reading) -> tuple[object, ...]:
    """What two readings have in common that tell of a change."""
    state = reading.state
    where: tuple[object, ...] = ()
    if reading.kind not in ANYWHERE:
        pots = sorted((pot, at.travel, at.by_eye) for pot, at in state.pots.items())
        where = (state.live, state.valves_out, *pots)
    return (reading.kind, reading.plus, reading.minus, reading.part, where)


def _changes(
    before: SectionModel,
    after: SectionModel,
    sheets: tuple[Sequence[Reading], Sequence[Reading]],
    pairs: Sequence[tuple[Reading, Reading]],
    year: int,
) -> tuple[list[Change], Joint]:
    one = Readout(before, [found for found, _ in pairs], year)
    other = Readout(after, [left for _, left in pairs], year)
    used = [{id(r): k for k, r in enumerate(readout.readings)} for readout in (one, other)]
    told = [(used[0][id(a)], used[1][id(b)]) for a, b in pairs
            if id(a) in used[0] and id(b) in used[1]]  # fmt: skip
    if not told:
        none = np.zeros(0)
        return [], agreement(none, np.zeros((0, 0)), none)
    changed = changed_parts(before.section.circuit, after.section.circuit)
    spread = [
        expected(model, readout, mains_read(model, sheet, year), scores=_scores(stage, changed))
        for model, readout, sheet, stage in zip(
            (before, after), (one, other), sheets, ("before", "after"), strict=True
        )
    ]
    a, b = (np.array(column) for column in zip(*told, strict=True))
    difference = _difference(spread[0], spread[1], a, b)
    y = np.array([readout.measured[k].y for readout, column in ((one, a), (other, b))
                  for k in column]).reshape(2, -1)  # fmt: skip
    moved = y[1] - y[0]
    off = moved - difference.sound.mean(axis=0)
    covariance = difference.covariance()
    joint = agreement(off, covariance, difference.tail(moved))
    deviation = off / np.sqrt(np.diag(covariance))
    found = []
    for k, (ka, kb) in enumerate(told):
        low, high = _band(difference, k, y[0, k])
        back: Callable[[float], float] = _back(other, kb)
        found.append(Change(
            one.readings[ka], other.readings[kb],
            one.scales.seen(one.readings[ka], float(spread[0].drawn[ka])),
            other.scales.seen(other.readings[kb], float(spread[1].drawn[kb])),
            back(float(y[0, k] + difference.drawn[k])), (back(low), back(high)),
            float(deviation[k]),
        ))  # fmt: skip
    return found, joint


def _back(readout: Readout, k: int) -> Callable[[float], float]:
    return lambda y: readout.scales.seen(readout.readings[k], y)


def _difference(one: Expected, other: Expected, a: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
                b: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> Expected:  # fmt: skip
    """What the same chassis read after a repair more than before, on the scales of readings."""
    return Expected(
        other.drawn[b] - one.drawn[a],
        other.sound[:, b] - one.sound[:, a],
        np.hypot(one.own[a], other.own[b]),
        one.settled and other.settled,
    )


def _band(difference: Expected, k: int, start: float) -> tuple[float, float]:
    """Between which a reading lies after 95 of 100 repairs, on its scale."""
    noise = np.random.default_rng(3).standard_normal(DRAWS)
    every = start + difference.sound[:, k] + difference.own[k] * noise
    low, high = np.quantile(every, _LIMITS)
    return float(low), float(high)


def changed_parts(before: Circuit, after: Circuit) -> frozenset[str]:
    """The parts that are not the same in two circuits, or are in one of them only."""
    names = {part.name for circuit in (before, after) for part in circuit.parts}
    return frozenset(name for name in names if before.part(name) != after.part(name))


def _scores(stage: str, changed: frozenset[str]) -> Scores:
    """Scores of which a coordinate of one name has the same ones before and after.

    Parts that were changed and positions have others; of what is not known of the mains the
    error of gain is the same, if it was read with one meter.
    """

    def drawn(names: Sequence[str]) -> Floats:
        columns = []
        for name in names:
            common, own = _score(name), _score(f"{stage} {name}")
            if name == "mains":
                columns.append(math.sqrt(GAIN_SHARE) * common + math.sqrt(1.0 - GAIN_SHARE) * own)
            else:
                is_own = "@" in name or name.partition(".")[0] in changed
                columns.append(own if is_own else common)
        return np.stack(columns, axis=1)

    return drawn


def _score(key: str) -> Floats:
    """Standard normal scores, the same ones for the same name, shape (DRAWS,). [1]"""
    rng = np.random.default_rng([zlib.crc32(key.encode()), 1])
    return rng.permutation(normal_score((np.arange(DRAWS) + 0.5) / DRAWS))


# ---------------------------------------------------------------------- idle current


def _idle(circuit: Circuit, valve: Valve, left: Sequence[Reading],
          window: tuple[float, float] | None) -> IdleLeft | None:  # fmt: skip
    """A valve by its last current as left; None if that was not read or means nothing."""
    kind = lookup(valve.type, circuit.own_types)
    own = [r for r in left if r.part == valve.name and r.nominal != OVERLOAD]
    currents = [_current(valve, reading) for reading in own]
    read = [i for i in currents if i is not None]
    v_plate = _last(own, Kind.PLATE, valve.v_plate)
    if kind is None or not read or v_plate is None:
        return None
    stage = ValveStage(kind, v_plate, _last(own, Kind.SCREEN, valve.v_screen),
                       r_cathode=valve.r_cathode, window=window)  # fmt: skip
    judged = judge(stage, valve.name, read[-1])
    usual = window is None and judged.verdict is IdleVerdict.USUAL
    return IdleLeft(valve, judged, usual or judged.verdict is IdleVerdict.FINE)


def _current(valve: Valve, reading: Reading) -> float | None:
    if reading.kind is Kind.CURRENT:
        return max(reading.nominal, 0.0)
    if reading.kind is Kind.CATHODE and valve.r_cathode > 0.0:
        return max(reading.nominal, 0.0) / valve.r_cathode
    return None


def _last(own: Sequence[Reading], kind: Kind, drawn: float | None) -> float | None:
    return next((r.nominal for r in reversed(own) if r.kind is kind), drawn)


def _match(idle: Sequence[IdleLeft]) -> Match | None:
    if len(idle) < 2 or len({one.valve.type.upper() for one in idle}) > 1:
        return None
    return match([one.judged.i_cathode for one in idle])
