"""Failing parts as plain data for JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..failures import Guard, Judged, Outcome, Proposal, Study
from ..quantity import Dimension
from .data import number

_UNIT = {Dimension.WATT: "watts", Dimension.VOLT: "volts"}


def failures_data(s: Study) -> dict[str, Any]:
    """The failures of a section, the most dangerous first; volts against ground, SI units."""
    return {
        "circuit": s.section.circuit.title,
        "window": list(s.window),
        "swept": list(s.swept),
        "fixed": {name: number(at) for name, at in s.fixed.items()},
        "travel": _numbers(s.travel),
        "now": s.now,
        "limit_watts": dict(s.limits),
        "sound": _outcome(s, s.sound),
        "without_bias": list(s.without),
        "failures": [_failure(s, one) for one in s.failures],
        "guards": [_guard(s, guard) for guard in s.guards],
        "proposals": [_proposal(s, proposal) for proposal in s.proposals],
        "helpless": list(s.helpless),
        "made_safe": [{"part": one.failure.part, "mode": one.failure.mode.value,
                       "danger": one.danger.value} for one in s.saved],
    }  # fmt: skip


def _numbers(values: Any) -> list[float]:
    return [number(float(v)) for v in np.asarray(values).ravel()]


def _outcome(s: Study, outcome: Outcome) -> dict[str, Any]:
    grids = {} if outcome.trouble else {
        node: {"volts": _numbers(outcome.mean[:, k]),
               "ripple_volts": _numbers(outcome.ripple[:, k]),
               "floats": node in outcome.floats}
        for k, node in enumerate(s.section.watched)
    }  # fmt: skip
    return {
        "grids": grids,
        "valves": {name: {"cathode_amperes": _numbers(i),
                          "of_limit": _numbers(outcome.of_limit[name])}
                   for name, i in outcome.i_cathode.items()},
        "overloads": [{"part": over.part, "what": over.strain.value, "bears": number(over.bears),
                       "stands": number(over.rated), "unit": _UNIT[over.strain.dimension]}
                      for over in outcome.overloads],
        "settled": outcome.settled,
        "trouble": outcome.trouble or None,
    }  # fmt: skip


def _failure(s: Study, one: Judged) -> dict[str, Any]:
    return {
        "part": one.failure.part,
        "mode": one.failure.mode.value,
        "danger": one.danger.value,
        "dangerous": one.danger.is_dangerous,
        "dangers": {name: danger.value for name, danger in one.dangers.items()},
        "not_drawn": None if one.undrawn is None else one.undrawn.value,
        "outcome": _outcome(s, one.outcome),
    }


def _guard(s: Study, guard: Guard) -> dict[str, Any]:
    return {
        "pot": guard.pot,
        "part": guard.part,
        "ohms": guard.r,
        "danger": guard.danger.value,
        "danger_without": guard.danger_without.value,
        "lifted": _outcome(s, guard.lifted),
    }


def _proposal(s: Study, p: Proposal) -> dict[str, Any]:
    return {
        "pot": p.pot,
        "from": p.start,
        "to": p.end,
        "to_terminal": p.end_word,
        "ohms": p.r,
        "moves_volts": number(p.moves),
        "moves_share": number(p.moves_share),
        "danger": p.danger.value,
        "danger_before": p.danger_before.value,
        "lifted": _outcome(s, p.lifted),
    }
