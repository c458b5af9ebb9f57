"""Other ways to the numbers of a sweep."""

from __future__ import annotations

import json
from typing import Any

import pytest

from netcheck.cli import run
from netcheck.engine.service import Service
from netcheck.predictor import Predictor
from netcheck.preferred import Series
from netcheck.substitution import Asked, Substitution, Way, chart, flat_stretches, knob_for
from netcheck.substitution.study import FLAT

from .sections import at_value, example, turn

V_SAME = 2e-3
"""Two simulations of one circuit agree so well behind a rectifier: the search for the steady
state ends there. [V]"""

V_FAST = 0.05
"""The fast path agrees so well with the whole simulation (see tests/published). [V]"""


def predicted(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert run(["predict", "two-6v6gt-foot", "--json", *words]) == 0
    return json.loads(capsys.readouterr().out)


def test_predict_with_that_value_set(
    rectified: Predictor, capsys: pytest.CaptureFixture[str]
) -> None:
    """`netcheck predict --set` goes another way to the same section."""
    one = at_value(turn(rectified, "R3", Way.IN_PLACE, "22k", "22k"), 22e3)
    other = predicted(capsys, "--set", "R3=22k")
    assert one.mean[:, 0] == pytest.approx(other["grids"]["grid1"]["volts"], abs=V_SAME)
    assert one.valves is not None
    assert one.valves.valves[0].idle.i_cathode == pytest.approx(
        other["valves"]["V1"]["cathode_amperes"], rel=2e-3
    )
    assert one.valves.valves[0].middle == pytest.approx(
        other["valves"]["V1"]["window_middle_travel"], abs=2e-3
    )


def test_the_fast_path_agrees(rectified: Predictor, foot: Substitution) -> None:
    """Curve and network in place of ngspice: the box in parallel with the foot."""
    for one in foot.settings:
        r = foot.knob.acts_as(one.values[0])
        assert r is not None
        means = rectified.means(rectified.values() | {"R3": r})
        assert one.mean[5, 0] == pytest.approx(float(means.at("grid1")[0]), abs=V_FAST)


def test_a_chart_is_made_of_single_sweeps(service: Service) -> None:
    """Its first column turns one box with the other open, and so its first row."""
    section = example("two-6v6gt-foot", service)
    asked = Asked(None, "22k", "220k", Series.E3)
    rows, columns = (knob_for(section, part, asked) for part in ("R2", "R3"))
    both = chart(section, rows, columns)
    assert len(both.settings) == 25
    for part, cells in (("R2", [both.at(n, 0) for n in range(5)]),
                        ("R3", [both.at(0, n) for n in range(5)])):  # fmt: skip
        alone = turn(section, part, None, "22k", "220k", Series.E3).settings
        for cell, one in zip(cells, alone, strict=True):
            assert one.values[0] in cell.values
            assert cell.mean[both.middle] == pytest.approx(one.mean[5], abs=V_SAME)
    # and the last cell is that of one box with the other part at what both act as
    corner = both.at(4, 4)
    values = section.values() | {"R2": 1 / (1 / 18e3 + 1 / 22e3), "R3": 1 / (1 / 27e3 + 1 / 22e3)}
    assert corner.mean[both.middle, 0] == pytest.approx(
        section.whole(values).mean["grid1"], abs=V_SAME
    )


def test_a_stretch_that_is_flat(divider: Predictor) -> None:
    """By hand: a box takes 27k^2 / box off the foot, and each ohm of it 42 V * 25.1k / 52.1k^2
    off the end of the travel that is nearest to the foot."""
    moved = {box: 42.0 * 25.1e3 / 52.1e3**2 * 27e3**2 / box for box in (4.7e6, 2.2e6)}
    assert moved[4.7e6] < FLAT < moved[2.2e6]
    found = turn(divider, "R2", Way.ACROSS, "470k", "22M", Series.E3)
    ((first, last),) = flat_stretches(found)
    values = [one.values[0] for one in found.settings]
    assert (values[first], values[last]) == (None, 4.7e6)
    assert flat_stretches(turn(divider, "R2", Way.ACROSS, "10k", "100k", Series.E3)) == []
