"""The fit of a hypothesis ends where a general-purpose optimizer finds nothing better."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from netcheck.diagnose.fit import Fits, Fitter
from netcheck.diagnose.hypotheses import single
from netcheck.engine.elements import Floats
from netcheck.engine.service import Service
from netcheck.readout.readout import Readout

from ..chassis.chassis import Chassis
from ..chassis.plans import voltages_and_resistances
from .conftest import Models
from .sections import YEAR

LIKELY = 8.0  # what is less likely by so many nepers is nothing to speak of
SEEDS = (0, 4)


class Objective:
    """Residuals and scores of one hypothesis as one vector, and its derivative."""

    def __init__(self, readout: Readout, fits: Fits, k: int) -> None:
        self._readout, self._fits, self._k = readout, fits, k
        self._y = np.array([m.y for m in readout.measured])
        self._sigma = np.array([m.sigma for m in readout.measured])

    def _predicted(self, u: Floats) -> tuple[Floats, Floats]:
        x, dx_du = self._fits.priors.at(u[None], np.array([self._k]))
        y, dy_dx = self._readout.predict(x, self._fits.exact_of(self._k, 1))
        return y[0], dy_dx[0] * dx_du

    def off(self, u: Floats) -> Floats:
        return np.concatenate(((self._predicted(u)[0] - self._y) / self._sigma, u))

    def slope(self, u: Floats) -> Floats:
        return np.vstack((self._predicted(u)[1] / self._sigma[:, None], np.eye(u.size)))


@pytest.mark.parametrize("name", ["two-el84-series-rheostat", "two-6v6gt-foot"])
def test_every_likely_fit_has_arrived(name: str, models: Models, service: Service) -> None:
    """By scipy's trust-region method, from where the fit has ended."""
    model = models(name)
    plan = voltages_and_resistances(model.predictor)
    gains = []
    for seed in SEEDS:
        taken = Chassis(model.section, [], seed, service).readings(plan)
        readout = Readout(model, taken, YEAR)
        fits = Fitter(readout).fit(single(model.section, readout.readings))
        likely = np.flatnonzero(fits.log_evidence > fits.log_evidence.max() - LIKELY)
        for k in likely:
            objective = Objective(readout, fits, int(k))
            better = least_squares(objective.off, fits.u[k], objective.slope, bounds=(-5.0, 5.0),
                                   max_nfev=25)  # fmt: skip
            gains.append(0.5 * fits.misfit[k] - better.cost)
    assert len(gains) >= 8
    assert max(gains) < 0.1  # nepers: a tenth of any probability
