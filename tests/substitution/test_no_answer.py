"""Values at which the simulator does not answer: the rest is shown all the same."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import jsonschema
import numpy as np
import pytest

from netcheck.engine.elements import Element, Resistance
from netcheck.engine.service import Service
from netcheck.errors import EngineError
from netcheck.graph import Section
from netcheck.model import Values
from netcheck.predictor import Operating, Predictor
from netcheck.report.data import schema
from netcheck.report.sweep import render_sweep
from netcheck.report.sweepchart import render_chart
from netcheck.report.sweepdata import sweep_data
from netcheck.report.sweeppicture import sweep_svg
from netcheck.substitution import Asked, Chart, Substitution, Way, chart, knob_for, substitute

from .sections import DIVIDER, predictor_of


class Faltering(Predictor):
    """Cannot simulate a box of some values.

    Parameters
    ----------
    section, service
        As for a predictor.
    refused : tuple of float
        Those values. [ohm]
    """

    def __init__(self, section: Section, service: Service, refused: tuple[float, ...]) -> None:
        super().__init__(section, service)
        self.refused = refused

    def tries(
        self, states: Sequence[tuple[Values, Sequence[Element]]], *, patient: bool = True
    ) -> list[Operating | EngineError]:
        answers = super().tries(states, patient=patient)
        return [
            EngineError("it found no steady state") if self._is_refused(extra) else answer
            for (_, extra), answer in zip(states, answers, strict=True)
        ]

    def _is_refused(self, extra: Sequence[Element]) -> bool:
        return any(isinstance(box, Resistance) and box.r in self.refused for box in extra)


def faltering(service: Service, *refused: float) -> Faltering:
    return Faltering(predictor_of(DIVIDER, service).section, service, refused)


def checked(found: Substitution | Chart) -> Any:
    data = json.loads(json.dumps(sweep_data(found, {}), allow_nan=False))
    jsonschema.validate(data, schema("sweep"))
    return data


def test_some_values_of_one_part(service: Service) -> None:
    section = faltering(service, 100e3, 47e3)
    found = substitute(section, knob_for(section, "R2", Asked(Way.ACROSS, "22k", "150k")))
    assert [one.values[0] for one in found.settings if one.trouble] == [100e3, 47e3]
    text = render_sweep(found, None)
    assert max(map(len, text.split("\n"))) <= 80
    rows = {line.split()[0]: line for line in text.split("\n") if line}
    assert rows["100k"].split()[2:] == ["no", "answer"] * 3
    assert "no answer" not in rows["82k"]
    assert "No answer at some values: it found no steady state." in text
    data = checked(found)
    (bad, *_) = [one for one in data["settings"] if one["values"] == [100e3]]
    assert (bad["trouble"], bad["grids"], bad["valves"]) == ("it found no steady state", {}, {})
    assert sweep_svg(found).count("100k") == 0  # neither a point nor a mark of the axis


def test_some_cells_of_a_chart(service: Service) -> None:
    section = faltering(service, 47e3)
    asked = Asked(Way.ACROSS, "22k", "47k", steps=2)
    found = chart(section, knob_for(section, "R1", asked), knob_for(section, "R2", asked))
    assert [bool(one.trouble) for one in found.settings] == [
        n in (1, 3, 4, 5, 7) for n in range(9)
    ]  # fmt: skip
    text = render_chart(found, {}, "idle")
    assert "? no answer" in text
    assert text.count("?") == 6
    assert len(checked(found)["settings"]) == 9
    assert np.isfinite(found.moved).all()
    assert min(found.moved_by) > 1.0
    assert "47k" in sweep_svg(found)


def test_the_first_value(service: Service) -> None:
    """What a table says of all values is taken from one that was simulated."""
    section = faltering(service, 150e3)
    both = knob_for(section, "R2", Asked(Way.ACROSS, "33k", "150k"))
    text = render_sweep(substitute(section, both), None)
    assert "V1, V2 (6V6GTA): grid, cathode current" in " ".join(text.split())


@pytest.mark.parametrize("high", ["22k", "27k"])
def test_nothing_left_to_compare(high: str, service: Service) -> None:
    section = faltering(service, 22e3, 27e3)
    knob = knob_for(section, "R2", Asked(Way.ACROSS, "22k", high))
    with pytest.raises(EngineError, match="it found no steady state"):
        substitute(section, knob)
