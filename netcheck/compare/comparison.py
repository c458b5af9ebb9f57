"""The readings of one stage held against the drawing, alone and together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from ..engine.elements import Floats
from ..graph import Section
from ..netlist import Valve
from ..probability import chi_square_tail, normal_score, normal_share
from ..readings import OVERLOAD, Kind, Reading
from ..readout.junctions import V_MOST, Conduction, conductions
from ..readout.model import SectionModel
from ..readout.readout import Readout
from .expected import (
    Expected,
    MainsRead,
    as_drawn,
    bands,
    expected,
    mains_read,
    simulated,
    unknown_pots,
)
from .reading import Compared
from .together import Together, together

UNLIKELY = 0.01
"""Sound chassis that are told not to be: half of them by all readings together, half by the one
that is furthest out. [1]"""
_CARRIES = 2.5  # a reading so far out carries the disagreement [1]
_MOST_CARRIERS = 5
_LEAST_TAIL = 1e-300  # what numbers can hold [1]
_LOW = 2.0  # a resistance so much below the prediction may be a junction's doing [s.d.]


class Verdict(Enum):
    """What the readings of a stage say as a whole."""

    CONSISTENT = "consistent"
    """A sound chassis may well read so."""
    NOT_CONSISTENT = "not consistent"
    """A sound chassis would not."""
    NOTHING = "nothing to compare"
    """No reading can be predicted."""


@dataclass(frozen=True, slots=True)
class Mains:
    """The mains that the prediction is made for.

    Parameters
    ----------
    v : float
        [V rms]
    is_read : bool
        Whether it was read; else it is what the circuit file says.
    """

    v: float
    is_read: bool


@dataclass(frozen=True, slots=True)
class Joint:
    """Readings taken together.

    Parameters
    ----------
    misfit : float
        Chi-square, what the readings have in common considered. [1]
    count : int
        Readings that count: its degrees of freedom. [count]
    chance : float
        Of so large a chi-square on a sound chassis. [1]
    chance_of_worst : float
        That on a sound chassis some reading is as far out as the worst one is, by itself or
        from what the others say. [1]
    apart : array, shape (readings,)
        How far each is from what all others say, in standard deviations. [1]
    """

    misfit: float
    count: int
    chance: float
    chance_of_worst: float
    apart: Floats

    @property
    def agrees(self) -> bool:
        """Whether a sound chassis may well read so."""
        return min(self.chance, self.chance_of_worst) >= UNLIKELY / 2.0


@dataclass(frozen=True, slots=True)
class Comparison:
    """The readings of one stage held against the drawing.

    Parameters
    ----------
    section : Section
        The section.
    found : tuple of Compared
        The readings, in the order of the sheet.
    verdict : Verdict
        What they say together.
    joint : Joint
        All readings that count, taken together.
    carriers : tuple of Compared
        The readings that carry a disagreement, the worst first.
    rest_agrees : bool
        Whether a sound chassis may well read as all but those say.
    together : tuple of Together
        Kinds of readings of which all are off in the same proportion.
    mains : Mains or None
        None for a section without mains.
    unknown_pots : tuple of str
        Pots whose position is not known at some reading.
    settled : bool
        Whether every state of the simulation had settled.
    """

    section: Section
    found: tuple[Compared, ...]
    verdict: Verdict
    joint: Joint
    carriers: tuple[Compared, ...]
    rest_agrees: bool
    together: tuple[Together, ...]
    mains: Mains | None
    unknown_pots: tuple[str, ...]
    settled: bool


def compare(model: SectionModel, readings: Sequence[Reading], year: int) -> Comparison:
    """Hold readings against the drawing.

    Parameters
    ----------
    model : SectionModel
        The section as drawn.
    readings : sequence of Reading
        Of one stage, nodes filled in.
    year : int
        The year of the readings: old carbon resistors may have drifted. [year]

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    readout = Readout(model, readings, year)
    mains = mains_read(model, readings, year)
    held = _Held(model, readout, mains)
    joint = held.joint(held.counted)
    verdict = Verdict.CONSISTENT if joint.agrees else Verdict.NOT_CONSISTENT
    others = [_drawn_only(model, reading, mains) for reading in readout.unused]
    return Comparison(
        section=model.section,
        found=_in_order(readings, [*held.found, *others]),
        verdict=verdict if joint.count else Verdict.NOTHING,
        joint=joint,
        carriers=tuple(held.found[k] for k in held.carriers),
        rest_agrees=held.joint(held.rest).agrees,
        together=tuple(together(held.found)),
        mains=_mains(model, mains),
        unknown_pots=tuple(unknown_pots(model, readout, mains)) if readout.readings else (),
        settled=held.settled,
    )


