"""How much each reading that could be taken would tell.

References
----------
D. V. Lindley, "On a measure of the information provided by an experiment", Ann. Math. Statist.
27 (1956), 986-1005: the expected gain is the mutual information of part and reading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from ..engine.elements import Floats
from ..readings import Kind, Reading
from ..readout.readout import Readout
from .candidates import Candidate
from .diagnosis import Diagnosis
from .suspects import joined

_DRAWS = 16  # conditions drawn for each hypothesis [count]
_WORTH = 2e-3  # hypotheses less probable are left out [1]
_MOST = 60  # hypotheses that are drawn from [count]
_POINTS = 160  # of a reading's scale at which densities are compared [count]
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
    """

    candidate: Candidate
    bits: float
    likely: tuple[float, float, float]

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
    y, weight, label = _drawn(diagnosis, readout)
    sigma = _sigma(readout, y, weight)
    found = []
    for k, candidate in enumerate(usable):
        bits = _mutual_information(y[:, k], sigma[k], weight, label)
        points = _quantiles(y[:, k], weight)
        likely = tuple(_shown(readout, k, point) for point in points)
        found.append(NextReading(candidate, bits, (likely[0], likely[1], likely[2])))
    return sorted(found, key=lambda n: -n.worth)


def _drawn(diagnosis: Diagnosis, readout: Readout
           ) -> tuple[Floats, Floats, np.ndarray[tuple[int, ...], np.dtype[np.intp]]]:  # fmt: skip
    """Candidates' readings on chassis drawn from what is known; weights; labels."""
    every = joined(diagnosis.fits)
    order = [int(k) for k in np.argsort(-diagnosis.posterior)[:_MOST]
             if diagnosis.posterior[k] > _WORTH]  # fmt: skip
    names = {}
    source, target = diagnosis.readout.coordinates, readout.coordinates
    size = len(target)
    shared = [(source.index[n], target.index[n]) for n in target.names if n in source.index]
    normal = _scores(size)
    rows, weight, label = [], [], []
    for place in order:
        fits, k = every[place]
        h = fits.hypotheses[k]
        u = normal.copy()
        own = fits.u[k] + _scores(fits.u.shape[1]) @ _root(fits.covariance(k)).T
        for a, b in shared:
            u[:, b] = own[:, a]
        row = target.row({n: p for n, p in h.changes.items() if n in target.index})
        from ..readout.coordinates import Priors  # noqa: PLC0415

        rows.append(Priors([row]).at(u, np.zeros(_DRAWS, dtype=int))[0])
        weight += [diagnosis.posterior[place] / _DRAWS] * _DRAWS
        label += [names.setdefault(h.parts, len(names))] * _DRAWS
    y, _ = readout.predict(np.concatenate(rows))
    total = np.array(weight)
    return y, total / total.sum(), np.array(label)


def _scores(size: int) -> Floats:
    """Standard normal scores that fill the space evenly, the same on every run."""
    return np.asarray(ndtri(qmc.Halton(size, seed=1).random(_DRAWS + 1)[1:]), dtype=float)


def _root(covariance: Floats) -> Floats:
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def _sigma(readout: Readout, y: Floats, weight: Floats) -> Floats:
    """Error of each candidate, at the value it probably shows."""
    found = np.empty(y.shape[1])
    for k, reading in enumerate(readout.readings):
        middle = _shown(readout, k, _quantiles(y[:, k], weight)[1])
        size = max(abs(middle), 1e-9)
        digit = 10.0 ** math.ceil(math.log10(size / _DIGITS))
        likely = replace(reading, nominal=middle, last_digit=digit)
        found[k] = readout.measured_as(likely).sigma
    return found


def _shown(readout: Readout, k: int, y: float) -> float:
    """A value on the scale of comparison as the meter shows it. [SI]"""
    reading: Reading = readout.readings[k]
    if reading.kind is Kind.DC:
        return y
    return max(math.exp(y) - readout.added(reading), 0.0)


def _quantiles(y: Floats, weight: Floats) -> tuple[float, float, float]:
    order = np.argsort(y)
    total = np.cumsum(weight[order])
    at = np.searchsorted(total, [0.05, 0.5, 0.95])
    return tuple(float(y[order[min(k, y.size - 1)]]) for k in at)  # type: ignore[return-value]


def _mutual_information(
    y: Floats, sigma: float, weight: Floats,
    label: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
) -> float:  # fmt: skip
    """Mutual information of label and reading, for drawn readings with a normal error. [bit]"""
    width = _widths(y, sigma, weight, label)
    low, high = float(np.min(y - 4 * width)), float(np.max(y + 4 * width))
    # Points where the readings are, so that far outliers do not thin them out.
    edges = np.sort(np.concatenate([y + s * width for s in (-3, -1.5, -0.5, 0.0, 0.5, 1.5, 3)]))
    grid = np.interp(np.linspace(0, 1, _POINTS), np.linspace(0, 1, edges.size), edges)
    grid = np.unique(np.concatenate(([low], grid, [high])))
    z = (grid[:, None] - y[None, :]) / width[None, :]
    density = np.exp(-0.5 * z * z) / (width * math.sqrt(2 * math.pi)) * weight
    count = int(label.max()) + 1
    by_label = np.stack([density[:, label == k].sum(axis=1) for k in range(count)])
    total = np.maximum(by_label.sum(axis=0), 1e-300)
    share = np.array([weight[label == k].sum() for k in range(count)])
    ratio = by_label / (total * share[:, None])
    integrand = np.where(by_label > 0, by_label * np.log2(np.maximum(ratio, 1e-300)), 0.0).sum(0)
    area = np.sum((integrand[1:] + integrand[:-1]) * np.diff(grid)) / 2.0
    return float(np.clip(area, 0.0, -np.sum(share * np.log2(share))))


def _widths(y: Floats, sigma: float, weight: Floats,
            label: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> Floats:  # fmt: skip
    """Width of each draw: the reading's error, and that a few draws stand for many."""
    width = np.full(y.size, sigma)
    # Draws of one hypothesis stand together in runs of `_DRAWS`.
    for begin in range(0, y.size, _DRAWS):
        own = y[begin : begin + _DRAWS]
        spread = float(np.std(own))
        width[begin : begin + _DRAWS] = math.hypot(sigma, 1.06 * spread * _DRAWS**-0.2)
    return width
