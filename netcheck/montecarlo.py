"""Bands by Monte Carlo: many sound chassis drawn at random, predicted by the fast path.

It stands beside the bands of `tolerance`, which are computed from what each part does alone and
from a formula for the sum, and tells where these do not hold. Both take every part to be even
within its tolerance and the mains to be as stated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .engine.elements import Floats
from .errors import InputError
from .model import Value
from .network import Means
from .port import PortCurve, moved
from .predictor import Predictor
from .tolerance import Band, parameters_in_front, tolerances

LEAST, MOST = 200, 100_000
"""Chassis: fewer say too little of the outer 2.5 %, more take long. [count]"""
_LIMITS = (0.025, 0.975)
_SURE = 0.999
"""How sure the interval of a limit is: of some forty limits shown none is out by chance. [1]"""


@dataclass(frozen=True, slots=True)
class Scatter:
    """Means of chassis drawn at random, arrays of shape (positions, watched nodes).

    Parameters
    ----------
    samples, seed : int
        How many, and what their random numbers started from. [count]
    low, high : array
        95 of 100 of them lie between these. [V]
    low_within, high_within : pair of array
        Between these the limit itself lies, but for 1 case in 1000: so few samples leave it
        open. [V]
    """

    samples: int
    seed: int
    low: Floats
    high: Floats
    low_within: tuple[Floats, Floats]
    high_within: tuple[Floats, Floats]

    def beyond(self, band: Band) -> tuple[Floats, Floats]:
        """How far the limits of a band are off by more than sampling may be.

        Parameters
        ----------
        band : Band
            The 95 % band beside it.

        Returns
        -------
        low, high : array, shape (positions, watched)
            By how much the band is too wide at either limit, negative for too narrow; 0 where
            both agree. [V]
        """
        return -_outside(band.low_95, self.low_within), _outside(band.high_95, self.high_within)

    def scaled(self, ratio: Floats) -> Scatter:
        """The same with all volts in a proportion, as a meter's load makes them."""
        ends = [np.sort([low * ratio, high * ratio], axis=0)
                for low, high in (self.low_within, self.high_within)]  # fmt: skip
        return replace(self, low=self.low * ratio, high=self.high * ratio,
                       low_within=(ends[0][0], ends[0][1]),
                       high_within=(ends[1][0], ends[1][1]))  # fmt: skip


def _outside(value: Floats, within: tuple[Floats, Floats]) -> Floats:
    return np.asarray(value - np.clip(value, *within))


def scatter(predictor: Predictor, settings: Mapping[str, Floats], watched: Sequence[str],
            samples: int, seed: int) -> Scatter:  # fmt: skip
    """Draw chassis at random and find the limits of their means.

    Parameters
    ----------
    predictor : Predictor
        Of a section that can be cut.
    settings : mapping of str to array, shape (positions,)
        The travel parameters ("RV1.travel"); the same chassis are read at every position.
    watched : sequence of str
        The nodes looked at.
    samples, seed : int
        How many chassis, and what their random numbers start from. [count]

    Raises
    ------
    InputError
        For a section that cannot be cut: the fast path does not know it.
    EngineError
        If the simulator cannot answer.

    """
    if predictor.network is None:
        raise InputError("--samples: this section cannot be parted behind its rectifier: "
                         "every chassis would be a simulation of its own")  # fmt: skip
    drawn = Drawn(predictor, watched, samples, seed)
    rows = max((np.size(value) for value in settings.values()), default=1)
    every = np.stack([drawn.means({name: float(at[k]) for name, at in settings.items()})
                      for k in range(rows)])  # fmt: skip
    every.sort(axis=1)
    low, high = (_limit(every, share) for share in _LIMITS)
    within = [interval(every, share) for share in _LIMITS]
    return Scatter(samples, seed, low, high, within[0], within[1])


def _limit(every: Floats, share: float) -> Floats:
    return np.asarray(np.quantile(every, share, axis=1))