class _Held:
    """The readings of a readout beside sound chassis.

    Parameters
    ----------
    model : SectionModel
        The section.
    readout : Readout
        What was read.
    mains : MainsRead or None
        The mains as it was read.
    """

    def __init__(self, model: SectionModel, readout: Readout, mains: MainsRead | None) -> None:
        self.found: list[Compared] = []
        self.counted: list[int] = []
        self.carriers: list[int] = []
        self.rest: list[int] = []
        self.settled = True
        self._off = self._tail = np.zeros(0)
        self._covariance = np.zeros((0, 0))
        if not readout.readings:
            return
        spread = expected(model, readout, mains)
        y, mean = np.array([m.y for m in readout.measured]), spread.sound.mean(axis=0)
        self._off, self._tail = y - mean, spread.tail(y)
        self._covariance = spread.covariance()
        self.settled = spread.settled
        deviation = self._off / np.sqrt(np.diag(self._covariance))
        self.found = _alone(model, readout, mains, spread, deviation)
        self.counted = [k for k, one in enumerate(self.found)
                        if one.deviation is not None and not one.explained]  # fmt: skip
        self.carriers = self._carriers()
        self.rest = [k for k in self.counted if k not in self.carriers]
        for k, apart in self._apart():
            self.found[k] = replace(self.found[k], apart=apart)

    def joint(self, which: Sequence[int]) -> Joint:
        """Some readings taken together."""
        own = np.array(which, dtype=np.intp)
        return agreement(self._off[own], self._covariance[np.ix_(own, own)], self._tail[own])

    def _apart(self) -> Iterator[tuple[int, float]]:
        """How far each is from what the others say, a few odd ones left aside if that helps."""
        is_helped = self.joint(self.rest).agrees
        known = self.rest if is_helped else self.counted
        yield from zip(known, self.joint(known).apart.tolist(), strict=True)
        for k in self.carriers if is_helped else ():
            yield k, float(self.joint([*self.rest, k]).apart[-1])

    def _carriers(self) -> list[int]:
        """The readings that carry a disagreement, the one that is furthest out first.

        What is far from all others makes these look far from each other: so one after the other
        is left out, and the rest looked at anew until it agrees.
        """
        far = {k for k, size in self._how_far(self.counted).items() if size >= _CARRIES}
        taken: list[int] = []
        rest = list(self.counted)
        while far and len(taken) < _MOST_CARRIERS and not self.joint(rest).agrees:
            size = self._how_far(rest)
            taken.append(max(far, key=lambda k: size[k]))
            far.discard(taken[-1])
            rest.remove(taken[-1])
        # One that was left out before the culprit was found goes back if it does no harm.
        for k in list(taken) if self.joint(rest).agrees else ():
            if self.joint([*rest, k]).agrees:
                taken.remove(k)
                rest.append(k)
        return taken

    def _how_far(self, which: Sequence[int]) -> dict[int, float]:
        """How far out each of some readings is, by itself or from the others of them. [1]"""
        apart = np.abs(self.joint(which).apart)
        tail = self._tail[np.array(which, dtype=np.intp)]
        by_itself = -normal_score(np.maximum(tail, _LEAST_TAIL) / 2.0)
        return dict(zip(which, np.maximum(apart, by_itself).tolist(), strict=True))


