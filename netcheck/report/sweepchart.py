"""Two knobs against each other, for the terminal: a chart with a value in each cell."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ..substitution import Chart, Setting, Way, valve_groups
from ..valvetravel import ValveTravel, Verdict
from .findings import WIDTH
from .sweepverdict import chart_verdicts, remarks
from .sweepwords import (
    bare_nodes,
    head,
    is_moved,
    items,
    joined_blocks,
    marked,
    milli,
    names_of,
    together,
    valves_at,
    volts,
)
from .tables import paragraph, table

SHOWN = ("idle", "grid", "window")
"""What a chart can show in its cells."""

_WHAT = {"idle": "cathode current, mA", "grid": "grid, V against ground"}
_WINDOW = "where in the travel the middle of the window falls, %"
_NAME = 10  # characters of a part's name in the corner of a chart


def render_chart(c: Chart, why_not: Mapping[str, str], shown: str) -> str:
    """The whole report of two knobs, lines of at most 80 characters.

    Parameters
    ----------
    c : Chart
        The sweep.
    why_not : mapping of part name to str
        Why parts do not act on the grids; empty if both do.
    shown : str
        One of `SHOWN`: what stands in the cells.
    """
    blocks = [head(c), *_outcomes(c, why_not)]
    if len(why_not) == 2:
        return joined_blocks(blocks)
    groups = _moved(c)
    blocks += [_of_valves(c, group, shown) for group in groups]
    blocks += [_of_grids(c, nodes) for nodes in bare_nodes(c)]
    blocks.append(remarks(c))
    return joined_blocks(blocks)


def chart_outcome(c: Chart, why_not: Mapping[str, str]) -> list[str]:
    """What it comes to; arguments as `render_chart`."""
    return [line for block in _outcomes(c, why_not) for line in block]


def _outcomes(c: Chart, why_not: Mapping[str, str]) -> list[list[str]]:
    blocks = [paragraph(f"{text}.") for text in why_not.values()]
    return blocks if len(why_not) == 2 else [*blocks, chart_verdicts(c, _moved(c))]


def _moved(c: Chart) -> list[list[int]]:
    """Valves that are moved, those that are moved alike together."""
    return [group for group in valve_groups(c) if is_moved(c, group)]


def _where(c: Chart) -> str:
    return f" at mid-travel of {together(c)}" if c.swept else ""


def _of_valves(c: Chart, group: list[int], shown: str) -> list[str]:
    """A chart for valves that do the same."""
    k = group[0]
    first = valves_at(c.answered[0])[k]
    column = c.section.watched.index(first.valve.grid)

    def cell(one: Setting) -> str:
        if one.trouble:
            return "?  "
        valve = valves_at(one)[k]
        if shown == "grid":
            text = volts(one.mean[c.middle, column])
        elif shown == "window":
            text = _window(c, valve)
        else:
            text = milli(valve.idle.i_cathode[c.middle])
        return f"{text}{'*' if valve.inside is not None else ' '}" + (
            "!" if valve.over is not None else " ")  # fmt: skip

    what = _WINDOW if shown == "window" else _WHAT[shown] + _where(c)
    return [*paragraph(f"{names_of(c, group)} ({first.idling.type.name}): {what}"),
            *_table(c, _texts(c, cell)), *items(_footnotes(c, k, shown))]  # fmt: skip


def _window(c: Chart, valve: ValveTravel) -> str:
    """Where the middle of the window falls, or what stands in its place."""
    if valve.middle is not None and c.swept:
        return f"{valve.middle * 100:.0f}"
    if valve.inside is not None:
        return "edge" if c.swept else "met"
    return {Verdict.COLD: "cold", Verdict.HOT: "hot"}.get(valve.verdict, "skip")


def _footnotes(c: Chart, k: int, shown: str) -> list[str]:
    """What the signs in a chart mean."""
    valves = [valves_at(one)[k] for one in c.answered]
    foot = []
    if any(valve.inside is not None for valve in valves):
        foot.append("* the window can be set" if c.swept else "* the window is met")
    if any(valve.over is not None for valve in valves):
        foot.append("! the pot can over-run the valve" if c.swept else "! beyond the limit")
    if shown == "window" and any(_window(c, valve) == "edge" for valve in valves):
        foot.append("edge: part of the window only")
    return foot + _general(c)


def _general(c: Chart) -> list[str]:
    foot = ["= as fitted"] if Way.IN_PLACE in (c.rows.way, c.columns.way) else []
    return foot + (["? no answer"] if len(c.answered) < len(c.settings) else [])


def _of_grids(c: Chart, nodes: list[str]) -> list[str]:
    """A chart for grids or wipers without a valve that can be modelled."""
    column = c.section.watched.index(nodes[0])

    def cell(one: Setting) -> str:
        return "?" if one.trouble else volts(one.mean[c.middle, column])

    return [*paragraph(f"{', '.join(nodes)}: V against ground{_where(c)}"),
            *_table(c, _texts(c, cell)), *items(_general(c))]  # fmt: skip


def _texts(c: Chart, cell: Callable[[Setting], str]) -> list[list[str]]:
    columns = range(len(c.columns.values))
    return [[cell(c.at(a, b)) for b in columns] for a in range(len(c.rows.values))]


def _table(c: Chart, texts: list[list[str]]) -> list[str]:
    """The cells, in several tables where one would be too wide."""
    heads = [marked(c.columns, value) for value in c.columns.values]
    sides = [marked(c.rows, value) for value in c.rows.values]
    corner = f"{c.rows.part.name[:_NAME]} \\ {c.columns.part.name[:_NAME]}"
    side = max(len(text) for text in (corner, *sides))
    width = max(len(text) for row in [heads, *texts] for text in row) + 2
    room = max(1, (WIDTH - side) // width)
    lines: list[str] = []
    for start in range(0, len(heads), room):
        stop = start + room
        if lines:
            lines.append("")
        part = [[name, *row[start:stop]] for name, row in zip(sides, texts, strict=True)]
        lines += table([corner, *heads[start:stop]], part)
    return lines
