"""A section of more parts than usual: not every pair and every leak can be weighed."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.diagnose.diagnosis import Verdict, diagnose
from netcheck.diagnose.hypotheses import resistive
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.readout import readout as readouts
from netcheck.readout.coordinates import Priors
from netcheck.readout.model import SectionModel
from netcheck.readout.readout import Readout
from netcheck.source import Source

from ..benchmarks.growth import ladder
from ..chassis.chassis import NO_ERRORS, Chassis
from ..chassis.faults import Fault
from ..chassis.plans import voltages_and_resistances
from .conftest import Models
from .sections import YEAR, dc


def test_the_pair_is_among_those_that_are_weighed(service: Service) -> None:
    """22 parts that may drift make 924 ways for two of them to be off."""
    circuit, findings = parse_circuit(Source("ladder.bias", ladder(30)))
    assert circuit is not None, findings
    model = SectionModel(Predictor(Section(circuit), service))
    off = [Fault("R900", "off", 47e3), Fault("R800", "off", 150e3)]
    plan = voltages_and_resistances(model.predictor)
    plan = [item for k, item in enumerate(plan) if k % 2 or item.part in ("R800", "R900")]
    readings = Chassis(model.section, off, 1, service, errors=NO_ERRORS).readings(plan)
    found = diagnose(model, readings, YEAR)
    assert found.verdict is Verdict.NAMED
    assert set(found.group[0].parts) == {"R900", "R800"}
    pairs = [h for fits in found.fits for h in fits.hypotheses if len(h.parts) == 2]
    assert len(resistive(model.section)) == 22
    assert 0 < len(pairs) < 924


def test_in_pieces_as_at_once(models: Models, monkeypatch: pytest.MonkeyPatch) -> None:
    """Many conditions are predicted some at a time, for want of memory."""
    readout = Readout(models("two-6v6gt-foot"), [dc("raw", -60.0), dc("grid1", -30.0)], YEAR)
    score = np.random.default_rng(1).standard_normal((17, len(readout.coordinates)))
    x, _ = Priors([readout.coordinates.sound]).at(score, np.zeros(17, dtype=int))
    y, slope = readout.predict(x)
    monkeypatch.setattr(readouts, "_LARGEST", 1000)
    in_pieces, slope_in_pieces = readout.predict(x)
    # The same arithmetic on other shapes may sum in another order.
    assert in_pieces == pytest.approx(y, rel=1e-9)
    assert slope_in_pieces == pytest.approx(slope, rel=1e-9, abs=1e-9)
