"""Remedies as plain data for JSON, SI units."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..finding import Finding
from ..remedy.aim import Aim
from ..remedy.figures import Fall, Figures
from ..remedy.option import Option
from ..remedy.ratings import Buy
from ..remedy.samples import Sample, matching
from ..remedy.score import WEIGHTS
from ..remedy.study import Remedies
from ..remedy.ways import Way
from ..remedy.words import way_words
from .data import finding_data, number
from .remedy import verdict


def remedy_data(found: Remedies, chosen: int = 1, findings: Iterable[Finding] = ()
                ) -> dict[str, Any]:  # fmt: skip
    """What could be done.

    Parameters
    ----------
    found : Remedies
        All of it.
    chosen : int
        The option that the sentence is about, the first is 1. [count]
    findings : iterable of Finding
        What is doubtful about the sheet of readings.
    """
    option = found.options[chosen - 1] if found.options else None
    match = matching(found.samples)
    return {
        "circuit": found.start.drawn.title,
        "sentence": verdict(found, option),
        "started_from": {
            "faults": list(found.start.faults),
            "certain": found.start.is_certain,
            "can_be_worked_around": found.start.is_livable,
            "fault": found.start.fault_words or None,
            "remarks": list(found.start.words),
        },
        "wanted": _aim(found.goal),
        "pots": list(found.pots),
        "needed": found.is_needed,
        "chosen": chosen if option is not None else None,
        "as_it_is": None if found.as_is is None else _option(found, found.as_is),
        "options": [_option(found, one) for one in found.options],
        "weights": dict(WEIGHTS),
        "refused": [{"way": _way(one.way), "words": way_words(found.start.drawn, one.way),
                     "over_stressed": list(one.over_stressed)} for one in found.refused],
        "values_tried": found.tried,
        "obstacle": list(found.obstacle),
        "valves_measured": [_sample(one) for one in found.samples],
        "valves_matched": None if match is None else match.matched,
        "findings": [finding_data(one) for one in findings],
    }  # fmt: skip


def _maybe(value: float | None) -> float | None:
    return None if value is None else number(value)


def _pair(pair: tuple[float, float] | None) -> list[float] | None:
    return None if pair is None else [number(pair[0]), number(pair[1])]


def _aim(goal: Aim) -> dict[str, Any]:
    return {
        "window": _pair(goal.window),
        "grid_volts": _maybe(goal.v_grid),
        "marks": [{"name": m.name, "grid": m.node, "cold_volts": number(m.v_cold),
                   "middle_volts": number(m.v_middle), "hot_volts": number(m.v_hot)}
                  for m in goal.marks],
        "not_modelled": list(goal.left_out),
        "mains_high": number(goal.mains_high),
    }  # fmt: skip


def _way(way: Way) -> dict[str, Any]:
    return {"kind": way.kind.value, "parts": list(way.parts), "ohms": way.r or None,
            "end": way.end or None}  # fmt: skip


def _option(found: Remedies, one: Option) -> dict[str, Any]:
    way = one.way
    watched = {fall.mark.node: fall.mark.column for fall in one.figures.falls}
    return {
        "words": None if way is None else way_words(found.start.drawn, way, one.before),
        "way": None if way is None else _way(way),
        "before": None if one.before is None else _way(one.before),
        "serves": one.serves,
        "over_runs": one.figures.over_runs,
        "score": number(one.score.total),
        "points_lost": {name: number(points) for name, points in one.score.terms.items()},
        **_figures(one.figures),
        "travel": [number(float(at)) for at in one.travel],
        "grids": {node: [number(float(v)) for v in one.v_grids[:, k]]
                  for node, k in watched.items()},
        "buy": [_buy(b) for b in one.buys],
    }  # fmt: skip


def _figures(figures: Figures) -> dict[str, Any]:
    return {
        "window_travel": _pair(figures.inside),
        "window_middle_travel": _maybe(figures.middle),
        "travel_left": _pair(figures.room),
        "most_of_limit": _maybe(figures.share_most),
        "worst_of_limit": _maybe(figures.share_worst),
        "valves": [_fall(fall) for fall in figures.falls],
    }


def _fall(fall: Fall) -> dict[str, Any]:
    return {
        "name": fall.mark.name,
        "window_travel": _pair(fall.inside),
        "window_middle_travel": _maybe(fall.middle),
        "window_reached": number(fall.covered),
        "amperes_per_tenth": _maybe(fall.i_per_tenth),
        "volts_per_tenth": _maybe(fall.v_per_tenth),
        "most_of_limit": _maybe(fall.share_most),
    }


def _buy(one: Buy) -> dict[str, Any]:
    return {
        "part": one.name,
        "kind": "pot" if one.is_pot else "resistor",
        "ohms": number(one.r),
        "dissipates_watts": number(one.p),
        "peak_volts": number(one.v_peak),
        "rating_watts": one.power,
        "working_volts": _maybe(one.v_working),
    }


def _sample(one: Sample) -> dict[str, Any]:
    return {
        "valve": one.name,
        "grid_volts": number(one.v_grid),
        "cathode_amperes": number(one.i_cathode),
        "of_average": number(one.ratio),
        "far_from_typical": one.is_far,
    }
