"""The curve over the travel with the readings on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from netcheck.compare import compare, curves
from netcheck.readings import Position

from ..chassis.chassis import DMM
from .conftest import Bench
from .taken import ANTICLOCKWISE, CLOCKWISE, MIDDLE, YEAR, ohms, volts

ENDS = {0: ANTICLOCKWISE, 1: CLOCKWISE, 2: MIDDLE}


def test_every_reading_of_a_grid_lies_on_a_curve(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    readings = [volts(grid, -35.0, {"RV1": at}, turn)
                for turn, at in ENDS.items() for grid in ("grid1", "grid2")]  # fmt: skip
    (curve,) = curves(model, [*readings, volts("raw", -60.0, {"RV1": MIDDLE}, 2)], YEAR)
    assert curve.nodes == ("grid1", "grid2")
    assert {id(spot.reading) for spot in curve.spots} == {id(reading) for reading in readings}
    assert [spot.travel_error for spot in curve.spots if spot.travel != 0.5] == [0.0] * 4
    assert [spot.travel_error for spot in curve.spots if spot.travel == 0.5] == [0.03] * 2
    # 0.5 % of 35 V, two digits of 0.1 V and half a digit more, added as squares.
    assert curve.spots[0].v_error == pytest.approx(0.175 + np.hypot(0.2, 0.05), abs=1e-3)


def test_the_curve_is_the_prediction_of_its_readings(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    readings = [volts("grid1", -35.0, {"RV1": at}, turn) for turn, at in ENDS.items()]
    (curve,) = curves(model, readings, YEAR)
    found = compare(model, readings, YEAR).found
    for one, at in zip(found, (0.0, 1.0, 0.5), strict=True):
        place = int(np.argmin(np.abs(curve.travel - at)))
        assert curve.predicted[place] == pytest.approx(one.predicted, abs=2e-3)
        assert one.band is not None
        # A reading's own band has the meter in it, and by eye the position too.
        assert one.band[0] < curve.low[place] + 0.3
        assert curve.high[place] - 0.3 < one.band[1]
    assert np.all(curve.low < curve.predicted)
    assert np.all(curve.predicted < curve.high)


def test_the_pot_that_was_turned_is_the_one_across_the_picture(bench: Bench) -> None:
    model = bench("two-el34-balance")
    turned = [{"RV1": CLOCKWISE, "RV2": at} for at in ENDS.values()]
    readings = [volts("grid1", -32.0, pots, turn) for turn, pots in enumerate(turned)]
    (curve,) = curves(model, readings, YEAR)
    assert curve.swept == ("RV2",)
    assert curve.fixed == {"RV1": 1.0}
    assert len(curve.spots) == 3


def test_readings_under_another_load_or_position_lie_on_a_curve_of_their_own(
    bench: Bench,
) -> None:
    model = bench("two-6v6gt-foot")
    poor = replace(DMM, name="old", r_input=100e3)
    readings = [volts("grid1", -35.0, {"RV1": MIDDLE}),
                volts("grid1", -20.0, {"RV1": MIDDLE}, meter=poor)]  # fmt: skip
    good, bad = curves(model, readings, YEAR)
    assert bad.predicted[5] / good.predicted[5] < 0.7


def test_what_has_no_place_on_the_travel_is_left_out(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    readings = [volts("grid1", -35.0, {}), volts("head", -42.0, {"RV1": MIDDLE}),
                ohms("foot", "ground", 27e3, {"RV1": Position(0.0)}, "R3")]  # fmt: skip
    assert curves(model, readings, YEAR) == []
