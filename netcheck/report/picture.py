"""The travel curve as an SVG picture; matplotlib is imported when one is drawn."""

from __future__ import annotations

import functools
import io
from collections.abc import Callable, Sequence
from typing import Any

from ..travel import Prediction
from .prediction import groups

BAND, _WORST = "0.72", "0.88"
"""Greys: the picture is read in print and by the colour-blind."""


def travel_svg(prediction: Prediction) -> str:
    """Grid volts over the travel with both bands, one panel for each distinct grid.

    Returns
    -------
    str
        SVG, the same bytes for the same prediction.
    """
    panels = [functools.partial(_panel, p=prediction, group=group)
              for group in groups(prediction)]  # fmt: skip
    return drawn(plain(prediction.section.circuit.title) or "Grid voltage", panels)


def drawn(title: str, panels: Sequence[Callable[[Any], None]]) -> str:
    """A picture of panels, one below the other.

    Parameters
    ----------
    title : str
        Above the picture.
    panels : sequence of callable
        Each draws on the matplotlib axes that it is given.

    Returns
    -------
    str
        SVG, the same bytes for the same panels.
    """
    import matplotlib  # noqa: PLC0415
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    settings: Any = {"svg.hashsalt": "netcheck", "svg.fonttype": "none", "font.size": 10.0,
                "font.family": "sans-serif", "axes.spines.top": False,
                "axes.spines.right": False, "text.parse_math": False}  # fmt: skip
    with matplotlib.rc_context(settings):
        figure = Figure(figsize=(7.0, 3.6 * len(panels) + 0.4), layout="constrained")
        canvas: Any = FigureCanvasSVG(figure)
        axes = figure.subplots(len(panels), 1, squeeze=False)
        for axis, panel in zip(axes[:, 0], panels, strict=True):
            panel(axis)
        figure.suptitle(plain(title), fontsize=11)
        out = io.StringIO()
        canvas.print_svg(out, metadata={"Date": None, "Creator": "netcheck"})
    return out.getvalue()


def frame(axis: Any, swept: Sequence[str], nodes: Sequence[str]) -> None:
    """Name the axes of a panel of grid volts over the travel, and put its legend below."""
    axis.set_xlabel(f"travel of {plain(' and '.join(swept))}, % clockwise")
    axis.set_ylabel(f"{plain(', '.join(nodes))} against ground, V")
    axis.grid(True, color="0.6", linewidth=0.4)
    axis.legend(frameon=False, fontsize=9, loc="upper center", bbox_to_anchor=(0.5, -0.17), ncols=3)


def _panel(axis: Any, p: Prediction, group: list[int]) -> None:
    k, band, at = group[0], p.band, 100.0 * p.travel
    axis.fill_between(at, band.low[:, k], band.high[:, k], color=_WORST, linewidth=0,
                      label="worst case of parts and mains")  # fmt: skip
    axis.fill_between(at, band.low_95[:, k], band.high_95[:, k], color=BAND, linewidth=0,
                      label="95 of 100 chassis")  # fmt: skip
    axis.plot(at, p.mean[:, k], "-", color="black", marker=".", label="predicted")
    axis.set_xlim(float(at[0]), float(at[-1]) if at.size > 1 else float(at[0]) + 1.0)
    frame(axis, p.swept, [p.watched[i] for i in group])


def plain(text: str) -> str:
    """The user's text without what an SVG file cannot hold; XML signs are escaped later."""
    return "".join(c for c in text if c.isprintable())
