"""From fits to suspects: how probable each part is, and what speaks for it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..engine.elements import Floats
from ..readout.coordinates import FIXED
from ..readout.readout import Readout
from .explain import Explanation, Fitted, explanations
from .fit import Fits
from .hypotheses import NOTHING, Hypothesis

Z_90 = 1.6449


@dataclass(frozen=True, slots=True)
class Mode:
    """One way in which a suspect may be at fault.

    Parameters
    ----------
    hypothesis : Hypothesis
        The way.
    probability : float
        Of this way and this part. [1]
    fitted : tuple of Fitted
        The values fitted, one for each coordinate that was; empty for an open or a short.
    misfit : float
        Chi-square of the best fit. [1]
    """

    hypothesis: Hypothesis
    probability: float
    fitted: tuple[Fitted, ...]
    misfit: float


@dataclass(frozen=True, slots=True)
class Suspect:
    """A part that may be at fault, a pair of parts, or nothing at all.

    Parameters
    ----------
    parts : tuple of str
        See `Hypothesis`; empty for a sound chassis.
    probability : float
        That this, and this alone, is at fault. [1]
    modes : tuple of Mode
        The ways, the most probable first.
    explanations : tuple of Explanation
        What would make the part act so, the likeliest first.
    """

    parts: tuple[str, ...]
    probability: float
    modes: tuple[Mode, ...]
    explanations: tuple[Explanation, ...] = ()

    @property
    def label(self) -> str:
        """What is at fault, as one name."""
        return " and ".join(self.parts) or NOTHING

    @property
    def mode(self) -> Mode:
        """The most probable way."""
        return self.modes[0]


def joined(fits: Sequence[Fits]) -> list[tuple[Fits, int]]:
    """All hypotheses of several fits, as (fits, place in them)."""
    return [(f, k) for f in fits for k in range(len(f.hypotheses))]


def probabilities(fits: Sequence[Fits], prior: Sequence[float]) -> Floats:
    """Posterior probability of every hypothesis, in the order of `joined`. [1]

    Parameters
    ----------
    fits : sequence of Fits
        The fits.
    prior : sequence of float
        Prior probability of each hypothesis. [1]
    """
    log = np.concatenate([f.log_evidence for f in fits]) + np.log(np.maximum(prior, 1e-300))
    share = np.exp(log - log.max())
    return np.asarray(share / share.sum())


def suspects(readout: Readout, fits: Sequence[Fits], posterior: Floats) -> list[Suspect]:
    """The suspects, the most probable first.

    Parameters
    ----------
    readout : Readout
        What was read.
    fits : sequence of Fits
        The fits.
    posterior : array
        From `probabilities`. [1]
    """
    every = list(zip(joined(fits), posterior, strict=True))
    keyed = sorted(every, key=lambda entry: entry[0][0].hypotheses[entry[0][1]].parts)
    found = []
    for parts, entries in itertools.groupby(
        keyed, key=lambda entry: entry[0][0].hypotheses[entry[0][1]].parts
    ):
        own = sorted(entries, key=lambda entry: -entry[1])
        modes = tuple(_mode(readout, f, k, float(p)) for (f, k), p in own if p > 1e-9)
        if modes:
            total = float(sum(p for _, p in own))
            found.append(Suspect(parts, total, modes, _explained(readout, parts, modes[0])))
    return sorted(found, key=lambda s: -s.probability)


def _mode(readout: Readout, fits: Fits, k: int, probability: float) -> Mode:
    hypothesis: Hypothesis = fits.hypotheses[k]
    fitted: tuple[Fitted, ...] = ()
    if probability > 1e-4:
        fitted = tuple(_fitted(readout, fits, k, name) for name, prior in hypothesis.changes.items()
                       if prior.kind != FIXED)  # fmt: skip
    return Mode(hypothesis, probability, fitted, float(fits.misfit[k]))


def _fitted(readout: Readout, fits: Fits, k: int, name: str) -> Fitted:
    """The value of one coordinate and the range it lies in."""
    at = readout.coordinates.index[name]
    sigma = math.sqrt(max(float(fits.covariance(k)[at, at]), 1e-12))
    u = np.repeat(fits.u[k : k + 1], 3, axis=0)
    u[:, at] += np.array([-Z_90, 0.0, Z_90]) * sigma
    x = fits.priors.at(u, np.full(3, k))[0][:, at]
    low, nominal, high = (math.exp(float(value)) for value in x)
    return Fitted(name, nominal, low, high)


def _explained(readout: Readout, parts: tuple[str, ...], mode: Mode) -> tuple[Explanation, ...]:
    part = readout.model.section.circuit.part(parts[0]) if len(parts) == 1 else None
    if part is None or not mode.fitted:
        return ()
    return tuple(explanations(part, mode.fitted[0]))
