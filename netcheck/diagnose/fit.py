"""How well each hypothesis explains the readings: many at once.

Every coordinate is a function of a standard normal score, so that the prior of the scores is the
same for all hypotheses. The scores that explain the readings best are sought by Levenberg and
Marquardt's method, and the probability of the readings is had from the curvature there (Laplace).

References
----------
D. J. C. MacKay, "Information Theory, Inference, and Learning Algorithms", Cambridge 2003,
chapters 27 (Laplace's method) and 28 (model comparison).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ..engine.elements import Floats
from ..readings import Kind
from ..readout.coordinates import Coordinates, Priors
from ..readout.readout import Readout
from .hypotheses import Hypothesis

_ROUNDS = 25
_LOST = 60.0  # a start so much worse than the best hypothesis is given up
_PATIENCE = 5  # rounds before any is given up
_ENOUGH = 1e-3  # improvement of the objective below which a fit has arrived
_TRIES = 3  # rounds in a row without one
_BOLDER, _WARIER = 0.05, 30.0  # what a step that helped makes of the damping, and one that did not
_WARY = 3.0
"""The least damping after a step that did not help: near the end of its range a score bends so much
that with less the next tries fail as well, and the fit would rest halfway. [1]"""
_FREE = 1.0  # with more damping a step is short, and a small gain does not mean that it has arrived
_LONGEST = 1.0  # change of a score in one round
_U_MOST = 5.0  # scores beyond are numerically certain
_UNKNOWN = 3.0  # s.d. of the logarithm of a reading of which nothing is known


@dataclass(frozen=True)
class Fits:
    """The best fit of each hypothesis.

    Parameters
    ----------
    hypotheses : tuple of Hypothesis
        The hypotheses.
    priors : Priors
        A row for each hypothesis.
    u : array, shape (hypotheses, coordinates)
        Scores at the best fit.
    log_evidence : array, shape (hypotheses,)
        Logarithm of the probability density of the readings.
    misfit : array, shape (hypotheses,)
        Sum of squares of residuals and scores: chi-square with as many degrees of freedom as
        there are readings, if the hypothesis is true. [1]
    residual : array, shape (hypotheses, readings)
        Predicted less measured, in standard deviations of the reading itself. [1]
    slope : array, shape (hypotheses, readings, coordinates)
        Derivative of `residual` by the scores.
    exact : array, shape (hypotheses, outputs of the front), or None
        What puts the rectifier right at the best fit; None without a rectifier.
    """

    hypotheses: tuple[Hypothesis, ...]
    priors: Priors
    u: Floats
    log_evidence: Floats
    misfit: Floats
    residual: Floats
    slope: Floats
    exact: Floats | None

    def exact_of(self, k: int, rows: int) -> Floats | None:
        """`exact` of one hypothesis for many conditions near its best fit."""
        return None if self.exact is None else np.repeat(self.exact[k : k + 1], rows, axis=0)

    def widened(self, coordinates: Coordinates) -> Fits:
        """The same among more coordinates, which come last and are certain in all of these."""
        more = len(coordinates) - self.u.shape[1]
        rows = [coordinates.row(h.changes) for h in self.hypotheses]
        slope = np.pad(self.slope, ((0, 0), (0, 0), (0, more)))
        return replace(self, priors=Priors(rows), u=np.pad(self.u, ((0, 0), (0, more))),
                       slope=slope)  # fmt: skip

    def covariance(self, k: int) -> Floats:
        """Covariance of the scores of one hypothesis, (coordinates, coordinates). [1]"""
        slope = self.slope[k]
        gram = slope @ slope.T + np.eye(slope.shape[0])
        inner: Floats = np.linalg.solve(gram, slope)
        covariance: Floats = np.eye(slope.shape[1]) - slope.T @ inner
        return covariance


class Fitter:
    """Fits hypotheses to the readings of a readout.

    Parameters
    ----------
    readout : Readout
        What was read.
    """

    def __init__(self, readout: Readout) -> None:
        self.readout = readout
        self._y = np.array([m.y for m in readout.measured])
        self._sigma = np.array([m.sigma for m in readout.measured])

    def fit(self, hypotheses: Sequence[Hypothesis]) -> Fits:
        """The best fit of each hypothesis."""
        coordinates = self.readout.coordinates
        priors = Priors([coordinates.row(h.changes) for h in hypotheses])
        rows, u = self._starts(hypotheses, len(coordinates))
        search, evidence = self._searched(hypotheses, priors, rows, u, self._as_is(len(rows)))
        best = np.array([_best(rows, evidence, k) for k in range(len(hypotheses))], dtype=int)
        return self._fits(hypotheses, priors, search, evidence, best)

    def at_rest(self, hypotheses: Sequence[Hypothesis]) -> Fits:
        """Hypotheses before anything is fitted: every score 0."""
        coordinates = self.readout.coordinates
        priors = Priors([coordinates.row(h.changes) for h in hypotheses])
        rows = np.arange(len(hypotheses))
        u = np.zeros((rows.size, len(coordinates)))
        search, evidence = self._searched(
            hypotheses, priors, rows, u, self._as_is(rows.size), rounds=0
        )
        return self._fits(hypotheses, priors, search, evidence, rows)

    def refined(self, fits: Fits, which: Sequence[int]) -> Fits:
        """Fits with the rectifier simulated where some hypotheses have led.

        Parameters
        ----------
        fits : Fits
            As far as they go.
        which : sequence of int
            Places of the hypotheses. [count]

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        found = {k: exact for k in which if (exact := self._exact(fits, k)) is not None}
        if not found or fits.exact is None:
            return fits
        rows = np.array(list(found))
        exact = np.array(list(found.values()))
        own = [fits.hypotheses[k] for k in rows]
        priors = Priors([self.readout.coordinates.row(h.changes) for h in own])
        search, evidence = self._searched(own, priors, np.arange(rows.size), fits.u[rows], exact)
        new = self._fits(own, priors, search, evidence, np.arange(rows.size))
        old = (fits.u, fits.log_evidence, fits.misfit, fits.residual, fits.slope, fits.exact)
        merged = [np.array(array) for array in old]
        for array, better in zip(merged, (new.u, new.log_evidence, new.misfit, new.residual,
                                          new.slope, exact), strict=True):  # fmt: skip
            array[rows] = better
        return Fits(fits.hypotheses, fits.priors, *merged)

    def _exact(self, fits: Fits, k: int) -> Floats | None:
        x = fits.priors.at(fits.u[k : k + 1], np.array([k]))[0][0]
        return self.readout.exact(x)

    def _as_is(self, rows: int) -> Floats | None:
        front = self.readout.model.front
        return None if front is None else np.repeat(front.as_is[None], rows, axis=0)

    def _searched(self, hypotheses: Sequence[Hypothesis], priors: Priors,
                  rows: npt.NDArray[np.intp], u: Floats, exact: Floats | None,
                  rounds: int = _ROUNDS) -> tuple[_Search, Floats]:  # fmt: skip
        """A search that has ended, and the evidence of each of its rows."""
        y, sigma, penalty = self._targets(hypotheses)
        search = _Search(self.readout, priors, rows, y[rows], sigma[rows], exact)
        search.run(u, rounds)
        return search, search.log_evidence() + penalty[rows]

    def _fits(self, hypotheses: Sequence[Hypothesis], priors: Priors, search: _Search,
              evidence: Floats, best: npt.NDArray[np.intp]) -> Fits:  # fmt: skip
        return Fits(
            tuple(hypotheses), priors, search.u[best], evidence[best],
            2.0 * search.objective[best], search.residual[best], search.slope[best],
            self._as_is(best.size),
        )  # fmt: skip

    def _starts(self, hypotheses: Sequence[Hypothesis], size: int
                ) -> tuple[npt.NDArray[np.intp], Floats]:  # fmt: skip
        rows = np.array([k for k, h in enumerate(hypotheses) for _ in h.starts])
        u = np.zeros((rows.size, size))
        starts = (start for h in hypotheses for start in h.starts)
        for row, start in enumerate(starts):
            for name, score in start.items():
                u[row, self.readout.coordinates.index[name]] = score
        return rows, u

    def _targets(self, hypotheses: Sequence[Hypothesis]) -> tuple[Floats, Floats, Floats]:
        """Readings and their errors as each hypothesis takes them, and ln of the scale."""
        count = len(hypotheses)
        y = np.repeat(self._y[None], count, axis=0)
        sigma = np.repeat(self._sigma[None], count, axis=0)
        penalty = np.zeros(count)
        for k, h in enumerate(hypotheses):
            if h.reading is None:
                continue
            j, is_volts = h.reading, self.readout.readings[h.reading].kind is Kind.DC
            if h.factor == 0.0:
                sigma[k, j] = 0.5 * abs(y[k, j]) + 20.0 if is_volts else _UNKNOWN
            elif is_volts:
                y[k, j] *= h.factor
                sigma[k, j] *= abs(h.factor)
                penalty[k] = math.log(abs(h.factor))
            else:
                y[k, j] += math.log(abs(h.factor))
        return y, sigma, penalty


