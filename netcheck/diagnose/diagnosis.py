"""The diagnosis: suspects, whether any of them fits, and those that cannot be told apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..engine.elements import Floats
from ..graph import Section
from ..probability import chi_square_tail
from ..readings import Kind, Reading
from ..readout.coordinates import FIXED, Priors
from ..readout.junctions import conductions
from ..readout.model import SectionModel, is_undrawn
from ..readout.readout import Readout
from .fit import Fits, Fitter
from .hypotheses import SOUND, Hypothesis, misread, pairs, resistive, single, undrawn_leaks
from .suspects import Suspect, probabilities, suspects

SOUND_BEFORE = 0.3
"""Probability of a sound section before any reading: on the bench something usually is wrong,
but a section is also measured to be cleared; common practice. [1]"""
SURE = 0.9
"""From this probability on a part is named. [1]"""
UNFIT = 0.01
"""A misfit this improbable under the best hypothesis fits none. [1]"""
DOUBLE = 0.1
"""Two parts at once, and leaks that are not drawn, are thought of where a misfit this improbable
is left by one. [1]"""
_PAIRS = 0.07  # share of all faults that are two at once
_MOST_PAIRS, _MOST_NODES = 800, 20  # that are weighed of a large section [count]
_LEAKS = 0.03  # share of all faults that are leaks between nodes that no part joins
_MISREAD = 0.1  # share of all faults that are readings written down wrong
_HOPELESS, _MOST_REFINED = 400.0, 8  # nepers behind the best; hypotheses that are simulated
_DOUBTED = 3.0  # standard deviations from what all the others say
_MOST_DOUBTED = 4
_LOW = 0.1  # a resistance so much too low (logarithm) may be read through a junction
_PLAIN = 2e-3  # of the misfit of a sound section may be left by a break or a short


class Verdict(Enum):
    """What the readings say as a whole."""

    SOUND = "sound"
    """Everything agrees with the drawing within its tolerance."""
    NAMED = "named"
    """One part, or one pair, is at fault."""
    GROUP = "group"
    """Something is at fault, and these readings leave more than one part."""
    UNDETERMINED = "undetermined"
    """It may as well be sound."""
    NONE_FITS = "none fits"
    """Nothing that is thought of here explains the readings."""


@dataclass(frozen=True)
class Diagnosis:
    """What explains the readings.

    Parameters
    ----------
    readout : Readout
        What was read, and how it is predicted.
    fits : tuple of Fits
        All hypotheses.
    posterior : array
        Their probabilities, in the order of `suspects.joined`. [1]
    suspects : tuple of Suspect
        Parts, the most probable first.
    verdict : Verdict
        What they say together.
    group : tuple of Suspect
        What is left: one suspect if it is beyond reasonable doubt, else all that together
        hold 90 % of the probability.
    chance : float
        Probability of a misfit as large as that of the likely hypothesis that fits best, if it
        is true. [1]
    conducting : tuple of Reading
        Resistances left out: a junction may conduct at the meter's test volts, and they are low.
    """

    readout: Readout
    fits: tuple[Fits, ...]
    posterior: Floats
    suspects: tuple[Suspect, ...]
    verdict: Verdict
    group: tuple[Suspect, ...]
    chance: float
    conducting: tuple[Reading, ...] = ()

    @property
    def common(self) -> tuple[str, ...]:
        """Parts that are at fault whichever of the group it is."""
        first, *others = (suspect.parts for suspect in self.group)
        return tuple(p for p in first if all(p in parts for parts in others))


def diagnose(
    model: SectionModel,
    readings: Sequence[Reading],
    year: int,
    *,
    sound_before: float = SOUND_BEFORE,
) -> Diagnosis:
    """Find what explains the readings.

    Parameters
    ----------
    model : SectionModel
        The section as drawn.
    readings : sequence of Reading
        Of one stage, nodes filled in.
    year : int
        The year of the readings. [year]
    sound_before : float
        Probability of a sound section before any reading. [1]
    """
    readout, conducting = _trusted(model, readings, year)
    fitter = Fitter(readout)
    fits = [_refined(fitter, fitter.fit(single(model.section, readout.readings)))]
    doubted = _doubted(fitter)
    if doubted:
        fits.append(fitter.fit(misread(readout.readings, doubted)))
    posterior = _posterior(fits, sound_before)
    chance = _chance(fits, posterior, len(readout.readings))
    if chance < DOUBLE:
        likely = _likeliest(model.section, fits[0])
        both = list(pairs(model.section, _one_of_each_pair(model.section, likely)))
        fits += [fitter.fit(both)] if both else []
        readout, fits = _with_leaks(readout, fits, likely, year)
        posterior = _posterior(fits, sound_before)
        chance = _chance(fits, posterior, len(readout.readings))
    found = suspects(readout, fits, posterior)
    verdict, group = _judged(found, chance < UNFIT and not _is_plain(fits, posterior))
    return Diagnosis(readout, tuple(fits), posterior, tuple(found), verdict, group, chance,
                     conducting)  # fmt: skip


def _trusted(model: SectionModel, readings: Sequence[Reading], year: int
             ) -> tuple[Readout, tuple[Reading, ...]]:  # fmt: skip
    """What is read, without resistances that are low as a conducting junction makes them."""
    readout = Readout(model, readings, year)
    tested = [k for k, r in enumerate(readout.readings) if r.kind is Kind.OHMS and r.meter.v_test]
    if not tested:
        return readout, ()
    score = np.zeros((1, len(readout.coordinates)))
    x, _ = Priors([readout.coordinates.sound]).at(score, np.zeros(1, dtype=int))
    drawn = readout.predict(x)[0][0]
    low = [k for k in tested if readout.measured[k].y < drawn[k] - _LOW
           and conductions(model, readout.coordinates, x[0], readout.readings[k],
                           readout.readings[k].meter.v_test or 0.0)]  # fmt: skip
    if not low:
        return readout, ()
    doubtful = [readout.readings[k] for k in low]
    rest = [reading for reading in readings if reading not in doubtful]
    return Readout(model, rest, year), tuple(doubtful)


def _refined(fitter: Fitter, fits: Fits) -> Fits:
    """Fits with the likeliest hypotheses that act on the rectifier simulated as they are."""
    front = fitter.readout.model.front
    if front is None:
        return fits
    acting = [k for k, h in enumerate(fits.hypotheses)
              if h.parts and any(name in front.acts for name in h.changes)]  # fmt: skip
    best = float(fits.log_evidence.max())
    acting = [k for k in acting if fits.log_evidence[k] > best - _HOPELESS]
    likely = sorted(acting, key=lambda k: -fits.log_evidence[k])[:_MOST_REFINED]
    return fitter.refined(fits, likely)


def _likeliest(section: Section, singles: Fits) -> list[str]:
    """Parts by how well each alone explains the readings, the best first.

    By the logarithm: where two are at fault, what one alone is given as a probability may be too
    little for a number.
    """
    best = {part.name: -math.inf for part in section.circuit.parts}
    for h, evidence in zip(singles.hypotheses, singles.log_evidence, strict=True):
        if h.label in best:
            best[h.label] = max(best[h.label], float(evidence))
    return sorted(best, key=lambda name: -best[name])


def _one_of_each_pair(section: Section, likely: Sequence[str]) -> list[str] | None:
    """The likeliest of many parts, one of which is in each pair; None if there are not so many."""
    names = {part.name for part in resistive(section)}
    # Four ways, low or high, of each pair.
    if 2 * len(names) * (len(names) - 1) <= _MOST_PAIRS:
        return None
    return [name for name in likely if name in names][: max(2, _MOST_PAIRS // (4 * len(names)))]


def _with_leaks(readout: Readout, fits: Sequence[Fits], likely: Sequence[str], year: int
                ) -> tuple[Readout, list[Fits]]:  # fmt: skip
    """All fits in a section that may leak where nothing is drawn, and those of the leaks.

    Of a large section only leaks at the nodes of the likeliest parts.
    """
    section = readout.model.section
    parts = [section.circuit.part(name) for name in likely]
    at = dict.fromkeys(section.at(node) for part in parts if part is not None
                       for _, node in part.terminals)  # fmt: skip
    wide = Readout(readout.model.with_undrawn_leaks(list(at)[:_MOST_NODES]), readout.readings, year)
    leaks = undrawn_leaks(wide.model.undrawn)
    if not leaks:
        return readout, list(fits)
    return wide, [*(f.widened(wide.coordinates) for f in fits), Fitter(wide).fit(leaks)]


def _posterior(fits: Sequence[Fits], sound_before: float) -> Floats:
    return probabilities(fits, [prior_of(h, sound_before) for f in fits for h in f.hypotheses])


def prior_of(h: Hypothesis, sound_before: float) -> float:
    """Probability of a hypothesis before any reading. [1]

    Parameters
    ----------
    h : Hypothesis
        The hypothesis.
    sound_before : float
        That of a sound section. [1]
    """
    if not h.parts:
        return sound_before
    faulty = 1.0 - sound_before
    if h.reading is not None:
        return faulty * _MISREAD * h.weight * 10.0 / _MOST_DOUBTED
    if is_undrawn(h.label):
        return faulty * _LEAKS * h.weight
    if len(h.parts) > 1:
        return faulty * _PAIRS * h.weight
    return faulty * (1.0 - _PAIRS - _LEAKS - _MISREAD) * h.weight


def surprise(fits: Fits, k: int) -> Floats:
    """How far each reading is from what all others and one hypothesis say, in s.d. [1]

    Parameters
    ----------
    fits : Fits
        The fits.
    k : int
        Place of the hypothesis. [count]

    Returns
    -------
    array, shape (readings,)
        Measured less predicted.

    Notes
    -----
    With the covariance S of all readings under the hypothesis and their differences d from the
    prediction, reading j without itself is off by (S^-1 d)_j / sqrt((S^-1)_jj) standard
    deviations of what is then not known of it.
    """
    slope = fits.slope[k]
    off = fits.residual[k] - slope @ fits.u[k]
    inverse = np.linalg.inv(slope @ slope.T + np.eye(slope.shape[0]))
    return np.asarray(-(inverse @ off) / np.sqrt(np.diag(inverse)))


def _doubted(fitter: Fitter) -> list[int]:
    """Readings that disagree with all others if the chassis is sound, as drawn."""
    off = np.abs(surprise(fitter.at_rest([SOUND]), 0))
    return [int(k) for k in np.argsort(-off)[:_MOST_DOUBTED] if off[k] > _DOUBTED]


def _chance(fits: Sequence[Fits], posterior: Floats, readings: int) -> float:
    """How probable a misfit so large is under the hypothesis that fits best of the likely ones.

    The likely ones hold `SURE` of the probability together: a bad fit of what is likely from the
    start says nothing while another one fits. A reading taken for misread does not count.
    """
    if not readings:
        return 1.0
    misfits = np.concatenate([f.misfit for f in fits])
    hypotheses = [h for f in fits for h in f.hypotheses]
    best, total = 0.0, 0.0
    for k in np.argsort(-posterior, kind="stable"):
        free = readings - (1 if hypotheses[k].reading is not None and readings > 1 else 0)
        best = max(best, chi_square_tail(free, float(misfits[k])))
        total += float(posterior[k])
        if total >= SURE:
            break
    return best


def _is_plain(fits: Sequence[Fits], posterior: Floats) -> bool:
    """Whether a break or a short explains nearly all of what is off.

    Volts that are gone or many times too high are predicted less exactly than a meter reads
    them; what that leaves must not hide what is plain to see.
    """
    hypotheses = [h for f in fits for h in f.hypotheses]
    misfits = np.concatenate([f.misfit for f in fits])
    k = int(np.argmax(posterior))
    is_set = all(prior.kind == FIXED for prior in hypotheses[k].changes.values())
    sound = misfits[hypotheses.index(SOUND)]
    return bool(is_set and hypotheses[k].parts and posterior[k] >= SURE
                and misfits[k] < _PLAIN * sound)  # fmt: skip


def _judged(found: Sequence[Suspect], unfit: bool) -> tuple[Verdict, tuple[Suspect, ...]]:
    group: list[Suspect] = []
    total = 0.0
    for suspect in found:
        group.append(suspect)
        total += suspect.probability
        if total >= SURE:
            break
    if unfit:
        return Verdict.NONE_FITS, tuple(group)
    if any(not suspect.parts for suspect in group):
        sure = len(group) == 1
        return (Verdict.SOUND if sure else Verdict.UNDETERMINED), tuple(group)
    return (Verdict.NAMED if len(group) == 1 else Verdict.GROUP), tuple(group)
