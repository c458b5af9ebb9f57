"""What the symbols of a schematic look like, as paths of SVG.

The shapes are those of schemdraw's elements (rectangles for resistors and so on, as in IEC 60617).
Only their segments are used, and written by `schematic`: the library's own SVG has no classes or
data attributes that a page could refer to, fixes its colours, and holds a `stroke-dasharray:-`
that strict renderers refuse. Nothing of matplotlib is needed for that, so it is not loaded, which
would take twenty times as long as a drawing.
"""

from __future__ import annotations

import functools
import math
import sys
from collections.abc import Iterable, Iterator, Sequence
from types import ModuleType
from typing import Any

from ..schematic import Symbol

Point = tuple[float, float]
_PLOTTER = "schemdraw.backends.mpl"
_TURN = 10.0  # height of a turn of a winding [unit]
_SCALE = 36.0  # of an element [unit]


@functools.cache
def _elements() -> ModuleType:
    """The library's elements, loaded without its way of plotting by matplotlib."""
    is_loaded = _PLOTTER in sys.modules
    if not is_loaded:
        sys.modules[_PLOTTER] = None  # type: ignore[assignment]  # an import fails, as is foreseen
    try:
        from schemdraw import elements  # noqa: PLC0415
    finally:
        if not is_loaded:
            del sys.modules[_PLOTTER]
    module: ModuleType = elements
    return module


def paths(symbol: Symbol) -> list[str]:
    """The lines of a symbol at angle 0, its middle the origin, leads included.

    Returns
    -------
    list of str
        Each the data of an SVG path; the outline of what is filled ends in "Z".
    """
    if symbol.shape == "winding":
        return list(_winding(symbol.stops))
    if symbol.shape in _MADE:
        return list(_MADE[symbol.shape]())
    return list(_PLAIN[symbol.shape]())


# ----------------------------------------------------------------- elements of schemdraw


def _number(value: float) -> str:
    return f"{round(value, 2) + 0.0:g}"


def _line(points: Sequence[Point], closed: bool = False) -> str:
    data = "L".join(f"{_number(x)} {_number(y)}" for x, y in points)
    return f"M{data}{'Z' if closed else ''}"


def _circle(x: float, y: float, r: float) -> str:
    return (f"M{_number(x - r)} {_number(y)}a{_number(r)} {_number(r)} 0 1 0 {_number(2 * r)} 0"
            f"a{_number(r)} {_number(r)} 0 1 0 {_number(-2 * r)} 0")  # fmt: skip


def _drawn(element: Any, scale: float, x: float, y: float = 0.0) -> Iterator[str]:
    """The segments of an element, its own origin at a point, y downwards."""

    def at(point: Sequence[float]) -> Point:
        return x + scale * point[0], y - scale * point[1]

    for segment in element.segments:
        name = type(segment).__name__
        if name == "SegmentCircle":
            yield _circle(*at(segment.center), scale * segment.radius)
        elif name == "SegmentPoly" and segment.cornerradius:
            xs, ys = [v[0] for v in segment.verts], [v[1] for v in segment.verts]
            middle = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
            yield _circle(*at(middle), scale * segment.cornerradius)
        elif name == "SegmentPoly":
            yield _line([at(v) for v in segment.verts], closed=True)
        elif name == "Segment" and segment.arrow is None:
            yield from _pieces([at(p) for p in segment.path])


def _pieces(points: Iterable[Point]) -> Iterator[str]:
    """The stretches of a path between its gaps."""
    piece: list[Point] = []
    for point in [*points, (math.nan, math.nan)]:
        if not math.isnan(point[0]):
            piece.append(point)
            continue
        if len(set(piece)) > 1:
            yield _line(piece)
        piece = []


def _leads(start: float, end: float) -> Iterator[str]:
    """Leads from both terminals to a body between two places."""
    yield _line([(-30.0, 0.0), (start, 0.0)])
    yield _line([(end, 0.0), (30.0, 0.0)])


def _resistor() -> Iterator[str]:
    yield from _leads(-18.0, 18.0)
    yield from _drawn(_elements().ResistorIEC(), _SCALE, -_SCALE / 2)


