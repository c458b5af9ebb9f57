"""The probabilities of a two-resistor divider against a grid integral over all its parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netcheck.diagnose.fit import Fitter
from netcheck.diagnose.hypotheses import Hypothesis, single
from netcheck.diagnose.suspects import probabilities
from netcheck.engine.elements import Floats
from netcheck.readout.coordinates import BOX, EVEN, Prior
from netcheck.readout.readout import Readout

from .sections import METER, YEAR, dc, model_of

DIVIDER = """\
circuit "Divider"
supply S1 plus ground minus raw 50 V 10% source 1 ohm
resistor R1 from raw to mid 10k 5%
resistor R2 from mid to ground 22k 5%
valve V1 EL84 grid mid
"""

CASES = {
    "sound": (10.1e3, 21.8e3, 50.6),
    "R1 up a little": (11.2e3, 21.8e3, 49.0),
    "R1 up": (15e3, 22.3e3, 50.0),
    "R2 down": (10.2e3, 12e3, 51.0),
    "supply down": (9.9e3, 22.1e3, 38.0),
}  # R1, R2 [ohm], supply [V]


def volts(r1: Floats, r2: Floats, s: Floats) -> tuple[Floats, Floats]:
    """What a meter of 10 Mohm shows at raw and mid, worked out by hand."""
    mid = 1.0 / (1.0 / r2 + 1.0 / METER.r_input)
    at_mid = -s * mid / (1.0 + r1 + mid)
    rest = 1.0 / (1.0 / (r1 + r2) + 1.0 / METER.r_input)
    return -s * rest / (1.0 + rest), at_mid


def quantiles(prior: Prior, count: int) -> Floats:
    """Values that are equally probable under a prior."""
    share = (np.arange(count) + 0.5) / count
    if prior.kind == BOX:
        return math.exp(prior.a) + (math.exp(prior.b) - math.exp(prior.a)) * share
    assert prior.kind == EVEN
    return np.asarray(np.exp(prior.a + (prior.b - prior.a) * share))


def integral(readout: Readout, hypothesis: Hypothesis) -> float:
    """Logarithm of the readings' probability density, by the midpoint rule over all parts."""
    row = dict(
        zip(readout.coordinates.names, readout.coordinates.row(hypothesis.changes), strict=True)
    )
    r1, r2, s = np.meshgrid(quantiles(row["R1"], 100), quantiles(row["R2"], 100),
                            quantiles(row["S1"], 120), indexing="ij")  # fmt: skip
    a, b = volts(r1, r2, s)
    sigma_gain = row["dmm.dcv"].b  # common to both readings, normal
    y, own = [m.y for m in readout.measured], [m.sigma for m in readout.measured]
    saa, sbb, sab = (
        own[0] ** 2 + (sigma_gain * a) ** 2,
        own[1] ** 2 + (sigma_gain * b) ** 2,
        sigma_gain**2 * a * b,
    )
    det = saa * sbb - sab**2
    da, db = y[0] - a, y[1] - b
    chi = (sbb * da**2 - 2 * sab * da * db + saa * db**2) / det
    density = np.mean(np.exp(-0.5 * chi) / (2 * math.pi * np.sqrt(det)))
    return math.log(max(float(density), 1e-30))


@pytest.mark.parametrize("case", CASES)
def test_evidence_and_posterior(case: str) -> None:
    model = model_of(DIVIDER)
    true = [np.array(v) for v in CASES[case]]
    raw, mid = volts(*true)
    readout = Readout(
        model, [dc("raw", round(float(raw), 1)), dc("mid", round(float(mid), 1))], YEAR
    )
    every = list({(h.parts, h.mode): h for h in reversed(single(model.section, readout.readings))
                  if h.mode in {"sound", "low", "high"}}.values())  # fmt: skip
    fits = Fitter(readout).fit(every)
    exact = np.array([integral(readout, h) for h in every])
    prior = [1.0 / len(every)] * len(every)
    ours = probabilities([fits], prior)
    wanted = np.exp(exact - exact.max())
    wanted /= wanted.sum()
    # Laplace's method takes the peak for normal. Inside a fault's range it is, to a hundredth; at
    # the edge of a tolerance it is cut off: a quarter in the logarithm where that edge decides
    # least, and some 0.04 of a probability shared between sound and just beyond.
    best = int(np.argmax(exact))
    assert fits.log_evidence[best] == pytest.approx(exact[best], abs=0.25)
    assert ours == pytest.approx(wanted, abs=0.05)
    inside = (wanted > 0.3) & np.array([bool(h.parts) and h.parts != ("S1",) for h in every])
    assert fits.log_evidence[inside] == pytest.approx(exact[inside], abs=0.12)


def test_what_two_parts_explain_alike_is_shared_between_them() -> None:
    # Of a divider in which only the middle is off, either resistor may be the cause: the
    # readings hold nothing that tells them apart, and the prior is the same for both.
    model = model_of(DIVIDER)
    raw, mid = volts(*(np.array(v) for v in CASES["R1 up"]))
    readout = Readout(
        model, [dc("raw", round(float(raw), 1)), dc("mid", round(float(mid), 1))], YEAR
    )
    every = single(model.section, readout.readings)
    share = probabilities([Fitter(readout).fit(every)], [h.weight for h in every])
    by_part = {part: sum(p for p, h in zip(share, every, strict=True) if h.parts == (part,))
               for part in ("R1", "R2")}  # fmt: skip
    assert by_part["R1"] == pytest.approx(by_part["R2"], rel=0.1)
    assert by_part["R1"] > 0.25
