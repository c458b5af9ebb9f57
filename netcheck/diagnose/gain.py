"""How much each reading that could be taken would tell.

References
----------
D. V. Lindley, "On a measure of the information provided by an experiment", Ann. Math. Statist.
27 (1956), 986-1005: the expected gain is the mutual information of part and reading.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..engine.elements import Floats
from ..readout.coordinates import Priors
from ..readout.readout import Readout
from ..readout.scores import even_scores
from .candidates import Candidate
from .diagnosis import Diagnosis
from .suspects import joined

_DRAWS = 16  # conditions drawn for each hypothesis [count]
_WORTH = 2e-3  # hypotheses less probable are left out [1]
_MOST = 60  # hypotheses that are drawn from [count]
_POINTS = 100  # of a reading's scale at which it is cut into cells [count]
_SPREAD = (-3.0, -1.5, -0.5, 0.0, 0.5, 1.5, 3.0)  # of an error, around each draw [1]
_DIGITS = 2000.0  # counts of a meter's display [count]


@dataclass(frozen=True, slots=True)
class NextReading:
    """A reading that could be taken, and what it is worth.

    Parameters
    ----------
    candidate : Candidate
        The reading.
    bits : float
        Expected gain of information on which part is at fault. [bit]
    likely : tuple of float
        What it would probably show: 5 %, 50 % and 95 % points. [SI]
    if_fault : mapping of parts to tuple of float
        The same if these parts are at fault, see `Hypothesis`; the improbable are left out. [SI]
    """

    candidate: Candidate
    bits: float
    likely: tuple[float, float, float]
    if_fault: Mapping[tuple[str, ...], tuple[float, float, float]] = field(default_factory=dict)

    @property
    def worth(self) -> float:
        """Bits for the effort. [bit]"""
        return self.bits / self.candidate.effort


def next_readings(diagnosis: Diagnosis, among: Sequence[Candidate],
                  year: int) -> list[NextReading]:  # fmt: skip
    """What every candidate would tell, the most worthwhile first.

    Parameters
    ----------
    diagnosis : Diagnosis
        What is known so far.
    among : sequence of Candidate
        What could be read.
    year : int
        The year of the readings. [year]
    """
    model = diagnosis.readout.model
    readout = Readout(model, [c.reading for c in among], year)
    usable = [c for c in among if c.reading in readout.readings]
    if not usable:
        return []
    y, weight, label, names = _drawn(diagnosis, readout)
    sigma = _sigma(readout, y, weight)
    found = []
    for k, candidate in enumerate(usable):
        own = np.hypot(sigma[k], readout.distance(k, y[:, k]))
        bits = _mutual_information(y[:, k], own, weight, label)
        likely = _likely(readout, k, y[:, k], weight)
        if_fault = {parts: _likely(readout, k, y[label == n, k], weight[label == n])
                    for parts, n in names.items()}  # fmt: skip
        found.append(NextReading(candidate, bits, likely, if_fault))
    return sorted(found, key=lambda n: -n.worth)


def _drawn(diagnosis: Diagnosis, readout: Readout
           ) -> tuple[Floats, Floats, np.ndarray[tuple[int, ...], np.dtype[np.intp]],
                      dict[tuple[str, ...], int]]:  # fmt: skip
    """Candidates' readings on chassis drawn from what is known; weights; labels; what they mean."""
    every = joined(diagnosis.fits)
    order = [int(k) for k in np.argsort(-diagnosis.posterior)[:_MOST]
             if diagnosis.posterior[k] > _WORTH]  # fmt: skip
    names: dict[tuple[str, ...], int] = {}
    source, target = diagnosis.readout.coordinates, readout.coordinates
    size = len(target)
    shared = [(source.index[n], target.index[n]) for n in target.names if n in source.index]
    nothing_known = _scores(size)
    rows, weight, label = [], [], []
    exact: list[Floats] = []
    for place in order:
        fits, k = every[place]
        h = fits.hypotheses[k]
        own = fits.u[k] + _narrowed(_scores(fits.u.shape[1]), fits.slope[k])
        known = fits.priors.at(own, np.full(_DRAWS, k))[0]
        row = target.row({n: p for n, p in h.changes.items() if n in target.index})
        x = Priors([row]).at(nothing_known, np.zeros(_DRAWS, dtype=int))[0]
        for a, b in shared:  # not by its score: priors hang on what is read, as of the mains
            x[:, b] = known[:, a]
        rows.append(x)
        if (own_exact := fits.exact_of(k, _DRAWS)) is not None:
            exact.append(own_exact)
        weight += [diagnosis.posterior[place] / _DRAWS] * _DRAWS
        label += [names.setdefault(h.parts, len(names))] * _DRAWS
    y, _ = readout.predict(np.concatenate(rows), np.concatenate(exact) if exact else None)
    total = np.array(weight)
    return y, total / total.sum(), np.array(label), names


