"""What speaks for a suspect: the readings that tell it from a sound section.

Each reading is taken by itself: what sound sections show, what those with the fault show, what
was measured. Where none tells by itself and only all together do, each is set beside what the
others leave for it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..engine.elements import Floats
from ..readings import OVERLOAD, Kind
from ..readout.coordinates import NORMAL, Prior, Priors, fixed
from ..readout.readout import Readout
from ..readout.scores import even_scores
from .diagnosis import Diagnosis, surprise
from .fit import Fits
from .hypotheses import NOTHING, Hypothesis
from .suspects import Suspect, joined

_DRAWS = 256  # chassis from which the range of a sound one is had [count]
_Z_95 = 1.96
_FOR, _AGAINST = 1.0, -2.0  # what matters [bit]
_ODD = 2.5  # standard deviations from which on a reading is odd
_MOST, _MOST_AGAINST = 6, 2  # readings that are listed [count]


@dataclass(frozen=True, slots=True)
class Evidence:
    """A reading that speaks for a suspect, or against it.

    Parameters
    ----------
    reading : int
        Its place among those used. [count]
    measured : float
        What was read; `OVERLOAD` for OL. [SI]
    sound : tuple of float
        What a sound section would show, with the mains as read: 95 of 100 lie between the
        first and the last, half above the second. Of a reading taken for misread, and where
        `together`, what all others leave for it. [SI]
    fault : float or None
        What the fault would make of it, the rest as drawn (where `together`: as the others
        say); None if that is anything. [SI]
    bits : float
        By so much it speaks for the suspect as against a sound section; negative against
        it. [bit]
    together : bool
        Whether it tells only beside all the others.
    """

    reading: int
    measured: float
    sound: tuple[float, float, float]
    fault: float | None
    bits: float
    together: bool = False


@dataclass(frozen=True, slots=True)
class Odd:
    """A reading that does not go with all the others, even with the best explanation.

    Parameters
    ----------
    reading : int
        Its place among those used. [count]
    measured : float
        What was read. [SI]
    wanted : tuple of float
        What all others make of it, as in `Evidence.sound`. [SI]
    deviations : float
        By so many standard deviations it is off. [1]
    """

    reading: int
    measured: float
    wanted: tuple[float, float, float]
    deviations: float


def evidence(diagnosis: Diagnosis, suspect: Suspect) -> list[Evidence]:
    """The readings that matter for a suspect, the strongest first, those against it last.

    Parameters
    ----------
    diagnosis : Diagnosis
        What was found.
    suspect : Suspect
        One of its suspects, in its most probable way.
    """
    if not suspect.parts:
        return []
    readout, hypothesis = diagnosis.readout, suspect.mode.hypothesis
    fits, k = _place(diagnosis, hypothesis)
    sound, k_sound = _place(diagnosis, None)
    if hypothesis.reading is not None:
        bits = float(fits.log_evidence[k] - sound.log_evidence[k_sound]) / math.log(2.0)
        return [_misread(diagnosis, fits, k, bits)]
    healthy = _Shown(readout, _mains_as_read(readout))
    faulty = _Shown(readout, _mains_as_read(readout) | _as_fitted(readout, fits, k),
                    fits.exact_of(k, _DRAWS))  # fmt: skip
    split = _telling((faulty.log_density() - healthy.log_density()) / math.log(2.0))
    if any(bits > 0.0 for _, bits in split):
        return [
            Evidence(j, readout.readings[j].nominal, _bounds(readout, j, healthy.points[j]),
                     readout.scales.seen(readout.readings[j], float(faulty.points[j][1])), bits)
            for j, bits in split
        ]  # fmt: skip
    split = _telling((_beside_others(fits, k) - _beside_others(sound, k_sound)) / math.log(2.0))
    return [
        Evidence(j, readout.readings[j].nominal, _wanted(readout, sound, k_sound, j),
                 _wanted(readout, fits, k, j)[1], bits, True)
        for j, bits in split
    ]  # fmt: skip


def odd_readings(diagnosis: Diagnosis) -> list[Odd]:
    """The readings that do not go with the others under the best hypothesis, the oddest first."""
    fits, k = _place(diagnosis, diagnosis.suspects[0].mode.hypothesis)
    off = surprise(fits, k)
    order = [int(j) for j in np.argsort(-np.abs(off), kind="stable") if abs(off[j]) > _ODD]
    readings = diagnosis.readout.readings
    return [Odd(j, readings[j].nominal, _wanted(diagnosis.readout, fits, k, j), float(off[j]))
            for j in order[:_MOST]]  # fmt: skip


def _place(diagnosis: Diagnosis, hypothesis: Hypothesis | None) -> tuple[Fits, int]:
    """Where a hypothesis stands; None is a sound section."""
    for fits, k in joined(diagnosis.fits):
        h = fits.hypotheses[k]
        if h is hypothesis or (hypothesis is None and h.label == NOTHING):
            return fits, k
    raise ValueError("the hypothesis was not fitted")


def _beside_others(fits: Fits, k: int) -> Floats:
    """Logarithm of the density of each reading, all others known, but for a constant.

    Under a hypothesis the readings are jointly normal around its best fit, which is what its
    evidence was had from (`fit`); see `surprise`.
    """
    slope = fits.slope[k]
    inverse = np.linalg.inv(slope @ slope.T + np.eye(slope.shape[0]))
    density: Floats = -0.5 * surprise(fits, k) ** 2 + 0.5 * np.log(np.diag(inverse))
    return density


def _telling(bits: Floats) -> list[tuple[int, float]]:
    """Readings that tell, with the bits of each: those for the fault, then those against it."""
    order = [int(j) for j in np.argsort(-bits, kind="stable")]
    telling = [j for j in order if bits[j] >= _FOR][:_MOST]
    against = [j for j in reversed(order) if bits[j] <= _AGAINST][:_MOST_AGAINST]
    return [(j, float(bits[j])) for j in [*telling, *reversed(against)]]


# --- what would be read


def _mains_as_read(readout: Readout) -> dict[str, Prior]:
    """The mains as it was read, where it was."""
    for reading, measured in zip(readout.readings, readout.measured, strict=True):
        mains = readout.model.section.circuit.mains
        if reading.kind is Kind.MAINS and mains is not None:
            at = measured.y - math.log(mains.v_nominal)
            return {"mains": Prior(NORMAL, at, measured.sigma)}
    return {}


def _as_fitted(readout: Readout, fits: Fits, k: int) -> dict[str, Prior]:
    """The fault as it was fitted."""
    x = fits.priors.at(fits.u[k : k + 1], np.array([k]))[0][0]
    return {name: fixed(float(x[readout.coordinates.index[name]]))
            for name in fits.hypotheses[k].changes}  # fmt: skip


class _Shown:
    """What chassis show that are sound but for some coordinates.

    Parameters
    ----------
    readout : Readout
        What is read.
    changes : mapping of coordinate name to Prior
        What differs from a sound chassis.
    exact : array, shape (draws, outputs of the front), optional
        What puts the rectifier right there.

    Attributes
    ----------
    points : array, shape (readings, 3)
        2.5 %, 50 % and 97.5 % points, on the scales of comparison.
    """

    def __init__(self, readout: Readout, changes: Mapping[str, Prior],
                 exact: Floats | None = None) -> None:  # fmt: skip
        row = readout.coordinates.row(changes)
        score = even_scores(_DRAWS, len(row), 2)
        x, _ = Priors([row]).at(np.asarray(score), np.zeros(_DRAWS, dtype=int))
        low, middle, high = np.quantile(readout.predict(x, exact)[0], (0.025, 0.5, 0.975), axis=0)
        own = _Z_95 * np.array([_sigma_at(readout, j, float(y)) for j, y in enumerate(middle)])
        self.points = np.stack([middle - np.hypot(middle - low, own), middle,
                                middle + np.hypot(high - middle, own)], axis=1)  # fmt: skip
        self._measured = np.array([m.y for m in readout.measured])

    def log_density(self) -> Floats:
        """Of what was measured, each reading by itself, as if it were normal on either side."""
        low, middle, high = self.points.T
        off = self._measured - middle
        sigma = np.where(off < 0.0, middle - low, high - middle) / _Z_95
        density: Floats = -0.5 * (off / sigma) ** 2 - np.log((high - low) / (2.0 * _Z_95))
        return density


def _sigma_at(readout: Readout, j: int, y: float) -> float:
    """Error of the meter where a reading would show so much, on the scale of comparison."""
    reading = readout.readings[j]
    if reading.nominal == OVERLOAD:
        return readout.measured[j].sigma
    at = replace(reading, nominal=readout.scales.seen(reading, y))
    return readout.scales.measured(at).sigma


def _bounds(readout: Readout, j: int, points: Sequence[float] | Floats
            ) -> tuple[float, float, float]:  # fmt: skip
    low, middle, high = (readout.scales.seen(readout.readings[j], float(y)) for y in points)
    return low, middle, high


def _wanted(readout: Readout, fits: Fits, k: int, j: int) -> tuple[float, float, float]:
    """What all other readings make of one under a hypothesis: 2.5 %, 50 %, 97.5 % points."""
    u = fits.u[k]
    x, dx_du = fits.priors.at(u[None], np.array([k]))
    y, dy_dx = readout.predict(x, fits.exact_of(k, 1))
    slope = dy_dx[0] * dx_du
    others = np.arange(y.size) != j
    sigma = np.array([m.sigma for m in readout.measured])
    left = (np.array([m.y for m in readout.measured]) - y[0]) / sigma
    scaled = (slope / sigma[:, None])[others]
    inverse = np.linalg.inv(np.eye(u.size) + scaled.T @ scaled)
    middle = y[0, j] + slope[j] @ inverse @ (scaled.T @ left[others] - u)
    spread = math.hypot(math.sqrt(slope[j] @ inverse @ slope[j]), sigma[j])
    return _bounds(readout, j, [middle + z * spread for z in (-_Z_95, 0.0, _Z_95)])


def _misread(diagnosis: Diagnosis, fits: Fits, k: int, bits: float) -> Evidence:
    hypothesis, readout = fits.hypotheses[k], diagnosis.readout
    j = hypothesis.reading
    assert j is not None
    wanted = _wanted(readout, fits, k, j)
    fault = None if hypothesis.factor == 0.0 else wanted[1] / hypothesis.factor
    return Evidence(j, readout.readings[j].nominal, wanted, fault, bits)
