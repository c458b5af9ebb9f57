"""A sweep as plain data for JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ..quantity import Dimension
from ..substitution import Chart, Knob, Setting, Substitution
from ..valvetravel import ValveTravel
from .data import number
from .sweepwords import mains_volts

_UNIT = {
    Dimension.OHM: "ohms",
    Dimension.FARAD: "farads",
    Dimension.VOLT: "volts",
    Dimension.VOLT_AC: "volts_rms",
}


def sweep_data(s: Substitution | Chart, why_not: Mapping[str, str]) -> dict[str, Any]:
    """A sweep of one or two knobs; volts against ground, SI units.

    Parameters
    ----------
    s : Substitution or Chart
        The sweep.
    why_not : mapping of part name to str
        Why parts do not act on the grids; empty if all do.
    """
    knobs = [s.knob] if isinstance(s, Substitution) else [s.rows, s.columns]
    mains = s.section.circuit.mains
    return {
        "circuit": s.section.circuit.title,
        "mains": None if mains is None else {"volts": number(mains_volts(s) or 0.0),
                                             "hertz": mains.frequency},
        "changes": {name: number(value) for name, value in s.changes.items() if name != "mains"},
        "knobs": [_knob(knob) for knob in knobs],
        "without_effect": dict(why_not),
        "swept": list(s.swept),
        "fixed": {name: number(at) for name, at in s.fixed.items()},
        "travel": _numbers(s.travel),
        "window": list(s.window),
        "settings": [_setting(s, knobs, one) for one in s.settings],
    }  # fmt: skip


def _numbers(values: Any) -> list[float]:
    return [number(float(v)) for v in np.asarray(values).ravel()]


def _knob(knob: Knob) -> dict[str, Any]:
    return {
        "part": knob.part.name,
        "way": knob.way.value,
        "unit": _UNIT[knob.dimension],
        "fitted": knob.fitted,
        "values": list(knob.values),
    }


def _setting(s: Substitution | Chart, knobs: Sequence[Knob], one: Setting) -> dict[str, Any]:
    acts = [knob.acts_as(value) for knob, value in zip(knobs, one.values, strict=True)]
    watched = s.section.watched
    return {
        "values": list(one.values),
        "acts_as_ohms": [None if r is None else number(r) for r in acts],
        "trouble": one.trouble or None,
        "settled": one.settled,
        "grids": {} if one.trouble else {node: _numbers(one.mean[:, k])
                                         for k, node in enumerate(watched)},
        "valves": {} if one.valves is None else {valve.valve.name: _valve(valve)
                                                 for valve in one.valves.valves},
    }  # fmt: skip


def _valve(valve: ValveTravel) -> dict[str, Any]:
    return {
        "cathode_amperes": _numbers(valve.idle.i_cathode),
        "plate_watts": _numbers(valve.idle.p_plate),
        "of_limit": _numbers(valve.idle.p_plate / valve.limit),
        "window_travel": None if valve.inside is None else _numbers(valve.inside),
        "window_middle_travel": None if valve.middle is None else number(valve.middle),
        "beyond_limit_travel": None if valve.over is None else _numbers(valve.over),
    }
