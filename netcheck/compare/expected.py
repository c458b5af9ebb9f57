"""What a meter would show: on the chassis as drawn, and on sound ones with their tolerances.

The chassis as drawn is simulated by ngspice with the meter in place. How far sound ones spread
around it comes from many of them drawn at random and read by the fast path; what that misses at
the chassis as drawn is put right for all of them alike.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..engine.elements import Element, Floats, Resistance
from ..model import Values
from ..predictor import Operating, Predictor
from ..probability import normal_share
from ..readings import OVERLOAD, WITH_OVERLOAD, Kind, Reading, function_of
from ..readout.coordinates import BOX, EVEN, NORMAL, Coordinates, Prior, Priors, fixed, gain
from ..readout.model import SectionModel
from ..readout.readout import Readout
from ..readout.scales import ALMOST, overload
from ..readout.scores import even_scores

DRAWS = 2048
"""Sound chassis behind each band, a multiple of `_AT_ONCE`. [count]"""
_AT_ONCE = 256  # of them that are solved together: derivatives of many take much memory
_LIMITS = (0.025, 0.975)
_LEAST_SOURCE = 0.05  # what a source that is stated to have no resistance is taken to have [ohm]
_VOLTS = frozenset({Kind.DC, Kind.AC, Kind.RIPPLE})

_State = tuple[Values, Sequence[Element]]

Scores = Callable[[Sequence[str]], Floats]
"""Standard normal scores for coordinates by name, shape (draws, coordinates), so many draws as a
multiple of `_AT_ONCE`. [1]"""


@dataclass(frozen=True)
class Expected:
    """What a meter would show, on the scales of `Readout` (volts, else logarithms).

    Parameters
    ----------
    drawn : array, shape (readings,)
        On the chassis as drawn.
    sound : array, shape (draws, readings)
        On sound chassis drawn at random; of the meter only what its readings have in common.
    own : array, shape (readings,)
        Standard deviation of the meter's error that is each reading's own.
    settled : bool
        Whether every state of ngspice had settled.
    """

    drawn: Floats
    sound: Floats
    own: Floats
    settled: bool

    def covariance(self) -> Floats:
        """Of the readings of sound chassis, shape (readings, readings)."""
        return np.atleast_2d(np.cov(self.sound, rowvar=False)) + np.diag(self.own**2)

    def tail(self, y: Floats) -> Floats:
        """Share of sound chassis that read as far out as this, on either side, (readings,). [1]

        Parts are within their tolerance and not beyond; the meter's error is normal.
        """
        far = (y - self.sound) / self.own
        one_side = np.minimum(normal_share(far).mean(axis=0), normal_share(-far).mean(axis=0))
        return np.asarray(np.minimum(2.0 * one_side, 1.0))


@dataclass(frozen=True, slots=True)
class MainsRead:
    """The mains as it was read.

    Parameters
    ----------
    share : float
        Over its nominal value. [1]
    sigma : float
        Standard deviation of the logarithm. [1]
    """

    share: float
    sigma: float


def mains_read(model: SectionModel, readings: Sequence[Reading], year: int) -> MainsRead | None:
    """The mains as it was read, the mean of several readings; None if it was not."""
    readout = Readout(model, [r for r in readings if r.kind is Kind.MAINS], year)
    mains = model.section.circuit.mains
    if mains is None or not readout.readings:
        return None
    common = {
        name: prior.b
        for name, prior in zip(readout.coordinates.names, readout.coordinates.sound, strict=True)
    }
    sigma = [
        math.hypot(measured.sigma, common[gain(reading.meter, function_of(Kind.MAINS))])
        for reading, measured in zip(readout.readings, readout.measured, strict=True)
    ]
    mean = sum(reading.nominal for reading in readout.readings) / len(readout.readings)
    return MainsRead(mean / mains.v_nominal, min(sigma))


def expected(model: SectionModel, readout: Readout, mains: MainsRead | None, *,
             with_meter: bool = True, scores: Scores | None = None) -> Expected:  # fmt: skip
    """What a meter would show for the readings of a readout.

    Parameters
    ----------
    model : SectionModel
        The section.
    readout : Readout
        What was read.
    mains : MainsRead or None
        The mains as it was read; None if it was not.
    with_meter : bool
        Whether the meter has an error.
    scores : callable, optional
        What the sound chassis are made of, where two readouts are to be of the same chassis.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    fast = readout.predict(as_drawn(model, readout.coordinates, mains)[None])[0][0]
    drawn, settled = fast.copy(), True
    where = [k for k, r in enumerate(readout.readings) if r.kind in _VOLTS]
    whole = simulated(model, [readout.readings[k] for k in where], mains)
    for k, (v, is_settled) in zip(where, whole, strict=True):
        drawn[k] = readout.scales.y(readout.readings[k], v)
        settled = settled and is_settled
    sound = _sound(readout, mains, with_meter, scores or _scores) + (drawn - fast)
    for k, reading in enumerate(readout.readings):
        if reading.kind is Kind.ESR:  # of which a drawing says nothing
            drawn[k] = np.median(sound[:, k])
    own = np.array([measured.sigma if with_meter else 0.0 for measured in readout.measured])
    return Expected(drawn, sound, own, settled)


