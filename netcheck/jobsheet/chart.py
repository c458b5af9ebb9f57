"""Grid volts over the travel of the pot, as an inline SVG: axes, bands, curves, readings.

Colours stand in attributes, for what prints a page without its style sheet, and again by class in
that, for dark screens. No meaning hangs on a colour: bands differ in shade, the window is hatched,
and all is named below the picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape

from ..engine.elements import Floats
from ..report.plot import round_limits

WIDTH, HEIGHT = 480.0, 300.0
"""Of the picture. [unit]"""
LEFT, RIGHT, TOP, BOTTOM = 46.0, 12.0, 12.0, 40.0
"""Margins around the field. [unit]"""
INK, LINE, FAINT = "#1c1f23", "#5b6470", "#d5d9de"
_LONGEST = 40  # characters of names along the axis [count]
_PAINT = {
    "frame": {"fill": "none", "stroke": LINE, "stroke-width": "1"},
    "rule": {"fill": "none", "stroke": FAINT, "stroke-width": "1"},
    "worst": {"fill": "#eceef0", "stroke": "none"},
    "band": {"fill": "#c9ced5", "stroke": "none"},
    "curve": {"fill": "none", "stroke": INK, "stroke-width": "2"},
    "drawn": {"fill": "none", "stroke": INK, "stroke-width": "1.5", "stroke-dasharray": "2 4"},
    "now": {"fill": "none", "stroke": "#0b5cab", "stroke-width": "2.5"},
    "mark": {"fill": "#ffffff", "stroke": INK, "stroke-width": "1.6"},
    "error": {"fill": "none", "stroke": INK, "stroke-width": "1.2"},
    "spot": {"fill": "#0b5cab", "stroke": "#ffffff", "stroke-width": "1.5"},
    "limit": {"fill": "none", "stroke": "#8a3b12", "stroke-width": "1.4",
              "stroke-dasharray": "6 3"},
    "hatch": {"fill": "none", "stroke": "#0b5cab", "stroke-width": "1"},
    "label": {"fill": INK, "stroke": "none", "font-size": "12", "font-family": "sans-serif"},
}  # fmt: skip


def element(name: str, content: str | Markup = "", *, class_: str = "",
            **attributes: str | float) -> Markup:  # fmt: skip
    """One element, all of it escaped; a class brings its colours along.

    Parameters
    ----------
    name : str
        Of the element.
    content : str or Markup
        What is in it.
    class_ : str
        One of those that have colours; empty for none.
    **attributes : str or float
        The rest, with "_" for the "-" in their names.
    """
    named: dict[str, str | float] = {"class": class_, **_PAINT[class_]} if class_ else {}
    named |= {key.replace("_", "-"): value for key, value in attributes.items()}
    told = "".join(f' {key}="{escape(_text(value))}"' for key, value in named.items())
    return Markup(f"<{name}{told}>{escape(content)}</{name}>")


def _text(value: str | float) -> str:
    return number(value) if isinstance(value, float) else str(value)


def number(value: float) -> str:
    """A coordinate, to a hundredth of a unit."""
    return f"{round(value, 2) + 0.0:g}"


@dataclass(frozen=True)
class Scale:
    """Where travel and volts lie in the picture.

    Parameters
    ----------
    low, high, step : float
        Ends of the axis of volts, and what lies between its lines. [V]
    """

    low: float
    high: float
    step: float

    @classmethod
    def around(cls, volts: Sequence[Floats | float]) -> Scale:
        """One that holds some volts. [V]"""
        every = np.concatenate([np.ravel(v) for v in volts])
        return cls(*round_limits(float(np.min(every)), float(np.max(every))))

    def x(self, travel: float) -> float:
        """Of a position. [unit]"""
        return LEFT + travel * (WIDTH - LEFT - RIGHT)

    def y(self, v: float) -> float:
        """Of a voltage. [unit]"""
        share = (self.high - v) / (self.high - self.low)
        return TOP + share * (HEIGHT - TOP - BOTTOM)

    def points(self, travel: Floats, volts: Floats) -> str:
        """Of a line through the field, volts beyond its ends held there."""
        inside = np.clip(volts, self.low, self.high)
        return " ".join(f"{number(self.x(float(at)))},{number(self.y(float(v)))}"
                        for at, v in zip(travel, inside, strict=True))  # fmt: skip


def axes(scale: Scale, swept: Sequence[str]) -> Iterator[Markup]:
    """The frame with its lines and figures."""
    bottom = HEIGHT - BOTTOM
    for k in range(round((scale.high - scale.low) / scale.step) + 1):
        v = scale.low + k * scale.step
        y = scale.y(v)
        yield across("rule", y)
        yield text(f"{v + 0.0:g}", LEFT - 6, y + 4, "end")
    for tenth in (0, 25, 50, 75, 100):
        x = scale.x(tenth / 100)
        yield element("path", class_="rule", d=f"M{number(x)} {number(TOP)}V{number(bottom)}")
        anchor = "start" if tenth == 0 else "end" if tenth == 100 else "middle"
        yield text(f"{tenth} %", x, bottom + 15, anchor)
    yield element("rect", class_="frame", x=LEFT, y=TOP, width=WIDTH - LEFT - RIGHT,
                  height=bottom - TOP)  # fmt: skip
    names = shortened(" and ".join(swept))
    yield text(f"travel of {names}, clockwise" if names else "no pot", (LEFT + WIDTH - RIGHT) / 2,
               HEIGHT - 8, "middle")  # fmt: skip
    yield text("V", 6.0, TOP + 8, "start")


def shortened(name: str) -> str:
    """A name that may be too long for the picture."""
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 3]}..."


def across(kind: str, y: float) -> Markup:
    """A line across the field."""
    return element("path", class_=kind, d=f"M{number(LEFT)} {number(y)}H{number(WIDTH - RIGHT)}")


def text(words: str, x: float, y: float, anchor: str = "start", **more: str) -> Markup:
    """Words at a place."""
    return element("text", words, class_="label", x=x, y=y, text_anchor=anchor, **more)


def band(scale: Scale, kind: str, travel: Floats, low: Floats, high: Floats) -> Markup:
    """An area between two curves; `kind` is "band" or "worst"."""
    there = scale.points(travel, high)
    back = scale.points(travel[::-1], low[::-1])
    return element("polygon", class_=kind, points=f"{there} {back}")


def line(scale: Scale, kind: str, travel: Floats, volts: Floats, **more: str) -> Markup:
    """A curve; `kind` is "curve" or "now"."""
    return element("polyline", class_=kind, points=scale.points(travel, volts), **more)


def hatched(scale: Scale, low: float, high: float, name: str) -> Markup:
    """The stretch of volts that is wanted, hatched across the field."""
    top, bottom = scale.y(min(high, scale.high)), scale.y(max(low, scale.low))
    if bottom - top <= 0.0:
        return Markup("")
    clip = element("clipPath", element("rect", x=LEFT, y=top, width=WIDTH - LEFT - RIGHT,
                                       height=bottom - top), id=name)  # fmt: skip
    span = bottom - top
    strokes = "".join(f"M{number(x)} {number(bottom)}l{number(span)} {number(-span)}"
                      for x in np.arange(LEFT - span, WIDTH - RIGHT, 8.0))  # fmt: skip
    hatch = element("path", class_="hatch", d=strokes, clip_path=f"url(#{name})", opacity=0.35)
    return Markup("").join([clip, hatch, across("hatch", top), across("hatch", bottom)])


def reading(scale: Scale, travel: float, volts: float, errors: tuple[float, float],
            is_square: bool) -> Markup:  # fmt: skip
    """A reading with its limits of error, of the travel and of the volts."""
    x, y = scale.x(travel), scale.y(volts)
    dx, dy = scale.x(errors[0]) - scale.x(0.0), scale.y(0.0) - scale.y(errors[1])
    bars = (f"M{number(x - dx)} {number(y)}h{number(2 * dx)}"
            f"M{number(x)} {number(y - dy)}v{number(2 * dy)}")  # fmt: skip
    spot = (element("rect", class_="mark", x=x - 4.5, y=y - 4.5, width=9.0, height=9.0)
            if is_square else element("circle", class_="mark", cx=x, cy=y, r=5.0))  # fmt: skip
    return element("path", class_="error", d=bars) + spot


def picture(content: Sequence[Markup], title: str, description: str, name: str) -> Markup:
    """The whole picture, with a title and a description for who cannot see it.

    Parameters
    ----------
    content : sequence of Markup
        What is in it, from back to front.
    title, description : str
        In words.
    name : str
        Of its element, of which there is one on the page.
    """
    head = element("title", title, id=f"{name}-title") + element("desc", description,
                                                                 id=f"{name}-desc")  # fmt: skip
    return element(
        "svg", head + Markup("").join(content), id=name, role="img",
        viewBox=f"0 0 {number(WIDTH)} {number(HEIGHT)}",
        aria_labelledby=f"{name}-title", aria_describedby=f"{name}-desc",
    )  # fmt: skip
