"""A diagnosis with what goes with it: the evidence, and what to read next."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..graph import Section
from ..readings import Kind, Meter, Reading, Stage
from ..readout.model import SectionModel
from ..sweeping import swept_pots
from .candidates import candidates
from .diagnosis import Diagnosis, Verdict, diagnose
from .evidence import Evidence, Odd, evidence, odd_readings
from .gain import NextReading, next_readings
from .suspects import Suspect

WORTH_TAKING = 0.05
"""A reading that is expected to tell less is not worth the while. [bit]"""
_ALIKE = 0.02  # two readings that tell the same, within so many bits and this share [bit], [1]


@dataclass(frozen=True)
class Account:
    """A diagnosis with what goes with it.

    Parameters
    ----------
    section : Section
        The section.
    stage : str
        "as found" or "as left".
    diagnosis : Diagnosis
        What was found.
    leading : Suspect or None
        The most probable suspect that is a fault; None if there is none.
    evidence : tuple of Evidence
        What speaks for it.
    odd : tuple of Odd
        Readings that do not go with the others, where nothing fits.
    following : tuple of NextReading
        What is worth reading next, the best first; of those that would tell the same the one
        of least effort.
    to_confirm : NextReading or None
        What proves a part that is named already.
    """

    section: Section
    stage: Stage
    diagnosis: Diagnosis
    leading: Suspect | None
    evidence: tuple[Evidence, ...]
    odd: tuple[Odd, ...]
    following: tuple[NextReading, ...]
    to_confirm: NextReading | None

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings that were used."""
        return self.diagnosis.readout.readings


def account(model: SectionModel, readings: Sequence[Reading], meter: Meter, year: int) -> Account:
    """Diagnose a section from the readings of one stage.

    Parameters
    ----------
    model : SectionModel
        The section as drawn.
    readings : sequence of Reading
        Of one stage, at least one.
    meter : Meter
        What the next reading would be taken with.
    year : int
        The year of the readings. [year]
    """
    found = diagnose(model, readings, year)
    leading = next((s for s in found.suspects if s.parts), None)
    fits_none = found.verdict is Verdict.NONE_FITS
    # Where nothing fits, what a reading would tell of the suspects is beside the point.
    ranked = [] if fits_none else _ranked(model, found, readings, meter, year)
    return Account(
        model.section,
        readings[0].state.stage,
        found,
        leading,
        () if leading is None or fits_none else tuple(evidence(found, leading)),
        tuple(odd_readings(found)) if fits_none else (),
        tuple(_distinct([n for n in ranked if n.bits >= WORTH_TAKING])),
        _proof(found, ranked),
    )


def _ranked(model: SectionModel, found: Diagnosis, readings: Sequence[Reading], meter: Meter,
            year: int) -> list[NextReading]:  # fmt: skip
    """Everything that could be read next, the most worthwhile first."""
    pots = swept_pots(model.predictor)
    out = readings[-1].state.valves_out
    among = candidates(model, readings, meter, pots, valves_out=out)
    return next_readings(found, among, year)


def _distinct(ranked: Sequence[NextReading]) -> list[NextReading]:
    """Those of which no better one would show and tell the same, as of two like grids."""
    found: list[NextReading] = []
    for one in ranked:
        if not any(_alike(one, other) for other in found):
            found.append(one)
    return found


def _alike(one: NextReading, other: NextReading) -> bool:
    a, b = one.candidate.reading, other.candidate.reading
    if a.kind is not b.kind or a.state != b.state or abs(one.bits - other.bits) > _ALIKE:
        return False
    if set(one.if_fault) != set(other.if_fault):
        return False
    middles = [(one.if_fault[k][1], other.if_fault[k][1]) for k in one.if_fault]
    return all(math.isclose(x, y, rel_tol=_ALIKE, abs_tol=1e-9) for x, y in middles)


def _proof(found: Diagnosis, ranked: Sequence[NextReading]) -> NextReading | None:
    """The reading of a named part alone."""
    if found.verdict is not Verdict.NAMED or len(found.group[0].parts) != 1:
        return None
    (part,) = found.group[0].parts
    alone = {Kind.LIFTED, Kind.CAPACITANCE}
    asked = ((n, n.candidate.reading) for n in ranked)
    return next((n for n, r in asked if r.part == part and r.kind in alone), None)


def varied(following: Sequence[NextReading], most: int) -> list[NextReading]:
    """The best reading, and others that tell apart what those before them do not.

    Parameters
    ----------
    following : sequence of NextReading
        The best first.
    most : int
        At most so many. [count]
    """
    found: list[NextReading] = []
    told: list[set[frozenset[tuple[str, ...]]]] = []
    for one in following:
        apart = set(_told_apart(one))
        if found and any(apart <= before for before in told):
            continue
        found.append(one)
        told.append(apart)
    return found[:most]


def _told_apart(one: NextReading) -> Iterator[frozenset[tuple[str, ...]]]:
    """Pairs of suspects for which it would show values that hardly overlap."""
    for (a, in_a), (b, in_b) in itertools.combinations(one.if_fault.items(), 2):
        if not (in_b[0] <= in_a[1] <= in_b[2] and in_a[0] <= in_b[1] <= in_a[2]):
            yield frozenset((a, b))