def agreement(off: Floats, covariance: Floats, tail: Floats) -> Joint:
    """Whether readings agree with a sound chassis, what they have in common considered.

    Parameters
    ----------
    off : array, shape (readings,)
        Measured less the mean of sound chassis.
    covariance : array, shape (readings, readings)
        Of the readings of sound chassis: tolerances, mains, positions, meter.
    tail : array, shape (readings,)
        Share of sound chassis that read as far out, each reading by itself. [1]

    Notes
    -----
    Chi-square is d S^-1 d for differences d of covariance S: what one wrong tap does to all
    readings alike counts once. Reading j is off from what all others say of it by
    (S^-1 d)_j / sqrt((S^-1)_jj) standard deviations of what is then left open.
    """
    count = off.size
    if not count:
        return Joint(0.0, 0, 1.0, 1.0, off)
    inverse = np.linalg.inv(covariance)
    misfit = float(off @ inverse @ off)
    apart = inverse @ off / np.sqrt(np.diag(inverse))
    least = float(min(np.min(tail), np.min(2.0 * normal_share(-np.abs(apart)))))
    # That one of so many is as far out by itself, or from the others.
    of_worst = -math.expm1(2.0 * count * math.log1p(-min(least, 1.0 - 1e-12)))
    return Joint(misfit, count, chi_square_tail(count, misfit), of_worst, apart)


def _alone(model: SectionModel, readout: Readout, mains: MainsRead | None, spread: Expected,
           deviation: Floats) -> list[Compared]:  # fmt: skip
    """Each reading by itself."""
    x = as_drawn(model, readout.coordinates, mains)
    found = []
    for k, (reading, band) in enumerate(zip(readout.readings, bands(readout, spread), strict=True)):
        drawn = readout.scales.seen(reading, float(spread.drawn[k]))
        if reading.kind is Kind.MAINS:  # the prediction is made for it
            found.append(Compared(reading, drawn))
            continue
        ways, is_explained = _conduction(model, readout, x, k, float(deviation[k]))
        found.append(Compared(reading, drawn, band, float(deviation[k]),
                              conduction=tuple(ways), explained=is_explained))  # fmt: skip
    return found


def _conduction(model: SectionModel, readout: Readout, x: Floats, k: int, deviation: float
                ) -> tuple[list[Conduction], bool]:  # fmt: skip
    """What junctions may do to a reading, and whether that explains it."""
    reading, measured = readout.readings[k], readout.measured[k]
    v_test = reading.meter.v_test
    ways = conductions(model, readout.coordinates, x, reading,
                       V_MOST if v_test is None else v_test)  # fmt: skip
    least = measured.y + _LOW * measured.sigma
    fitting = [way for way in ways
               if deviation < -_LOW and readout.scales.y(reading, way.r) < least]  # fmt: skip
    # Where no test volts are stated junctions are not taken to conduct; that they may is said.
    return (fitting, False) if v_test is None else (ways, bool(fitting))


def _drawn_only(model: SectionModel, reading: Reading, mains: MainsRead | None) -> Compared:
    """A reading that sound chassis are not known to spread around: the drawn value alone."""
    part = model.section.circuit.part(reading.part) if reading.part else None
    if isinstance(part, Valve) and reading.kind in {Kind.PLATE, Kind.SCREEN}:
        return Compared(reading, part.v_plate if reading.kind is Kind.PLATE else part.v_screen)
    if reading.kind in {Kind.DC, Kind.AC, Kind.RIPPLE} and reading.nominal != OVERLOAD:
        return Compared(reading, simulated(model, [reading], mains)[0][0])
    return Compared(reading, None)


def _in_order(readings: Sequence[Reading], found: Sequence[Compared]) -> tuple[Compared, ...]:
    place = {id(reading): k for k, reading in enumerate(readings)}
    return tuple(sorted(found, key=lambda one: place[id(one.reading)]))


def _mains(model: SectionModel, read: MainsRead | None) -> Mains | None:
    mains = model.section.circuit.mains
    if mains is None:
        return None
    drawn = float(model.predictor.values().get("mains", 1.0))
    return Mains(mains.v_nominal * (drawn if read is None else read.share), read is not None)
