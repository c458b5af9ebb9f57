"""What every technician knows of a bias supply, held against the predicted readings.

The rules are common practice: more resistance in the foot makes the grid more negative, more in
series before the pot does the opposite; strapping only ever lowers; a wiper that lifts sends the
grid more negative where a resistor holds it; higher mains, more bias.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest

from netcheck.engine.elements import Floats
from netcheck.preferred import parallel
from netcheck.readings import Kind, Reading
from netcheck.readout.coordinates import BOX, EVEN, R_OPEN, Prior
from netcheck.readout.model import SectionModel
from netcheck.readout.readout import Readout

from .conftest import Models
from .sections import METER, YEAR, at, dc

TRAVEL = (0.0, 0.25, 0.5, 0.75, 1.0)
CIRCUITS = ["two-6v6gt-foot", "two-6l6gc-ht-tap"]  # both with R3 in the foot, R2 in series


def grid(model: SectionModel, changes: Mapping[str, float]) -> Floats:
    """Volts of grid1 over the travel with some coordinates changed, the rest as drawn."""
    readings = [dc("grid1", -40.0, at({"RV1": to}, turn=k)) for k, to in enumerate(TRAVEL)]
    return shown(model, readings, changes)


def shown(model: SectionModel, readings: list[Reading], changes: Mapping[str, float]) -> Floats:
    readout = Readout(model, readings, YEAR)
    row = np.array([middle(prior) for prior in readout.coordinates.sound])
    for name, x in changes.items():
        row[readout.coordinates.index[name]] = x
    y: Floats = readout.predict(row[None])[0][0]
    return y


def middle(prior: Prior) -> float:
    """What is drawn, or for want of that the middle of what is usual."""
    if prior.kind == BOX:
        return math.log(0.5 * (math.exp(prior.a) + math.exp(prior.b)))
    return 0.5 * (prior.a + prior.b) if prior.kind == EVEN else prior.a


def times(model: SectionModel, part: str, factor: float) -> dict[str, float]:
    """A part with its value multiplied."""
    return {part: math.log(float(model.predictor.values()[part]) * factor)}


@pytest.mark.parametrize("name", CIRCUITS)
@pytest.mark.parametrize("factor", [1.2, 2.0, 5.0])
def test_more_foot_is_more_negative_and_more_series_is_less(
    name: str, factor: float, models: Models
) -> None:
    model = models(name)
    drawn = grid(model, {})
    assert np.all(grid(model, times(model, "R3", factor)) < drawn - 0.1)
    assert np.all(grid(model, times(model, "R2", factor)) > drawn + 0.1)
    assert np.all(grid(model, times(model, "R3", 1 / factor)) > drawn + 0.1)


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_substitution_box_across_the_foot_does_little_at_first_and_much_near_the_end(
    name: str, models: Models
) -> None:
    model = models(name)
    r = float(model.predictor.values()["R3"])
    boxes = np.linspace(5.0 * r, 0.2 * r, 13)  # equal steps down
    change = np.diff([grid(model, {"R3": math.log(parallel(r, box))})[2] for box in boxes])
    assert np.all(change > 0.0)  # strapping only ever lowers: less negative
    assert np.all(np.diff(change) > 0.0)  # each step does more than the one before
    assert change[-1] > 10.0 * change[0]


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_lifted_wiper_sends_the_grid_more_negative(name: str, models: Models) -> None:
    model = models(name)
    lifted = grid(model, {"RV1.wiper": math.log(R_OPEN)})
    # Wherever the pot stands it goes to where the pot could bring it at most; the meter of
    # 10 Mohm pulls 220k less far than it pulls a pot: 2 %.
    assert np.all(lifted < 0.97 * np.min(grid(model, {})))


@pytest.mark.parametrize("name", CIRCUITS)
def test_mains_and_winding_act_alike_and_raise_the_bias(name: str, models: Models) -> None:
    model = models(name)
    mains = grid(model, times(model, "mains", 1.1))
    winding = grid(model, times(model, "T1", 1.1))
    assert mains == pytest.approx(winding, abs=1e-9)
    assert np.all(mains < 1.05 * grid(model, {}))


def test_a_leaky_capacitor_and_grid_current_lift_the_grid(models: Models) -> None:
    model = models("two-6v6gt-foot")
    drawn = grid(model, {})
    assert np.all(grid(model, {"C1.leak": math.log(10e3)}) > drawn + 1.0)
    assert np.all(grid(model, {"C2.leak": math.log(100e3)}) > drawn + 1.0)
    drawing = grid(model, {"V1.grid current": math.log(10e-6)})
    # 10 uA through the grid leak of 68k alone are 0.68 V; the rest of the network adds.
    assert np.all(drawing > drawn + 0.68)
    assert np.all(drawing < drawn + 1.2)


def test_less_bias_is_more_cathode_current(models: Models) -> None:
    model = models("two-6v6gt-foot")
    readings = [Reading(Kind.CURRENT, 20e-3, 1e-4, at({"RV1": to}, turn=k), METER, part="V1")
                for k, to in enumerate(TRAVEL)]  # fmt: skip
    drawn = shown(model, readings, {})
    strapped = shown(model, readings, {"R3": math.log(parallel(27e3, 82e3))})
    assert np.all(strapped > drawn)  # logarithms of amperes
    assert np.all(np.diff(drawn) > 0.0)  # clockwise is the bottom: less bias, more current