def _best(rows: npt.NDArray[np.intp], evidence: Floats, k: int) -> int:
    own = np.flatnonzero(rows == k)
    return int(own[np.argmax(evidence[own])])


def _onto(slope: Floats, right: Floats) -> Floats:
    """Transposed matrices times vectors, (rows, coordinates)."""
    product: Floats = (right[:, None, :] @ slope)[:, 0]
    return product


def _shortened(step: Floats) -> Floats:
    """Steps no longer than the scores can be trusted to be straight: far out they saturate."""
    longest = np.max(np.abs(step), axis=1, keepdims=True)
    shortened: Floats = step * np.minimum(1.0, _LONGEST / np.maximum(longest, 1e-12))
    return shortened


class _Search:
    """Levenberg and Marquardt's method on many fits at once."""

    def __init__(self, readout: Readout, priors: Priors, rows: npt.NDArray[np.intp],
                 y: Floats, sigma: Floats, exact: Floats | None) -> None:  # fmt: skip
        self._readout, self._priors, self._rows = readout, priors, rows
        self._y, self._sigma, self._exact = y, sigma, exact

    def run(self, u: Floats, rounds: int) -> None:
        """Search from these scores, so many rounds at the most."""
        self.u, count = u.copy(), u.shape[0]
        self.residual, self.slope = self._at(np.arange(count), self.u)
        self.objective = self._objective(self.residual, self.u)
        damping = np.full(count, 0.3)
        waits = np.zeros(count, dtype=int)
        active = np.arange(count)
        for turn in range(rounds):
            step = self._step(active, damping[active])
            trial = np.clip(self.u[active] + _shortened(step), -_U_MOST, _U_MOST)
            residual, slope = self._at(active, trial)
            objective = self._objective(residual, trial)
            better = objective < self.objective[active]
            gained = self.objective[active] - objective
            won = active[better]
            self.u[won], self.residual[won] = trial[better], residual[better]
            self.slope[won], self.objective[won] = slope[better], objective[better]
            damping[active] = np.where(better, np.maximum(_BOLDER * damping[active], 1e-6),
                                       np.clip(_WARIER * damping[active], _WARY, 1e8))  # fmt: skip
            waits[active] = np.where(better & (gained > _ENOUGH), 0, waits[active] + 1)
            resting = (waits[active] >= _TRIES) | (
                better & (gained <= _ENOUGH) & (damping[active] < _FREE))  # fmt: skip
            lost = (turn >= _PATIENCE) & (
                self.objective[active] > self.objective.min() + _LOST * 20.0 / (turn + 1.0)
            )
            active = active[~(resting | lost)]
            if not active.size:
                break

    def _at(self, which: npt.NDArray[np.intp], u: Floats) -> tuple[Floats, Floats]:
        x, dx_du = self._priors.at(u, self._rows[which])
        exact = None if self._exact is None else self._exact[which]
        y, dy_dx = self._readout.predict(x, exact)
        sigma = self._sigma[which]
        residual = (y - self._y[which]) / sigma
        return residual, dy_dx * dx_du[:, None, :] / sigma[:, :, None]

    def _objective(self, residual: Floats, u: Floats) -> Floats:
        value: Floats = 0.5 * np.sum(residual**2, axis=1) + 0.5 * np.sum(u**2, axis=1)
        return np.where(np.isfinite(value), value, 1e300)

    def _step(self, which: npt.NDArray[np.intp], damping: Floats) -> Floats:
        """Towards the minimum of the linearised fit, by way of the smaller matrix."""
        slope, residual, u = self.slope[which], self.residual[which], self.u[which]
        gradient = _onto(slope, residual) + u
        scale = 1.0 + damping
        gram = slope @ slope.transpose(0, 2, 1)
        gram[:, range(gram.shape[1]), range(gram.shape[1])] += scale[:, None]
        inner = np.asarray(np.linalg.solve(gram, slope @ gradient[:, :, None])[:, :, 0], float)
        step: Floats = -(gradient - _onto(slope, inner)) / scale[:, None]
        return step

    def log_evidence(self) -> Floats:
        """Laplace's estimate of the logarithm of the readings' probability density."""
        gram = self.slope @ self.slope.transpose(0, 2, 1)
        gram[:, range(gram.shape[1]), range(gram.shape[1])] += 1.0
        _, log_det = np.linalg.slogdet(gram)
        m = self.residual.shape[1]
        return np.asarray(-self.objective - np.sum(np.log(self._sigma), axis=1)
                          - 0.5 * log_det - 0.5 * m * math.log(2.0 * math.pi))  # fmt: skip
