"""The current model with the spread between samples of one type.

All grid voltages are against ground: where the cathode stands above it, by the drop across
its resistor, the model is given volts against the cathode.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from ..valves.practice import SAMPLE_SPREAD
from .stage import Spread, Stage, Verdict, verdict

_RANGE_95 = exp(1.96 * SAMPLE_SPREAD)

SAMPLES = Spread(1.0, 1.0 / _RANGE_95, _RANGE_95)
"""Current for each ampere of the average valve, of the average one and of 95 of 100. [1]"""


@dataclass(frozen=True, slots=True)
class Expected:
    """What valves draw at the measured grid voltage, average and 95 of 100 samples.

    Parameters
    ----------
    i_plate, i_cathode : Spread
        Currents; the cathode current with the nominal screen share. [A]
    of_limit : Spread
        Plate dissipation as a share of the limit counted from. [1]
    verdict : Verdict
        On the average valve.
    """

    i_plate: Spread
    i_cathode: Spread
    of_limit: Spread
    verdict: Verdict


def average_current(stage: Stage, v_grid: float, drop: float) -> float:
    """Plate current of an average valve by the model.

    Parameters
    ----------
    stage : Stage
        A stage with a model.
    v_grid : float
        Grid against ground. [V]
    drop : float
        Cathode against ground. [V]

    Returns
    -------
    float
        Plate current. [A]
    """
    from ..valves.model import plate_current  # noqa: PLC0415 - not every call needs numpy

    assert stage.v_screen_taken is not None
    return float(plate_current(stage.valve, stage.v_plate - drop, stage.v_screen_taken - drop,
                               v_grid - drop))  # fmt: skip


def grid_for(stage: Stage, i_plate: float, factor: float = 1.0) -> float:
    """Grid voltage against ground for a plate current.

    Parameters
    ----------
    stage : Stage
        A stage with a model.
    i_plate : float
        Plate current, above zero. [A]
    factor : float
        What this sample draws for each ampere of the average one. [1]

    Returns
    -------
    float
        Grid against ground. [V]
    """
    from ..valves.model import grid_voltage  # noqa: PLC0415 - not every call needs numpy

    assert stage.v_screen_taken is not None
    drop = (1.0 + stage.share.nominal) * i_plate * stage.r_cathode
    between = grid_voltage(stage.valve, stage.v_plate - drop, stage.v_screen_taken - drop,
                           i_plate / factor)  # fmt: skip
    return float(between) + drop


def expected(stage: Stage) -> Expected | None:
    """What valves draw at the measured grid voltage.

    Parameters
    ----------
    stage : Stage
        The valves.

    Returns
    -------
    Expected or None
        None where the grid voltage was not measured or no model can tell.
    """
    v_grid = stage.v_grid
    if v_grid is None or not stage.has_model:
        return None
    ratio = 1.0 + stage.share.nominal
    i_plate = SAMPLES.mapped(lambda k: _settled_current(stage, v_grid, k))
    i_cathode = i_plate.mapped(lambda i: ratio * i)
    p_plate = i_plate.mapped(lambda i: (stage.v_plate - ratio * i * stage.r_cathode) * i)
    of_limit = p_plate.mapped(lambda p: p / stage.limits.p_plate)
    return Expected(i_plate, i_cathode, of_limit, verdict(stage, of_limit.nominal))


def _settled_current(stage: Stage, v_grid: float, factor: float) -> float:
    """Plate current of a sample, its own drop across the cathode resistor counted."""
    low, high = 0.0, factor * average_current(stage, v_grid, 0.0)
    if not stage.r_cathode:
        return high
    ohms = (1.0 + stage.share.nominal) * stage.r_cathode
    for _ in range(60):  # halves the span down to the last bit of a float
        middle = (low + high) / 2.0
        if factor * average_current(stage, v_grid, middle * ohms) > middle:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