def as_drawn(model: SectionModel, coordinates: Coordinates, mains: MainsRead | None) -> Floats:
    """The coordinates of the chassis as drawn, shape (coordinates,).

    What no drawing states, such as the share of the copper that a meter sees, is taken in the
    middle of what is usual, but for a series resistance of capacitors, which is simulated as
    none; a pot whose position is not known stands at the middle.
    """
    nominal = {name: float(value) for name, value in model.predictor.values().items()}
    if mains is not None:
        nominal["mains"] = mains.share
    found = []
    for name, prior in zip(coordinates.names, coordinates.sound, strict=True):
        value = nominal.get(name)
        if name.endswith((".top end", ".bottom end")):
            value = nominal[f"{name.partition('.')[0]}.end"]
        if name.endswith(".source") and value is not None:
            value = max(value, _LEAST_SOURCE)
        if name.endswith(".esr") and not value:
            value = math.exp(prior.a)
        found.append(math.log(value) if value else _middle(prior))
    return np.array(found)


def _middle(prior: Prior) -> float:
    if prior.kind == BOX:
        return math.log(0.5 * (math.exp(prior.a) + math.exp(prior.b)))
    return 0.5 * (prior.a + prior.b) if prior.kind == EVEN else prior.a


def _scores(names: Sequence[str]) -> Floats:
    return even_scores(DRAWS, len(names), 1)


def _sound(readout: Readout, mains: MainsRead | None, with_meter: bool,
           scores: Scores) -> Floats:  # fmt: skip
    """Readings of sound chassis, shape (draws, readings)."""
    coordinates = readout.coordinates
    changes: dict[str, Prior] = {}
    if mains is not None and "mains" in coordinates.index:
        changes["mains"] = Prior(NORMAL, math.log(mains.share), mains.sigma)
    if not with_meter:
        changes |= {gain(r.meter, function_of(r.kind)): fixed(0.0) for r in readout.readings}
    priors = Priors([coordinates.row(changes)])
    u = scores(coordinates.names)
    y = np.empty((len(u), len(readout.readings)))
    for start in range(0, len(u), _AT_ONCE):
        rows = slice(start, start + _AT_ONCE)
        x, _ = priors.at(u[rows], np.zeros(_AT_ONCE, dtype=np.intp))
        y[rows] = readout.predict(x)[0]
    return y


# --------------------------------------------------------------------- simulated


