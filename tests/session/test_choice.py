"""What readings are expected to tell, on which the order of the questions hangs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from netcheck.diagnose.candidates import candidates
from netcheck.diagnose.diagnosis import diagnose
from netcheck.diagnose.gain import _mutual_information, _narrowed, next_readings
from netcheck.readings import UNSTATED, Kind
from netcheck.readout.model import SectionModel
from netcheck.session.choice import Place, chosen
from netcheck.session.session import Session
from netcheck.session.wording import reason

from .conftest import YEAR


def entropy(p: float) -> float:
    """Of a yes or no. [bit]"""
    return -p * math.log2(p) - (1 - p) * math.log2(1 - p)


@pytest.mark.parametrize("apart", [0.0, 0.5, 1.0, 2.0, 4.0, 1e6])
def test_two_values_in_noise_against_an_integral(apart: float) -> None:
    """Two values that are equally likely, with a normal error: the integral is done by scipy."""

    def density(y: float, at: float) -> float:
        return math.exp(-0.5 * (y - at) ** 2) / math.sqrt(2 * math.pi)

    def integrand(y: float) -> float:
        a, b = density(y, 0.0), density(y, apart)
        return 0.5 * a * math.log2(2 * a / (a + b)) if a > 0 else 0.0

    wanted = 2.0 * quad(integrand, -12.0, 12.0)[0]
    y, label = np.repeat([0.0, apart], 16), np.repeat([0, 1], 16)
    found = _mutual_information(y, np.ones(32), np.full(32, 1 / 32), label)
    # A hundred cells lose a little of what the value itself would tell; the distribution
    # function is good for 2e-4.
    assert wanted - 0.02 <= found <= wanted + 1e-3


def test_draws_have_the_covariance_of_the_fit() -> None:
    """The root is symmetric, and its square the covariance as `Fits` has it: I - S'(SS' + I)^-1 S."""
    slope = 3.0 * np.random.default_rng(5).normal(size=(4, 9))
    root = _narrowed(np.eye(9), slope)
    inner = np.linalg.solve(slope @ slope.T + np.eye(4), slope)
    assert root == pytest.approx(root.T, abs=1e-12)
    assert root @ root == pytest.approx(np.eye(9) - slope.T @ inner, abs=1e-12)
    assert _narrowed(np.eye(9), slope[:0]) == pytest.approx(np.eye(9))


def test_a_part_by_itself_tells_no_more_than_about_itself(model: SectionModel) -> None:
    nothing = diagnose(model, [], YEAR)
    share = {s.label: s.probability for s in nothing.suspects}
    found = next_readings(nothing, candidates(model, [], UNSTATED, ["RV1"]), YEAR)
    lifted = [n for n in found if n.candidate.reading.kind is Kind.LIFTED]
    assert len(lifted) >= 6
    for one in lifted:
        assert one.bits <= entropy(share[one.candidate.reading.part]) + 1e-3
    assert max(n.bits for n in found) <= sum(-p * math.log2(p) for p in share.values())


def test_where_the_bench_stands_counts(session: Session) -> None:
    """The same readings, the power on or off: what is at hand comes first if it tells as much."""
    notebook = session.notebook
    notebook.take("RV1 at anticlockwise")
    before = {}  # so many readings with the power off come before the first live one
    for powered in (True, False):
        place = Place(notebook.state, powered, True, notebook.meter)
        ranked = chosen(session.model, session.diagnosis, [], ["RV1"], place, YEAR)
        before[powered] = [n.candidate.reading.state.live for n in ranked].index(True)
    assert before[True] < before[False]


def test_a_pot_that_stands_right_is_left_alone(session: Session) -> None:
    notebook = session.notebook
    notebook.take("RV1 at clockwise")
    place = Place(notebook.state, True, True, notebook.meter)
    ranked = chosen(session.model, session.diagnosis, [], ["RV1"], place, YEAR)
    readings = [n.candidate.reading for n in ranked]
    ohms = [r for r in readings if r.kind is Kind.OHMS and r.part not in ("RV1", "")]
    alike = [r for r in readings if r.kind in (Kind.AC, Kind.MAINS)] + ohms
    assert len(alike) >= 10
    assert all(r.state.pots["RV1"].travel == 1.0 for r in alike)


def test_the_reason_says_what_a_sound_section_would_show(session: Session) -> None:
    question = session.question
    assert question is not None
    text = reason(question, session.diagnosis)
    assert "If nothing is wrong: " in text
    assert text.startswith("It tells a sound section (about ")