def _pot() -> Iterator[str]:
    yield from _resistor()
    yield _line([(0.0, -20.0), (0.0, -15.0)])
    yield _line([(-3.5, -17.0), (3.5, -17.0), (0.0, -9.5)], closed=True)


def _capacitor() -> Iterator[str]:
    scale = 46.0  # a gap and plates that are seen in a small print
    half = 0.09 * scale
    yield from _leads(-half, half)
    yield from _drawn(_elements().Capacitor(), scale, -half)


def _plus(x: float, y: float) -> Iterator[str]:
    yield _line([(x - 3.0, y), (x + 3.0, y)])
    yield _line([(x, y - 3.0), (x, y + 3.0)])


def _electrolytic() -> Iterator[str]:
    yield from _capacitor()
    yield from _plus(-9.5, -9.5)


def _diode() -> Iterator[str]:
    yield from _leads(-6.3, 6.3)
    yield from _drawn(_elements().Diode(), _SCALE, -6.3)


def _zener() -> Iterator[str]:
    scale = 30.0
    yield from _leads(-5.25, 5.25)
    yield from _drawn(_elements().Zener(), scale, -5.25)


def _supply() -> Iterator[str]:
    scale = 32.0
    yield from _leads(-3.0, 3.0)
    yield from _drawn(_elements().BatteryCell(), scale, -3.0)
    yield from _plus(-9.5, -9.0)


def _tremolo() -> Iterator[str]:
    yield from _leads(-15.0, 15.0)
    yield from _drawn(_elements().SourceSin(), 30.0, -15.0)


def _link() -> Iterator[str]:
    yield from _leads(-15.0, 15.0)
    yield _circle(-12.5, 0.0, 2.5)
    yield _circle(12.5, 0.0, 2.5)
    yield _line([(-12.5, -2.5), (12.5, -2.5)])


def _valve() -> Iterator[str]:
    scale = 25.0
    top = 0.875 * scale
    tube = _elements().VacuumTube(grids=1, heater=False)
    yield from _drawn(tube, scale, 0.0, -top)
    yield _line([(-30.0, 0.0), (-0.35 * scale, 0.0)])
    yield _line([(0.0, -31.0), (0.0, -top)])
    left, bottom = tube.anchors["cathode"]
    yield _line([(left * scale, -top - bottom * scale), (left * scale, 31.0)])


def _winding(stops: Sequence[float]) -> Iterator[str]:
    """A winding with its core: as many turns as there is room for."""
    start, end = min(stops) + 8.0, max(stops) - 8.0
    turns = max(2, round((end - start) / _TURN))
    radius = (end - start) / turns / 2
    arcs = "".join(f"a{_number(radius)} {_number(5.0)} 0 0 0 {_number(2 * radius)} 0"
                   for _ in range(turns))  # fmt: skip
    yield f"M{_number(min(stops))} 0H{_number(start)}{arcs}H{_number(max(stops))}"
    yield _line([(start, 9.0), (end, 9.0)])
    yield _line([(start, 12.0), (end, 12.0)])
    for stop in stops[1:-1]:
        yield _line([(stop, 0.0), (stop, -10.0)])


def _ground() -> Iterator[str]:
    # Drawn with its lead upwards at angle 90: x runs downwards here.
    yield _line([(0.0, 0.0), (7.0, 0.0)])
    for segment in _elements().Ground(lead=False).segments:
        turned = [(7.0 - _SCALE * y, _SCALE * x) for x, y in segment.path]
        yield from _pieces(turned)


def _arrow() -> Iterator[str]:
    yield _line([(0.0, 0.0), (10.0, 0.0)])
    yield _line([(8.0, -4.5), (15.0, 0.0), (8.0, 4.5)], closed=True)


_PLAIN = {
    "resistor": _resistor,
    "pot": _pot,
    "capacitor": _capacitor,
    "electrolytic": _electrolytic,
    "diode": _diode,
    "zener": _zener,
    "supply": _supply,
    "tremolo": _tremolo,
    "valve": _valve,
}
_MADE = {"link": _link, "ground": _ground, "arrow": _arrow}
