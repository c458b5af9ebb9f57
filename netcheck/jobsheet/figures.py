"""The pictures of the page: the travel curve with band and readings, and the live panel's plot."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from ..compare import Curve
from ..diagnose.words import listed
from ..engine.elements import Floats
from ..report.comparison import StageComparison
from ..report.prediction import groups
from ..travel import Prediction
from .chart import Scale, across, axes, band, element, hatched, line, picture, reading, text
from .gather import Job, Wanted
from .request import Missing
from .tables import percent, volts
from .turned import Turned

_MOST = 4  # curves with readings that are drawn [count]
_FLAT = 2  # positions that make a curve [count]
_LEAST_BEYOND = 5.0  # beyond what is drawn, in the live plot [V]


@dataclass(frozen=True)
class Figure:
    """A picture with what stands below it.

    Parameters
    ----------
    name : str
        Of which there is one on the page.
    picture : Markup
        The SVG.
    caption : str
        What it shows.
    legend : tuple of (str, str)
        What is drawn how: a class of the style sheet, and words.
    """

    name: str
    picture: Markup
    caption: str
    legend: tuple[tuple[str, str], ...]


def curve_figures(job: Job) -> list[Figure]:
    """The curves on which readings lie; without any what the section gives as drawn."""
    drawn = [
        (one.comparison, curve)
        for one in job.stages
        if isinstance(one.comparison, StageComparison)
        for curve in one.comparison.curves
    ]
    if drawn:
        return [_with_readings(job, stage, curve, k)
                for k, (stage, curve) in enumerate(drawn[:_MOST])]  # fmt: skip
    p = job.prediction
    if isinstance(p, Missing) or p.travel.size < _FLAT:
        return []
    return [_as_drawn(job, p, group, k) for k, group in enumerate(groups(p))]


def _with_readings(job: Job, stage: StageComparison, curve: Curve, k: int) -> Figure:
    name, wanted = f"curve-{k + 1}", _wanted(job, curve.nodes)
    read = [spot.reading.nominal for spot in curve.spots]
    scale = Scale.around([curve.low, curve.high, *read, *_ends(wanted)])
    content = [
        band(scale, "band", curve.travel, curve.low, curve.high),
        *_window(scale, wanted, name),
        *axes(scale, curve.swept),
        line(scale, "curve", curve.travel, curve.predicted),
    ]
    is_square = stage.stage == "as left"
    for spot in curve.spots:
        errors = spot.travel_error, spot.v_error
        content.append(reading(scale, spot.travel, spot.reading.nominal, errors, is_square))
    fixed = [f"{pot} at {percent(at)}" for pot, at in curve.fixed.items()]
    stands = f", with {listed(fixed)}" if fixed else ""
    is_before = job.request.before is not None and stage.stage == "as found"
    drawn = "as it came in" if is_before else "as drawn"
    caption = (f"{listed(curve.nodes)} over the travel of {listed(curve.swept)}{stands}: readings "
               f"{stage.stage}, and what the meter should show")  # fmt: skip
    legend = [("curve", f"should be, {drawn}"), ("band", "95 of 100 sound chassis"),
              ("square" if is_square else "circle", f"read {stage.stage}, with limits of error"),
              *_window_legend(job, wanted, curve.nodes)]  # fmt: skip
    told = f"Predicted {_run(curve.predicted)}. Read: {', '.join(_spots(curve))}."
    return Figure(name, picture(content, caption, told, name), caption + ".", tuple(legend))


def _spots(curve: Curve) -> Iterator[str]:
    for spot in curve.spots:
        yield f"{volts(spot.reading.nominal)} at {percent(spot.travel)}"


def _as_drawn(job: Job, p: Prediction, group: Sequence[int], k: int) -> Figure:
    name, nodes, column = f"curve-{k + 1}", [p.watched[i] for i in group], group[0]
    wanted, limits, mean = _wanted(job, nodes), p.band, p.mean[:, column]
    low, high = limits.low[:, column], limits.high[:, column]
    scale = Scale.around([low, high, *_ends(wanted)])
    content = [
        band(scale, "worst", p.travel, low, high),
        band(scale, "band", p.travel, limits.low_95[:, column], limits.high_95[:, column]),
        *_window(scale, wanted, name),
        *axes(scale, p.swept),
        line(scale, "curve", p.travel, mean),
    ]
    caption = f"{listed(nodes)} over the travel of {listed(p.swept)}, as drawn"
    legend = [("curve", "should be"), ("band", "95 of 100 sound chassis"),
              ("worst", "worst case of parts and mains"),
              *_window_legend(job, wanted, nodes)]  # fmt: skip
    told = f"Predicted {_run(mean)}."
    return Figure(name, picture(content, caption, told, name), caption + ".", tuple(legend))


def _run(mean: Floats) -> str:
    """A curve in words."""
    return f"{volts(float(mean[0]))} fully anticlockwise to {volts(float(mean[-1]))} clockwise"


def _wanted(job: Job, nodes: Sequence[str]) -> Wanted | None:
    """What the first valve on some grids wants."""
    if isinstance(job.prediction, Missing):
        return None
    own = zip(job.prediction.valves.valves, job.wanted, strict=True)
    return next((w for one, w in own if one.valve.grid in nodes and w is not None), None)


def _ends(wanted: Wanted | None) -> list[float]:
    return [] if wanted is None else [wanted.cold, wanted.hot]


def _window(scale: Scale, wanted: Wanted | None, name: str) -> list[Markup]:
    if wanted is None:
        return []
    return [hatched(scale, wanted.cold, wanted.hot, f"{name}-window")]


def _window_legend(job: Job, wanted: Wanted | None, nodes: Sequence[str]
                   ) -> Iterator[tuple[str, str]]:  # fmt: skip
    if wanted is None or isinstance(job.prediction, Missing):
        return
    valves = [one for one in job.prediction.valves.valves if one.valve.grid in nodes]
    low, high = valves[0].window
    names = listed([one.valve.name for one in valves])
    yield "window", f"window of {names}, {low * 100:.0f} to {high * 100:.0f} % of the limit"


# ----------------------------------------------------------------------- the live panel


def live_figure(job: Job, found: Turned, data: Mapping[str, Any]) -> Figure:
    """The plot of the live panel: what the page's script moves has a name of its own.

    Parameters
    ----------
    job : Job
        The job.
    found : Turned
        What was computed.
    data : mapping
        From `panel_data`.
    """
    p, wanted, scale = (
        found.prediction,
        _wanted(job, found.prediction.watched),
        live_scale(job, found),
    )
    content = [*_window(scale, wanted, "live"), *axes(scale, p.swept)]
    if wanted is not None and wanted.limit is not None and wanted.limit < scale.high:
        y = scale.y(wanted.limit)
        content += [across("limit", y), text("limit", scale.x(1.0) - 4, y - 4, "end")]
    groups = [list(grid["names"]) for grid in data["grids"]]
    for k, names in enumerate(groups):
        mean = found.base[:, found.nodes.index(names[0])]
        content += _moved(scale, p, mean, k, ", ".join(names) if len(groups) > 1 else "")
    caption = f"{listed(list(p.watched))} over the travel, with what the controls are set to"
    legend = [("drawn", "as drawn"), ("now", "as set"), ("spot", "where the pot stands"),
              *_window_legend(job, wanted, p.watched)]  # fmt: skip
    told = "It follows the controls; what it shows stands in words beside them."
    return Figure(
        "live-plot", picture(content, caption, told, "live-plot"), caption + ".", tuple(legend)
    )


def _moved(scale: Scale, p: Prediction, mean: Floats, k: int, name: str) -> Iterator[Markup]:
    """What the script moves of one grid: its curve, its spot and the words beside that."""
    if p.travel.size >= _FLAT:
        yield line(scale, "drawn", p.travel, mean)
        yield line(scale, "now", p.travel, mean, id=f"live-curve-{k}")
    middle = p.travel.size // 2
    x, y = scale.x(float(p.travel[middle])), scale.y(float(mean[middle]))
    yield element("circle", class_="spot", id=f"live-spot-{k}", r=6.0, cx=x, cy=y)
    yield text(name, x + 9, y - 8, id=f"live-label-{k}")


def live_scale(job: Job, found: Turned) -> Scale:
    """The scale of the live plot: the travel as drawn, and as much again either side.

    What is set beyond that runs along the edge; the words beside it tell how far.
    """
    columns = [found.nodes.index(node) for node in found.prediction.watched]
    drawn = found.base[:, columns]
    every = [drawn, *(turn.v[:, :, columns] for turn in found.turns)]
    least, most = min(float(v.min()) for v in every), max(float(v.max()) for v in every)
    beyond = max(float(drawn.max() - drawn.min()), _LEAST_BEYOND)
    ends = [max(least, float(drawn.min()) - beyond), min(most, float(drawn.max()) + beyond)]
    return Scale.around([drawn, *ends, *_ends(_wanted(job, found.prediction.watched))])