def interval(every: Floats, share: float) -> tuple[Floats, Floats]:
    """Between which samples a limit lies, but for 1 case in 1000.

    Parameters
    ----------
    every : array, shape (positions, samples, watched)
        Sorted along the samples.
    share : float
        Of all chassis that lie below the limit. [1]

    Returns
    -------
    low, high : array, shape (positions, watched)

    Notes
    -----
    The number of samples below the limit is binomial, whatever the spread: the limit lies
    between the sorted values at the outer points of that distribution.
    """
    from scipy.stats import binom  # noqa: PLC0415 - slow to load, and seldom asked for

    count = every.shape[1]
    first, last = binom.interval(_SURE, count, share)
    return every[:, max(int(first) - 1, 0)], every[:, min(int(last), count - 1)]


class Drawn:
    """Chassis drawn at random.

    Parameters
    ----------
    predictor : Predictor
        Of a section that can be cut.
    watched : sequence of str
        The nodes looked at.
    samples, seed : int
        See `scatter`. [count]

    Attributes
    ----------
    factors : dict of parameter name to array, shape (samples,)
        Each chassis' parameters over those drawn. [1]
    """

    def __init__(self, predictor: Predictor, watched: Sequence[str], samples: int,
                 seed: int) -> None:  # fmt: skip
        self._predictor, self._samples = predictor, samples
        self._nodes = [predictor.section.joined[node] for node in watched]
        limits = tolerances(predictor.section, predictor.changes)
        limits.pop("mains", None)  # it can be measured: the band is for the mains stated
        random = np.random.default_rng(seed)
        shares = {name: random.uniform(-1.0, 1.0, samples) for name in limits}
        self.factors = {name: 1.0 + limits[name] * share for name, share in shares.items()}
        front = parameters_in_front(predictor.section, limits)
        self._behind = {name: f for name, f in self.factors.items() if name not in front}
        names = [name for name in limits if name in front]
        downs = self._traced({name: -limits[name] for name in names})
        ups = self._traced({name: limits[name] for name in names})
        self._front = [(shares[name], down, up)
                       for name, down, up in zip(names, downs, ups, strict=True)]  # fmt: skip

    def _traced(self, shifts: Mapping[str, float]) -> list[Mapping[str, PortCurve]]:
        """The port curves with one parameter in front after the other at a limit.

        By how much that draws a curve out hardly depends on the load: the drawn one will do.
        """
        predictor, drawn = self._predictor, self._predictor.values()
        states = [drawn | {name: drawn.get(name, 1.0) * (1.0 + shift)}
                  for name, shift in shifts.items()]  # fmt: skip
        few = predictor.traces(states, (1.0,), refine=False)
        return [{port: moved(predictor.curves[port], curve) for port, curve in one.items()}
                for one in few]  # fmt: skip

    def means(self, settings: Mapping[str, float]) -> Floats:
        """Means of the watched nodes at one position, shape (samples, watched). [V]

        What a part in front does is known at both limits of its tolerance and with nothing
        changed: a parabola through the three says what it does between them, at the load that
        each chassis makes.
        """
        predictor, network = self._predictor, self._predictor.network
        assert network is not None
        values: dict[str, Value] = predictor.values() | dict(settings)
        for name, factor in self._behind.items():
            values[name] = values.get(name, 1.0) * factor
        found = self._watched(predictor.means(values, self._samples))
        plain = self._watched(network.means(values, predictor.curves, self._samples))
        for share, down, up in self._front:
            below, above = (self._watched(network.means(values, curves, self._samples)) - plain
                            for curves in (down, up))  # fmt: skip
            u = share[:, None]
            found = found + 0.5 * (above - below) * u + 0.5 * (above + below) * u * u
        return found

    def _watched(self, means: Means) -> Floats:
        return np.stack([means.at(node) for node in self._nodes], axis=1)
