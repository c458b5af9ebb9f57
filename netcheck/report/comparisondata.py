"""A comparison as plain data for JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from ..compare import Compared, Comparison, Conduction, Curve, Spot
from ..diagnose.words import subject
from ..finding import Finding
from ..quantity import Dimension
from ..readings import OVERLOAD, Reading, dimension_of
from .comparison import StageComparison, sentence, together_words
from .data import finding_data, number

_UNIT = {
    Dimension.OHM: "ohms",
    Dimension.FARAD: "farads",
    Dimension.AMPERE: "amperes",
    Dimension.VOLT: "volts",
    Dimension.VOLT_AC: "volts_rms",
    Dimension.VOLT_PP: "volts_peak_to_peak",
}


def comparison_data(stages: Sequence[StageComparison], findings: Iterable[Finding]
                    ) -> dict[str, Any]:  # fmt: skip
    """A comparison; every value stands under the name of its unit.

    Parameters
    ----------
    stages : sequence of StageComparison
        One or two.
    findings : iterable of Finding
        About the sheet.
    """
    return {
        "circuit": stages[0].comparison.section.circuit.title,
        "stages": [_stage(one) for one in stages],
        "findings": [finding_data(finding) for finding in findings],
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
