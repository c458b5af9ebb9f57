"""The predicted curve over the travel of the pot, with the readings that lie on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from ..engine.elements import GROUND, Floats
from ..readings import Kind, Meter, Position, Reading, State, function_of
from ..readout.coordinates import BY_EYE
from ..readout.model import SectionModel
from ..readout.readout import Readout
from ..readout.scores import even_scores
from ..sweeping import pot_effects, swept_pots
from .expected import MainsRead, bands, expected, mains_read, travel_of

STEPS = 11
"""Positions at which a curve is simulated: every tenth of the travel. [count]"""
_DRAWS = 512  # sound chassis behind its band, which is looked at and not judged by [count]
_MOVES = 1e-3  # a pot that changes a node by less does not move it [V]
_ALIKE = 5e-3  # curves that differ by less are one [V]


class _Setting(NamedTuple):
    """What is the same for all readings on one curve.

    Parameters
    ----------
    swept : tuple of str
        The pots that are turned.
    fixed : tuple of (str, float)
        Where the others stand. [1]
    valves_out : bool
        Whether the output valves are out.
    r_meter : float
        What the meter puts across its leads. [ohm]
    """

    swept: tuple[str, ...]
    fixed: tuple[tuple[str, float], ...]
    valves_out: bool
    r_meter: float


@dataclass(frozen=True, slots=True)
class Spot:
    """A reading on a curve.

    Parameters
    ----------
    reading : Reading
        The reading.
    travel : float
        Where the pot stood. [1]
    travel_error : float
        Standard deviation of that; 0 at a stop. [1]
    v_error : float
        Limit of error of the meter. [V]
    """

    reading: Reading
    travel: float
    travel_error: float
    v_error: float


@dataclass(frozen=True, slots=True)
class Curve:
    """What a meter would show over the travel, and what it showed.

    Parameters
    ----------
    nodes : tuple of str
        The nodes, alike over all of the travel.
    swept : tuple of str
        The pots that are turned, together if more than one.
    fixed : mapping of pot name to float
        Where the others stand. [1]
    travel : array, shape (n,)
        Rotation of the swept pots. [1]
    predicted, low, high : array, shape (n,)
        The chassis as drawn, and 95 of 100 sound ones, a meter's error left out. [V]
    spots : tuple of Spot
        The readings.
    """

    nodes: tuple[str, ...]
    swept: tuple[str, ...]
    fixed: Mapping[str, float]
    travel: Floats
    predicted: Floats
    low: Floats
    high: Floats
    spots: tuple[Spot, ...]


def curves(model: SectionModel, readings: Sequence[Reading], year: int) -> list[Curve]:
    """The curves on which readings of grids, or of wipers where no valve is drawn, lie.

    Parameters
    ----------
    model : SectionModel
        The section.
    readings : sequence of Reading
        Of one stage, nodes filled in.
    year : int
        The year of the readings. [year]
    """
    effects, swept = pot_effects(model.predictor), swept_pots(model.predictor)
    mains = mains_read(model, readings, year)
    found: list[Curve] = []
    distinct: dict[str, str] = {}
    for node in model.section.watched:
        distinct.setdefault(model.section.joined[node], node)
    for node in distinct.values():
        own = [reading for reading in readings if _is_of(model, reading, node)]
        moving = [pot for pot, moves in effects.items() if abs(moves[node]) > _MOVES]
        together = tuple(pot for pot in moving if pot in swept)
        ways = dict.fromkeys([together, *((pot,) for pot in moving)])
        placed = [_placed(model, own, way) for way in ways if way]
        # The pot that was turned from reading to reading makes the fewest curves.
        best = max(placed, key=lambda k: (sum(map(len, k.values())), -len(k)), default={})
        for setting, spots in best.items():
            _join(found, _curve(model, node, setting, spots, mains, year))
    return found


def _is_of(model: SectionModel, reading: Reading, node: str) -> bool:
    """Whether a reading is of a node against ground."""
    joined = model.section.joined
    return (reading.kind is Kind.DC and joined[reading.minus] == GROUND
            and joined[reading.plus] == joined[node])  # fmt: skip


def _placed(model: SectionModel, readings: Sequence[Reading], swept: tuple[str, ...]
            ) -> dict[_Setting, list[Spot]]:  # fmt: skip
    """The readings on curves over the travel of some pots; what has no place is left out."""
    found: dict[_Setting, list[Spot]] = {}
    for reading in readings:
        at = reading.state.pots
        where = {at[pot].travel if pot in at else None for pot in swept}
        travel = where.pop()
        if where or travel is None:
            continue
        stands = travel_of(model.predictor, reading)
        fixed = tuple((pot, stand) for pot, stand in stands.items() if pot not in swept)
        setting = _Setting(swept, fixed, reading.state.valves_out, _loading(reading))
        found.setdefault(setting, []).append(_spot(reading, swept, travel))
    return found


def _loading(reading: Reading) -> float:
    """What the meter put across its leads. [ohm]"""
    return reading.meter.resistance(function_of(reading.kind), abs(reading.nominal))


def _spot(reading: Reading, swept: tuple[str, ...], travel: float) -> Spot:
    limits = reading.meter.uncertainty(
        function_of(reading.kind), reading.nominal, reading.last_digit)  # fmt: skip
    by_eye = any(reading.state.pots[pot].by_eye for pot in swept)
    return Spot(reading, travel, BY_EYE if by_eye else 0.0,
                limits.gain * abs(reading.nominal) + limits.floor)  # fmt: skip


def _curve(model: SectionModel, node: str, setting: _Setting, spots: Sequence[Spot],
           mains: MainsRead | None, year: int) -> Curve:  # fmt: skip
    swept, fixed, valves_out, r_meter = setting
    meter = Meter("meter", r_meter)
    travel = np.linspace(0.0, 1.0, STEPS)
    points = []
    for turn, at in enumerate(travel):
        # Where the other pots stand is part of the curve, not of its band.
        pots = {pot: Position(where) for pot, where in fixed}
        pots |= {pot: Position(float(at), turn=turn) for pot in swept}
        state = State(pots=pots, turn=turn, valves_out=valves_out)
        points.append(Reading(Kind.DC, 0.0, 0.0, state, meter, node, GROUND))
    readout = Readout(model, points, year)
    found = expected(model, readout, mains, with_meter=False, scores=_scores)
    low, high = np.array(bands(readout, found)).T
    return Curve((node,), swept, dict(fixed), travel, found.drawn, low, high, tuple(spots))


def _scores(names: Sequence[str]) -> Floats:
    return even_scores(_DRAWS, len(names), 1)


def _join(found: list[Curve], new: Curve) -> None:
    """Add a curve, or its readings to one that is the same."""
    for k, curve in enumerate(found):
        if (curve.swept, curve.fixed) == (new.swept, new.fixed) and np.allclose(
            curve.predicted, new.predicted, rtol=0.0, atol=_ALIKE
        ):
            nodes = tuple(dict.fromkeys((*curve.nodes, *new.nodes)))
            found[k] = replace(curve, nodes=nodes, spots=(*curve.spots, *new.spots))
            return
    found.append(new)
