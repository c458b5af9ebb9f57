"""What raising a part does: the fast path behind the rectifier, against the whole simulation."""

from __future__ import annotations

import pytest

from netcheck.commands.common import load
from netcheck.effects import STEP, effects
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.predictor import Predictor
from netcheck.report.survey import render_survey
from netcheck.survey import survey


@pytest.mark.parametrize("name", ["two-6v6gt-foot", "two-el34-balance", "two-kt88-full-wave",
                                  "two-el34-coupled", "two-6v6gta-direct"])  # fmt: skip
def test_as_by_the_whole_simulation(name: str, service: Service) -> None:
    """Two ways to the difference of two steady states, each found within 1.2 mV at 70 V
    (`shooting.STEP_TOLERANCE`): four times that."""
    predictor = Predictor(Section(load(name)), service)
    base, watched = predictor.values(), predictor.section.watched
    moves = effects(predictor)
    raised = [{**base, part: base[part] * (1.0 + STEP)} for part in moves]
    first, *rest = predictor.wholes([(values, ()) for values in [base, *raised]])
    assert set(moves) >= {part.name for part in predictor.pots()}
    for (part, move), whole in zip(moves.items(), rest, strict=True):
        for node in watched:
            true = whole.mean[node] - first.mean[node]
            assert move[node] == pytest.approx(true, abs=4.8e-3), (part, node)


def test_a_check_shows_them(service: Service) -> None:
    """The direction rules of the trade (common practice), in the text that the user reads."""
    checked = survey(load("two-6v6gt-foot"), "it", service)
    assert checked.simulated
    text = " ".join(render_survey(checked).split())
    assert "R3 up: grids more negative, less current" in text
    assert "R2 up: grids less negative, more current" in text
    drawing = " ".join(render_survey(survey(load("two-6v6gt-foot"), "it", None)).split())
    assert " up: " not in drawing
