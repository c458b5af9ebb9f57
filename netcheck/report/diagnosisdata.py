"""A diagnosis as plain data for JSON, SI units."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ..diagnose.account import Account
from ..diagnose.diagnosis import SOUND_BEFORE
from ..diagnose.evidence import Evidence, Odd
from ..diagnose.explain import Fitted, cause
from ..diagnose.gain import NextReading
from ..diagnose.suspects import Mode, Suspect
from ..diagnose.words import dimension_of, effort_words, request, subject, suspect_name, unit_of
from ..finding import Finding
from ..quantity import Dimension
from ..readings import OVERLOAD, Reading
from .data import finding_data, number
from .verdict import verdict

_LEAST = 1e-4  # suspects less probable are left out [1]
_UNIT = {
    Dimension.OHM: "ohms",
    Dimension.FARAD: "farads",
    Dimension.AMPERE: "amperes",
    Dimension.VOLT: "volts",
    Dimension.VOLT_AC: "volts_rms",
    Dimension.VOLT_PP: "volts_peak_to_peak",
}


def diagnosis_data(account: Account, findings: Iterable[Finding] = ()) -> dict[str, Any]:
    """A diagnosis; every value stands under the name of its unit.

    Parameters
    ----------
    account : Account
        What was found.
    findings : iterable of Finding
        What is doubtful about the sheet.
    """
    found = account.diagnosis
    return {
        "circuit": account.section.circuit.title,
        "stage": account.stage,
        "verdict": found.verdict.value,
        "sentence": verdict(account),
        "group": [_label(account, suspect) for suspect in found.group],
        "chance_of_misfit": number(found.chance),
        "sound_before": SOUND_BEFORE,
        "suspects": [_suspect(account, s) for s in found.suspects if s.probability >= _LEAST],
        "evidence": [_evidence(account, one) for one in account.evidence],
        "odd_readings": [_odd(account, one) for one in account.odd],
        "next_readings": [_next(account, one) for one in account.following],
        "to_confirm": None if account.to_confirm is None else _next(account, account.to_confirm),
        "readings": [_reading(one) for one in account.readings],
        "readings_not_used": [_reading(one) for one in found.readout.unused],
        "readings_through_junctions": [_reading(one) for one in found.conducting],
        "findings": [finding_data(finding) for finding in findings],
    }


def _label(account: Account, suspect: Suspect) -> str:
    return suspect_name(suspect, account.readings)


def _value(value: float) -> float | str:
    return "OL" if value == OVERLOAD else number(value)


def _spread(points: Sequence[float], names: Sequence[str]) -> dict[str, float | str]:
    return {name: _value(point) for name, point in zip(names, points, strict=True)}


_IN_95 = ("low_95", "nominal", "high_95")
_IN_90 = ("low_90", "nominal", "high_90")


def _suspect(account: Account, suspect: Suspect) -> dict[str, Any]:
    hypothesis = suspect.mode.hypothesis
    part = account.section.circuit.part(suspect.label)
    return {
        "name": _label(account, suspect),
        "parts": list(suspect.parts),
        "probability": number(suspect.probability),
        "reading": hypothesis.reading,
        "modes": [_mode(account, m) for m in suspect.modes if m.probability >= _LEAST],
        "explanations": [{"text": e.text, "acts_as": number(e.acts), "weight": number(e.weight)}
                         for e in suspect.explanations],
        "cause": cause(part, suspect.label, hypothesis.mode) or None,
    }  # fmt: skip


def _mode(account: Account, mode: Mode) -> dict[str, Any]:
    reads = mode.hypothesis.factor if mode.hypothesis.reading is not None else None
    return {
        "mode": mode.hypothesis.mode,
        "probability": number(mode.probability),
        "fitted": [_fitted(account, fitted) for fitted in mode.fitted],
        "times": reads or None,
    }


def _fitted(account: Account, fitted: Fitted) -> dict[str, Any]:
    part = account.section.circuit.part(fitted.coordinate.partition(".")[0])
    unit = unit_of(part, fitted.coordinate)
    points = (fitted.low, fitted.nominal, fitted.high)
    return {
        "parameter": fitted.coordinate,
        "of_nominal" if unit is None else _UNIT[unit]: _spread(points, _IN_90),
    }


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "of": subject(reading),
        "kind": reading.kind.value,
        "plus": reading.plus or None,
        "minus": reading.minus or None,
        "part": reading.part or None,
        "live": reading.state.live,
        "pots": {pot: {"travel": number(at.travel), "by_eye": at.by_eye}
                 for pot, at in sorted(reading.state.pots.items())},
        "line": reading.span.line or None,
    }  # fmt: skip


def _unit(reading: Reading) -> str:
    return _UNIT[dimension_of(reading.kind)]


def _evidence(account: Account, one: Evidence) -> dict[str, Any]:
    reading = account.readings[one.reading]
    shown: Mapping[str, Any] = {
        "measured": _value(one.measured),
        "sound": _spread(one.sound, _IN_95),
        "with_fault": None if one.fault is None else _value(one.fault),
    }
    return {"reading": one.reading, "bits": number(one.bits), "together": one.together,
            _unit(reading): shown}  # fmt: skip


def _odd(account: Account, one: Odd) -> dict[str, Any]:
    reading = account.readings[one.reading]
    return {
        "reading": one.reading,
        "standard_deviations": number(one.deviations),
        _unit(reading): {"measured": _value(one.measured),
                         "others_want": _spread(one.wanted, _IN_95)},
    }  # fmt: skip


def _next(account: Account, one: NextReading) -> dict[str, Any]:
    reading = one.candidate.reading
    names = {s.parts: _label(account, s) for s in account.diagnosis.suspects}
    return {
        "request": request(account.section, reading),
        "reading": _reading(reading),
        "bits": number(one.bits),
        "effort": one.candidate.effort,
        "asks_for": effort_words(account.section, reading),
        _unit(reading): {
            "likely": _spread(one.likely, _IN_90),
            "if_fault": {names[parts]: _spread(points, _IN_90)
                         for parts, points in one.if_fault.items() if parts in names},
        },
    }  # fmt: skip
