"""The predicted curve with the readings on it, as an SVG picture."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import Any

from ..compare import Curve, Spot
from .comparison import StageComparison
from .picture import BAND, drawn, frame, plain

_MARKS = {"as found": "o", "as left": "s"}


def comparison_svg(stages: Sequence[StageComparison]) -> str:
    """Grid volts over the travel, 95 % band and readings, one panel for each curve.

    Returns
    -------
    str
        SVG, the same bytes for the same comparison.
    """
    panels = [functools.partial(_panel, stage=one.stage, curve=curve, is_alone=len(stages) == 1)
              for one in stages for curve in one.curves]  # fmt: skip
    return drawn(plain(stages[0].comparison.section.circuit.title) or "Readings", panels)


def _panel(axis: Any, stage: str, curve: Curve, is_alone: bool) -> None:
    at = 100.0 * curve.travel
    axis.fill_between(at, curve.low, curve.high, color=BAND, linewidth=0,
                      label="95 of 100 sound chassis")  # fmt: skip
    axis.plot(at, curve.predicted, "-", color="black", linewidth=1.2, label="predicted")
    for k, spot in enumerate(curve.spots):
        _mark(axis, spot, _MARKS[stage], "read, with limits of error" if k == 0 else None)
    stands = [f"{plain(pot)} at {100 * where:.0f} %" for pot, where in curve.fixed.items()]
    heading = ", ".join(stands if is_alone else [stage, *stands])
    if heading:
        axis.set_title(heading, fontsize=9)
    axis.set_xlim(-4.0, 104.0)  # so that what is read at a stop is seen whole
    frame(axis, curve.swept, curve.nodes)


def _mark(axis: Any, spot: Spot, mark: str, label: str | None) -> None:
    across = 100.0 * spot.travel_error
    drawn_bars = axis.errorbar(
        100.0 * spot.travel, spot.reading.nominal, yerr=spot.v_error, xerr=across or None,
        fmt=mark, markersize=5, markerfacecolor="white", color="black", capsize=3, linewidth=1.0,
        label=label,
    )  # fmt: skip
    line = spot.reading.span.line
    drawn_bars.lines[0].set_gid(f"reading-{line}-{spot.reading.plus}" if line else None)