@functools.cache
def _scores(size: int) -> Floats:
    return even_scores(_DRAWS, size, 1)


def _narrowed(scores: Floats, slope: Floats) -> Floats:
    """Deviations from the best fit, from scores of the prior; their covariance is that of the fit.

    With the symmetric root of the covariance, what two hypotheses have in common is drawn alike
    for both: with any other they would seem to differ, by as much as so few draws do by chance.
    The covariance is I - S' (S S' + I)^-1 S with the slope S, so its root is had from the
    singular values of S, of which there are no more than readings.
    """
    if not slope.shape[0]:
        return scores
    _, values, rows = np.linalg.svd(slope, full_matrices=False)
    less = 1.0 - 1.0 / np.sqrt(1.0 + values**2)
    return np.asarray(scores - (scores @ rows.T * less) @ rows)


def _sigma(readout: Readout, y: Floats, weight: Floats) -> Floats:
    """Error of each candidate, at the value it probably shows."""
    found = np.empty(y.shape[1])
    for k, reading in enumerate(readout.readings):
        middle = readout.scales.value(reading, _quantiles(y[:, k], weight)[1])
        size = max(abs(middle), 1e-9)
        digit = 10.0 ** math.ceil(math.log10(size / _DIGITS))
        likely = replace(reading, nominal=middle, last_digit=digit)
        found[k] = readout.scales.measured(likely).sigma
    return found


def _likely(readout: Readout, k: int, y: Floats, weight: Floats) -> tuple[float, float, float]:
    """What a reading would show: 5 %, 50 % and 95 % points. [SI]"""
    reading, scales = readout.readings[k], readout.scales
    low, middle, high = (scales.value(reading, y) for y in _quantiles(y, weight / weight.sum()))
    return low, middle, high


def _quantiles(y: Floats, weight: Floats) -> tuple[float, float, float]:
    order = np.argsort(y)
    total = np.cumsum(weight[order])
    at = np.searchsorted(total, [0.05, 0.5, 0.95])
    return tuple(float(y[order[min(k, y.size - 1)]]) for k in at)  # type: ignore[return-value]


def _mutual_information(
    y: Floats, sigma: Floats, weight: Floats,
    label: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
) -> float:  # fmt: skip
    """Mutual information of label and reading, for drawn readings with a normal error. [bit]

    The scale is cut into cells: what falls into which is at most as telling as the reading
    itself, however narrow or far apart the draws stand.
    """
    width = _widths(y, sigma)
    below = _below((_cuts(y, width, weight)[:, None] - y) / width)
    of_label = np.zeros((y.size, int(label.max()) + 1))
    of_label[np.arange(y.size), label] = weight
    share = of_label.sum(axis=0)
    total = np.concatenate([np.zeros((1, share.size)), below @ of_label, share[None]])
    cells = np.maximum(np.diff(total, axis=0), 0.0)
    even = cells.sum(axis=1, keepdims=True) * share
    ratio = np.where(cells > 0.0, cells / np.maximum(even, 1e-300), 1.0)
    return max(float(np.sum(cells * np.log2(ratio))), 0.0)


def _below(z: Floats) -> Floats:
    """The normal distribution function within 2e-4, many times quicker than exactly.

    References
    ----------
    E. Page, "Approximations to the cumulative normal function and its inverse for use on a
    pocket calculator", Appl. Statist. 26 (1977), 75-76 (from memory).
    """
    return np.asarray(0.5 + 0.5 * np.tanh(z * (0.7978846 + 0.0356774 * z * z)))


def _cuts(y: Floats, width: Floats, weight: Floats) -> Floats:
    """Where the scale is cut: more often where draws are, and where they are probable."""
    points = np.concatenate([y + s * width for s in _SPREAD])
    order = np.argsort(points)
    each = np.tile(0.5 * weight + 0.5 / y.size, len(_SPREAD))[order]
    at = np.searchsorted(np.cumsum(each), np.linspace(0.0, each.sum(), _POINTS))
    found = points[order[np.minimum(at, points.size - 1)]]
    return found[np.diff(found, prepend=-np.inf) > 0.0]


def _widths(y: Floats, sigma: Floats) -> Floats:
    """Width of each draw: the reading's error, and that a few draws stand for many."""
    # Draws of one hypothesis stand together in runs of `_DRAWS`.
    spread = np.repeat(np.std(y.reshape(-1, _DRAWS), axis=1), _DRAWS)
    return np.asarray(np.hypot(sigma, 1.06 * spread * _DRAWS**-0.2))