def simulated(model: SectionModel, readings: Sequence[Reading], mains: MainsRead | None
              ) -> list[tuple[float, bool]]:  # fmt: skip
    """Volts that the meter would show on the chassis as drawn, the meter in place.

    Parameters
    ----------
    model : SectionModel
        The section.
    readings : sequence of Reading
        Of volts between two nodes.
    mains : MainsRead or None
        The mains as it was read; None if it was not.

    Returns
    -------
    list of (float, bool)
        What each would be, and whether the simulation had settled. [V]
    """
    states = [_state(model, reading, mains) for reading in readings]
    keys = [repr((sorted(values.items()), extra)) for values, extra in states]
    unlike = dict(zip(keys, states, strict=True))
    answers = dict(zip(unlike, model.predictor.wholes(list(unlike.values())), strict=True))
    return [(_volts(model, reading, answers[key]), answers[key].state.converged)
            for key, reading in zip(keys, readings, strict=True)]  # fmt: skip


def _state(model: SectionModel, reading: Reading, mains: MainsRead | None) -> _State:
    joined = model.section.joined
    values = model.predictor.values(travel_of(model.predictor, reading))
    if mains is not None:
        values["mains"] = mains.share
    a, b = joined[reading.plus], joined[reading.minus]
    r = reading.meter.resistance(function_of(reading.kind), abs(reading.nominal))
    return values, [Resistance("meter", a, b, r)] if a != b else []


def travel_of(predictor: Predictor, reading: Reading) -> Mapping[str, float]:
    """Where each pot stands at a reading, at the middle where nothing is known of it. [1]"""
    at = reading.state.pots
    return {pot.name: at[pot.name].travel if pot.name in at else 0.5 for pot in predictor.pots()}


def _volts(model: SectionModel, reading: Reading, answer: Operating) -> float:
    waves, joined = answer.state.waves, model.section.joined
    none = np.zeros_like(waves.t)
    plus, minus = (waves.v.get(joined[n], none) for n in (reading.plus, reading.minus))
    across = plus - minus
    if reading.kind is Kind.DC:
        return waves.mean(across)
    if reading.kind is Kind.RIPPLE:
        return float(np.ptp(across))
    return waves.rms(across - waves.mean(across))


# ------------------------------------------------------------------------- scales


def bands(readout: Readout, spread: Expected) -> list[tuple[float, float]]:
    """Limits between which each reading lies on 95 of 100 sound chassis. [SI]"""
    noise = np.random.default_rng(2).standard_normal(spread.sound.shape)
    found = []
    for k, (reading, measured) in enumerate(zip(readout.readings, readout.measured, strict=True)):
        own = spread.own[k] * noise[:, k]
        if reading.kind is Kind.DC:
            every = spread.sound[:, k] + own
        elif reading.nominal == OVERLOAD:
            every = np.exp(spread.sound[:, k] + own) - readout.scales.added(reading)
        else:
            # A meter's error adds to what it shows: with few digits it may be as large. What
            # reads less than was read has no larger error.
            shown = np.exp(spread.sound[:, k])
            error = own * np.minimum(shown, math.exp(measured.y))
            every = np.maximum(shown - readout.scales.added(reading) + error, 0.0)
        if reading.kind in WITH_OVERLOAD:
            every = np.where(every >= ALMOST * overload(reading), OVERLOAD, every)
        low, high = np.quantile(every, _LIMITS, method="nearest")
        found.append((float(low), float(high)))
    return found


def unknown_pots(model: SectionModel, readout: Readout, mains: MainsRead | None) -> list[str]:
    """Pots that some reading depends on, and whose position nobody wrote down."""
    coordinates = readout.coordinates
    slope = readout.predict(as_drawn(model, coordinates, mains)[None])[1][0]
    own = np.array([measured.sigma for measured in readout.measured])
    where = {pot.name: coordinates.index.get(f"{pot.name}@") for pot in model.predictor.pots()}
    return [pot for pot, k in where.items()
            if k is not None and np.any(np.abs(slope[:, k]) > own)]  # fmt: skip
