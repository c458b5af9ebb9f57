"""A sweep against the trade's rules of direction."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.engine.service import Service
from netcheck.predictor import Predictor
from netcheck.preferred import Series
from netcheck.substitution import Substitution, Way

from .sections import example, grids, plate_shares, turn


def test_more_foot_makes_the_grids_more_negative(rectified: Predictor) -> None:
    """Common practice: more resistance between pot and ground, more negative, less current."""
    found = turn(rectified, "R3", Way.IN_PLACE, "10k", "100k", Series.E3)
    assert np.all(np.diff(grids(found)) < 0.0)
    assert np.all(np.diff([plate_shares(one)[-1] for one in found.settings]) < 0.0)
    assert found.direction() == "grids more negative, less current"


def test_more_in_series_does_the_opposite(rectified: Predictor) -> None:
    """Common practice: more resistance between supply and pot, less negative, more current."""
    found = turn(rectified, "R2", Way.IN_PLACE, "4k7", "47k", Series.E3)
    assert np.all(np.diff(grids(found)) > 0.0)
    assert np.all(np.diff([plate_shares(one)[-1] for one in found.settings]) > 0.0)
    assert found.direction() == "grids less negative, more current"


def test_strapping_only_ever_lowers(rectified: Predictor, foot: Substitution) -> None:
    """Common practice: any resistor across a foot makes the grids less negative than none, any
    across the series resistor more negative."""
    assert foot.settings[0].values == (None,)
    assert np.all(grids(foot)[1:] > grids(foot)[0])
    series = turn(rectified, "R2", Way.ACROSS, "10k", "470k", Series.E3)
    assert np.all(grids(series)[1:] < grids(series)[0])
    acts = [foot.knob.acts_as(one.values[0]) for one in foot.settings]
    assert all(r is not None and r <= 27e3 for r in acts)


def test_stepping_down_does_little_at_first_and_much_near_the_end(foot: Substitution) -> None:
    """Common practice: of a box stepped down across a foot each step does more than the one
    before, until the box is well below the foot."""
    values = [one.values[0] for one in foot.settings]
    steps = np.diff(grids(foot, 0))[1 : values.index(10e3)]  # from 1M down to 10k, about halved
    assert len(steps) == 6
    assert np.all(np.diff(steps) > 0.0)
    assert steps[-1] > 10 * steps[0]


def test_a_larger_pot_widens_the_travel(divider: Predictor) -> None:
    found = turn(divider, "RV1")
    travel = [np.ptp(one.mean[:, 0]) for one in found.settings]
    assert np.all(np.diff(travel) > 0.0)
    assert found.direction() == "the ends of the travel move apart"
    strapped = turn(divider, "RV1", Way.ACROSS)
    assert strapped.direction() == "the ends of the travel move together"


def test_more_volts_more_bias(rectified: Predictor) -> None:
    found = turn(rectified, "T1", None, "40V", "56V", None, 3)
    assert np.all(np.diff(grids(found)) < 0.0)
    # Theory: nearly in proportion, but for the rectifier's drop.
    assert grids(found)[-1] / grids(found)[0] == pytest.approx(56 / 40, rel=0.02)


def test_what_turns_back_is_said(service: Service) -> None:
    """A box across a coupling capacitor first discharges the rectifier, then feeds it."""
    found = turn(example("two-el34-coupled", service), "C1", Way.ACROSS, "56k", "560k", Series.E3)
    mid = grids(found, 5)
    assert mid[1] > mid[0] + 0.1
    assert mid[-1] < mid[0] - 1.0
    assert found.direction() == "grids more negative, less current in the end, but not at first"
