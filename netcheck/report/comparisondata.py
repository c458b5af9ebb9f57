"""A comparison as plain data for JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from ..compare import Change, Compared, Comparison, Conduction, Curve, IdleLeft, Repair, Spot
from ..diagnose.words import subject
from ..finding import Finding
from ..quantity import Dimension
from ..readings import OVERLOAD, Reading, dimension_of
from .comparison import StageComparison, sentence, together_words
from .data import finding_data, number
from .repair import closing_words, outcome_words

_UNIT = {
    Dimension.OHM: "ohms",
    Dimension.FARAD: "farads",
    Dimension.AMPERE: "amperes",
    Dimension.VOLT: "volts",
    Dimension.VOLT_AC: "volts_rms",
    Dimension.VOLT_PP: "volts_peak_to_peak",
}


def comparison_data(stages: Sequence[StageComparison], findings: Iterable[Finding],
                    repair: Repair | None = None) -> dict[str, Any]:  # fmt: skip
    """A comparison; every value stands under the name of its unit.

    Parameters
    ----------
    stages : sequence of StageComparison
        One or two.
    findings : iterable of Finding
        About the sheet.
    repair : Repair or None
        What a repair did; None where the circuit before it was not given.
    """
    return {
        "circuit": stages[-1].comparison.section.circuit.title,
        "stages": [_stage(one) for one in stages],
        "findings": [finding_data(finding) for finding in findings],
        **({} if repair is None else {"repair": _repair(stages, repair)}),
    }


def _repair(stages: Sequence[StageComparison], r: Repair) -> dict[str, Any]:
    place = [{id(found.reading): k for k, found in enumerate(one.comparison.found)}
             for one in stages]  # fmt: skip
    return {
        "circuit_before": stages[0].comparison.section.circuit.title,
        "outcome": r.outcome.value,
        "sentences": [outcome_words(r), *closing_words(r)],
        "changes": [_change(one, place[0][id(one.found)], place[-1][id(one.left)])
                    for one in r.changes],
        "changes_agree": r.joint.agrees,
        "chance_of_chi_square": number(r.joint.chance),
        "chance_of_worst": number(r.joint.chance_of_worst),
        "not_read_again": [place[0][id(one)] for one in r.not_again],
        "idle": [_idle(one) for one in r.idle],
        "idle_not_read": list(r.unread),
        "window": None if r.window is None else list(r.window),
        "matched": None if r.matched is None else r.matched.matched,
    }  # fmt: skip


def _change(one: Change, found: int, left: int) -> dict[str, Any]:
    return {
        "found": found,
        "left": left,
        _UNIT[dimension_of(one.left.kind)]: {
            "found": _value(one.found.nominal),
            "predicted_before": _value(one.before),
            "predicted_after": _value(one.after),
            "wanted": _value(one.wanted),
            "low_95": _value(one.band[0]),
            "high_95": _value(one.band[1]),
            "left": _value(one.left.nominal),
        },
        "standard_deviations": number(one.deviation),
        "as_predicted": not one.is_outside,
    }


def _idle(one: IdleLeft) -> dict[str, Any]:
    judged = one.judged
    return {
        "valve": one.valve.name,
        "cathode_amperes": number(judged.i_cathode),
        "plate_watts": number(judged.p_plate.nominal),
        "of_limit": number(judged.of_limit.nominal),
        "verdict": judged.verdict.value,
        "accepted": one.accepted,
    }


def _stage(one: StageComparison) -> dict[str, Any]:
    c = one.comparison
    place = {id(found): k for k, found in enumerate(c.found)}
    return {
        "stage": one.stage,
        "verdict": c.verdict.value,
        "sentence": sentence(c),
        "mains": None if c.mains is None else {"volts": number(c.mains.v),
                                               "is_read": c.mains.is_read},
        "chi_square": number(c.joint.misfit),
        "readings_counted": c.joint.count,
        "chance_of_chi_square": number(c.joint.chance),
        "chance_of_worst": number(c.joint.chance_of_worst),
        "carried_by": [place[id(carrier)] for carrier in c.carriers],
        "rest_agrees": c.rest_agrees,
        "off_together": [{"kind": t.kind.value, "share": number(t.share), "readings": t.count,
                          "sentence": together_words(t)} for t in c.together],
        "readings": [_compared(found) for found in c.found],
        "pots_not_stated": list(c.unknown_pots),
        "curves": [_curve(c, curve) for curve in one.curves],
        "settled": c.settled,
    }  # fmt: skip


def _value(value: float | None) -> float | str | None:
    if value is None:
        return None
    return "OL" if value == OVERLOAD else number(value)


def _compared(one: Compared) -> dict[str, Any]:
    low, high = one.band or (None, None)
    return {
        **_reading(one.reading),
        _UNIT[dimension_of(one.reading.kind)]: {
            "measured": _value(one.reading.nominal),
            "predicted": _value(one.predicted),
            "low_95": _value(low),
            "high_95": _value(high),
            "difference": _value(one.difference),
        },
        "difference_share": _value(one.share),
        "standard_deviations": _value(one.deviation),
        "standard_deviations_from_rest": _value(one.apart),
        "outside_band": one.is_outside,
        "counts": one.apart is not None,
        "explained_by_junction": one.explained,
        "junctions": [_conduction(way) for way in one.conduction],
    }


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "of": subject(reading),
        "kind": reading.kind.value,
        "plus": reading.plus or None,
        "minus": reading.minus or None,
        "part": reading.part or None,
        "live": reading.state.live,
        "valves_out": reading.state.valves_out,
        "pots": {pot: {"travel": number(at.travel), "by_eye": at.by_eye}
                 for pot, at in sorted(reading.state.pots.items())},
        "meter": reading.meter.name,
        "line": reading.span.line or None,
    }  # fmt: skip


def _conduction(way: Conduction) -> dict[str, Any]:
    return {"conduct": list(way.junctions), "red_lead": way.red, "ohms_at_least": number(way.r),
            "test_volts": number(way.v_test)}  # fmt: skip


def _numbers(values: Any) -> list[float]:
    return [number(float(value)) for value in np.ravel(values)]


def _curve(c: Comparison, curve: Curve) -> dict[str, Any]:
    place = {id(found.reading): k for k, found in enumerate(c.found)}
    return {
        "nodes": list(curve.nodes),
        "swept": list(curve.swept),
        "fixed": {pot: number(at) for pot, at in curve.fixed.items()},
        "travel": _numbers(curve.travel),
        "volts": _numbers(curve.predicted),
        "low_95": _numbers(curve.low),
        "high_95": _numbers(curve.high),
        "spots": [_spot(spot, place[id(spot.reading)]) for spot in curve.spots],
    }


def _spot(spot: Spot, place: int) -> dict[str, Any]:
    return {"reading": place, "travel": number(spot.travel),
            "travel_error": number(spot.travel_error),
            "volts_error": number(spot.v_error)}  # fmt: skip
