"""Which reading to ask for next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ..diagnose.candidates import Candidate, candidates
from ..diagnose.diagnosis import Diagnosis
from ..diagnose.gain import NextReading, next_readings
from ..netlist import Pot
from ..readings import ANYWHERE, Kind, Meter, Position, Reading, State
from ..readout.model import SectionModel

_SWITCHING = 1.0
"""Effort of turning the power on or off: as much as a whole reading with the power off, for
the capacitors are discharged and checked each time. Without it the order would go back and
forth for hardly more information. [1]"""

_TURNING = 0.3
"""Effort of turning pots to another place, beside that of the reading. [1]"""

_ALONE = frozenset({Kind.OHMS, Kind.AC, Kind.RIPPLE})
"""What is asked for at one position only, because it hardly hangs on it."""


@dataclass(frozen=True, slots=True)
class Place:
    """The bench as it stands.

    Parameters
    ----------
    state : State
        The conditions at the end of the file.
    powered : bool or None
        Whether the amplifier is on; None if that is not known yet.
    settled : bool
        Whether the pots are known to stand as `state` says.
    meter : Meter
        The meter at hand.
    """

    state: State
    powered: bool | None
    settled: bool
    meter: Meter


def chosen(
    model: SectionModel,
    diagnosis: Diagnosis,
    had: Sequence[Reading],
    pots: Sequence[str],
    place: Place,
    year: int,
) -> list[NextReading]:
    """The readings that could be asked for, the one to ask for first.

    Parameters
    ----------
    model : SectionModel
        The section.
    diagnosis : Diagnosis
        What is known.
    had : sequence of Reading
        What was read, and what is not to be asked for.
    pots : sequence of str
        The pots that set the bias.
    place : Place
        The bench.
    year : int
        The year. [year]
    """
    every = candidates(model, had, place.meter, pots, valves_out=place.state.valves_out)
    here = [_here(one, place, model) for one in every]
    ranked = next_readings(diagnosis, here, year)
    return sorted(ranked, key=lambda n: -n.bits / (n.candidate.effort + _change(n, place)))


def _here(candidate: Candidate, place: Place, model: SectionModel) -> Candidate:
    """A candidate, its conditions brought about from those that hold with the fewest changes."""
    wanted, now = candidate.reading.state, place.state
    pots = {**now.pots, **_positions(candidate.reading, place, model)}
    same = {name: now.pots[name] for name, at in pots.items()
            if place.settled and name in now.pots and now.pots[name].same_place(at)}  # fmt: skip
    is_same = len(same) == len(pots)
    if candidate.reading.kind in ANYWHERE:
        pots, is_same = dict(now.pots), True
    reading = _named(candidate.reading, model)
    state = State(
        now.stage,
        wanted.live,
        dict(now.pots) if is_same else {**pots, **same},
        now.valves_out,
        wanted.discharged,
        now.turn if is_same else wanted.turn,
    )
    return replace(candidate, reading=replace(reading, state=state))


def _named(reading: Reading, model: SectionModel) -> Reading:
    """A reading across one half of a pot's track is named by its nodes, not as across the pot."""
    part = model.section.circuit.part(reading.part)
    if isinstance(part, Pot) and reading.kind is Kind.OHMS:
        ends = [node for _, node in part.terminals]
        if [reading.plus, reading.minus] != [ends[0], ends[-1]]:
            return replace(reading, part="")
    return reading


def _positions(reading: Reading, place: Place, model: SectionModel) -> Mapping[str, Position]:
    """Where the pots are wanted: where they are, for what hardly hangs on it."""
    stops = all(not at.by_eye for at in place.state.pots.values())
    of_pot = isinstance(model.section.circuit.part(reading.part), Pot)
    if (
        reading.kind in _ALONE
        and not of_pot
        and place.settled
        and stops
        and place.state.pots.keys() >= reading.state.pots.keys()
    ):
        return {}
    return reading.state.pots


def _change(one: NextReading, place: Place) -> float:
    """Effort of changing the conditions. [1]"""
    state = one.candidate.reading.state
    effort = 0.0
    if place.powered is not None and state.live is not place.powered:
        effort += _SWITCHING
    if place.settled and state.turn != place.state.turn:
        effort += _TURNING
    return effort
