"""Results as plain data for JSON; each has a schema beside this module."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np

from ..finding import Finding

if TYPE_CHECKING:
    from ..montecarlo import Scatter
    from ..survey import Survey
    from ..travel import Prediction
    from ..valvetravel import ValveTravel

SCHEMAS = (
    "check", "compare", "diagnose", "failures", "idle", "parts", "predict", "remedy", "report",
    "sweep",
)  # fmt: skip
"""The commands whose JSON has a schema."""


def schema(command: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a command's output."""
    text = files(__package__).joinpath("schemas", f"{command}.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    if command == "report":  # which holds what others print; each keeps its own "#"
        found["$defs"] = {
            name: {**schema(name), "$id": f"urn:netcheck:{name}"}
            for name in ("check", "compare", "diagnose", "parts", "predict", "remedy")
        }
    return found


def number(value: float) -> float:
    """A number as it is written: seven significant digits, which outdo any bench meter."""
    return float(f"{value:.7g}") + 0.0  # no negative zero


def _numbers(values: Any) -> list[float]:
    return [number(float(v)) for v in np.asarray(values).ravel()]


def prediction_data(p: Prediction) -> dict[str, Any]:
    """A prediction; volts against ground, SI units."""
    circuit = p.section.circuit
    mains = circuit.mains
    band = p.band
    return {
        "circuit": circuit.title,
        "mains": None if mains is None else {"volts": number(p.mains or 0.0),
                                             "hertz": mains.frequency},
        "meter_ohms": p.meter,
        "swept": list(p.swept),
        "fixed": {name: number(at) for name, at in p.fixed.items()},
        "travel": _numbers(p.travel),
        "grids": {
            node: {
                "valves": [valve.name for valve in p.section.grids.get(node, [])],
                "volts": _numbers(p.mean[:, k]),
                "low_95": _numbers(band.low_95[:, k]),
                "high_95": _numbers(band.high_95[:, k]),
                "low_worst": _numbers(band.low[:, k]),
                "high_worst": _numbers(band.high[:, k]),
                "ripple_volts": _numbers(p.ripple[:, k]),
                "seconds_to_90_percent": _start(p, node),
            }
            for k, node in enumerate(p.watched)
        },
        "nodes": {node: {"volts": _numbers(volts), "ripple_volts": _numbers(p.node_ripple[node])}
                  for node, volts in p.nodes.items()},
        "reservoirs": list(p.outlets),
        "parts": {
            name: {"mean_amperes": number(w.i_mean), "rms_amperes": number(w.i_rms),
                   "watts": number(w.power), "highest_volts": number(w.v_high),
                   "lowest_volts": number(w.v_low)}
            for name, w in p.work.items()
        },
        "valves": {one.valve.name: _valve(one) for one in p.valves.valves},
        "valves_left_out": dict(p.valves.left_out),
        "plate_volts_constant": p.valves.constant_plate,
        "tremolo_swing_volts": {node: _numbers(v) for node, v in p.swing.items()},
        "fast_path_gap_volts": None if p.fast_gap is None else number(p.fast_gap),
        "settled": p.settled,
        **({} if p.scatter is None else {"monte_carlo": _scatter(p, p.scatter)}),
    }  # fmt: skip


def _scatter(p: Prediction, drawn: Scatter) -> dict[str, Any]:
    low, high = drawn.beyond(p.band)
    return {
        "samples": drawn.samples,
        "seed": drawn.seed,
        "grids": {
            node: {
                "low_95": _numbers(drawn.low[:, k]),
                "high_95": _numbers(drawn.high[:, k]),
                "low_95_between": [_numbers(end[:, k]) for end in drawn.low_within],
                "high_95_between": [_numbers(end[:, k]) for end in drawn.high_within],
                "band_wider_low_volts": _numbers(low[:, k]),
                "band_wider_high_volts": _numbers(high[:, k]),
            }
            for k, node in enumerate(p.watched)
        },
    }


def _valve(one: ValveTravel) -> dict[str, Any]:
    now, limit = one.idle, one.limit
    return {
        "type": one.idling.type.name,
        "grid": one.valve.grid,
        "limit_watts": limit,
        "window": list(one.window),
        "cathode_amperes": _numbers(now.i_cathode),
        "low_95_amperes": _numbers(one.i_low),
        "high_95_amperes": _numbers(one.i_high),
        "plate_amperes": _numbers(now.i_plate),
        "plate_volts": _numbers(now.v_plate),
        "plate_watts": _numbers(now.p_plate),
        "verdict": one.verdict.value,
        "window_travel": None if one.inside is None else _numbers(one.inside),
        "window_middle_travel": None if one.middle is None else number(one.middle),
        "beyond_limit_travel": None if one.over is None else _numbers(one.over),
        "sample_spread": one.idling.shift.spread,
    }


def _start(p: Prediction, node: str) -> float | None:
    time = p.start.times.get(node) if p.start is not None else None
    return None if time is None else number(time)


def finding_data(finding: Finding) -> dict[str, Any]:
    """One finding."""
    return {
        "rule": finding.slug,
        "severity": finding.severity.value,
        "file": finding.source.name,
        "line": finding.span.line or None,
        "column": finding.span.column or None,
        "end_column": finding.span.end or None,
        "what": finding.what,
        "why": finding.why,
        "fix": finding.fix,
        "related": [{"line": r.span.line, "column": r.span.column, "text": r.text}
                    for r in finding.related],
    }  # fmt: skip


def check_data(surveys: Iterable[Survey]) -> list[dict[str, Any]]:
    """Checked circuits."""
    return [
        {
            "file": s.name,
            "title": s.section.circuit.title,
            "arrangement": s.arrangement.sentence,
            "simulated": s.simulated,
            "unanswered": s.unanswered or None,
            "findings": [finding_data(finding) for finding in s.findings],
            "roles": {name: role.word for name, role in s.roles.items()},
            "effects_of_10_percent_more": {name: _moves(m) for name, m in s.effects.items()},
        }
        for s in surveys
    ]


def _moves(moves: Mapping[str, float]) -> dict[str, float]:
    return {node: number(v) for node, v in moves.items()}
