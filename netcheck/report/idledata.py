"""Idle currents as plain data for JSON, SI units."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..idle import Assessment, Expected, Judged, Spread, Stage, Target
from ..valves import Kind, Limits
from ..valves.practice import SAMPLE_SPREAD
from .data import number
from .idle import METER_OHMS


def idle_data(found: Assessment) -> dict[str, Any]:
    """A report as plain data, SI units."""
    stage = found.stage
    ohms = sorted({*METER_OHMS, *([stage.r_cathode] if stage.r_cathode else [])})
    low, high = stage.aim
    return {
        "type": stage.valve.name,
        "kind": stage.valve.kind.value,
        "plate_volts": number(stage.v_plate),
        "screen_volts": _optional(stage.v_screen),
        "grid_volts": _optional(stage.v_grid),
        "resistor_ohms": number(stage.r_cathode) if stage.r_cathode else None,
        "limits": _limits_data(stage.limits),
        "absolute_limits": _limits_data(stage.valve.absolute),
        "counted_from_absolute": stage.absolute,
        "screen_share": {**_spread_data(stage.share), "origin": _share_origin(stage)},
        "window": {"low": number(low), "high": number(high), "chosen": stage.window is not None},
        "targets": [_target_data(each, ohms) for each in found.targets],
        "grid_model": _model_data(stage),
        "valves": [_judged_data(stage, valve) for valve in found.valves],
        "expected": None if found.expected is None else _expected_data(found.expected),
        "match": _match_data(found),
        "findings": [
            {"about": f.source.name, "rule": f.slug, "severity": f.severity.value,
             "what": f.what, "why": f.why, "fix": f.fix}
            for f in found.findings
        ],
    }  # fmt: skip


def _optional(value: float | None) -> float | None:
    return None if value is None else number(value)


def _spread_data(spread: Spread | None) -> Any:
    if spread is None:
        return None
    return {name: number(value) for name, value in zip(Spread._fields, spread, strict=True)}


def _limits_data(limits: Limits | None) -> dict[str, Any] | None:
    if limits is None:
        return None
    return {
        "rating": limits.rating.value,
        "plate_watts": limits.p_plate,
        "screen_watts": limits.p_screen,
        "plate_volts": limits.v_plate,
        "screen_volts": limits.v_screen,
        "source": limits.origin.source,
        "status": limits.origin.status.value,
    }


def _share_origin(stage: Stage) -> str:
    if stage.valve.kind is Kind.TRIODE:
        return "no screen"
    return "usual" if stage.valve.screen_share is None else "published rows"


def _target_data(each: Target, ohms: Iterable[float]) -> dict[str, Any]:
    return {
        "share": number(each.share),
        "plate_watts": number(each.p_plate),
        "plate_amperes": _spread_data(each.i_plate),
        "cathode_amperes": _spread_data(each.i_cathode),
        "across_resistor": [
            {"ohms": number(r), "volts": number(each.i_cathode.nominal * r)} for r in ohms
        ],
        "grid_volts": _spread_data(each.v_grid),
    }


def _model_data(stage: Stage) -> dict[str, Any] | None:
    if not stage.has_model:
        return None
    taken = stage.v_screen_taken if stage.has_screen else None
    return {
        "screen_volts": _optional(taken),
        "screen_taken_as_plate": stage.has_screen and stage.v_screen is None,
        "sample_spread": SAMPLE_SPREAD,
    }


def _judged_data(stage: Stage, valve: Judged) -> dict[str, Any]:
    absolute = stage.valve.absolute
    return {
        "name": valve.name,
        "verdict": valve.verdict.value,
        "cathode_amperes": number(valve.i_cathode),
        "plate_amperes": _spread_data(valve.i_plate),
        "screen_amperes": _spread_data(valve.i_screen),
        "plate_watts": _spread_data(valve.p_plate),
        "of_limit": _spread_data(valve.of_limit),
        "of_absolute_limit": None if absolute is None
        else number(valve.p_plate.nominal / absolute.p_plate),
        "screen_watts": _spread_data(valve.p_screen),
        "screen_of_limit": _spread_data(valve.screen_of_limit),
        "against_average": _optional(valve.against_average),
        "grid_change_volts": _optional(valve.v_grid_change),
    }  # fmt: skip


def _expected_data(draws: Expected) -> dict[str, Any]:
    return {
        "verdict": draws.verdict.value,
        "plate_amperes": _spread_data(draws.i_plate),
        "cathode_amperes": _spread_data(draws.i_cathode),
        "of_limit": _spread_data(draws.of_limit),
    }


def _match_data(found: Assessment) -> dict[str, Any] | None:
    matched = found.match
    if matched is None:
        return None
    names = [valve.name for valve in found.valves]
    now = matched.present
    return {
        "matched": matched.matched,
        "spread_amperes": number(matched.spread),
        "allowed_amperes": number(matched.allowed),
        "to_replace": [names[k] for k in matched.odd_ones],
        "arrangements": [
            {
                "one_side": [names[k] for k in split.one],
                "other_side": [names[k] for k in split.other],
                "difference_amperes": number(split.difference),
                "allowed_amperes": number(split.allowed),
                "present": split is now,
            }
            for split in matched.telling
        ],
    }
