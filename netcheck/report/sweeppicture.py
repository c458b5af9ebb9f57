"""A substitution box as an SVG picture: grid volts and idle current over its values."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import numpy as np

from ..engine.elements import Floats
from ..substitution import Chart, Knob, Setting, Substitution, Way, valve_groups, volts_wanted
from .picture import BAND, drawn, plain
from .sweepwords import bare_nodes, grids_of, is_moved, label, names_of, valves_at

_STYLES = ("-", "--", ":", "-.")
_MARKS = ("o", "s", "^", "v", "D", "x", "+", "*")
_POSITIONS = (("anticlockwise", 0, "--"), ("middle", None, "-"), ("clockwise", -1, ":"))
_MOST = 24  # values that are named below a panel; of more, every second or third


def sweep_svg(s: Substitution | Chart) -> str:
    """The picture of a sweep: two panels for each kind of valve, one for a grid without.

    Returns
    -------
    str
        SVG, the same bytes for the same sweep.
    """
    panels: list[Callable[[Any], None]] = []
    for group in (group for group in valve_groups(s) if is_moved(s, group)):
        if isinstance(s, Chart):
            panels.append(functools.partial(_family, c=s, group=group))
            continue
        panels.append(functools.partial(_grid_panel, s=s, group=group))
        panels.append(functools.partial(_current_panel, s=s, group=group))
    for nodes in bare_nodes(s):
        if isinstance(s, Chart):
            panels.append(functools.partial(_family, c=s, group=[], nodes=nodes))
        else:
            panels.append(functools.partial(_node_panel, s=s, nodes=nodes))
    return drawn(plain(s.section.circuit.title) or "Substitution", panels)


def _ticks(axis: Any, knob: Knob, settings: list[float | None]) -> None:
    step = -(-len(settings) // _MOST)
    picks = range(0, len(settings), step)
    axis.set_xticks(list(picks), [label(knob, settings[n]) for n in picks], rotation=60,
                    fontsize=8)  # fmt: skip
    axis.set_xlabel(_way(knob))
    axis.grid(True, color="0.6", linewidth=0.4)


def _way(knob: Knob) -> str:
    way = "across" if knob.way is Way.ACROSS else "in place of"
    return f"{way} {plain(knob.part.name)}"


def _curves(axis: Any, s: Substitution, values: Floats) -> None:
    """Three positions of the pot; `values` of shape (settings, positions)."""
    at = np.arange(values.shape[0])
    for name, n, style in _POSITIONS if s.swept else _POSITIONS[1:2]:
        place = s.middle if n is None else n
        axis.plot(at, values[:, place], style, color="black", marker=".", linewidth=1.1,
                  label=name if s.swept else None)  # fmt: skip


def _values(s: Substitution) -> list[float | None]:
    return [one.values[0] for one in s.answered]


def _legend(axis: Any) -> None:
    if axis.get_legend_handles_labels()[0]:
        axis.legend(frameon=False, fontsize=9, loc="upper left", bbox_to_anchor=(1.0, 1.0))


def _listed(names: list[str]) -> str:
    return ", ".join(plain(name) for name in names)


def _grid_panel(axis: Any, s: Substitution, group: list[int]) -> None:
    wanted = volts_wanted(s, group[0])
    if wanted is not None:
        axis.axhspan(*wanted, color=BAND, linewidth=0, label="wanted")
    _node_panel(axis, s, grids_of(s, group))


def _node_panel(axis: Any, s: Substitution, nodes: list[str]) -> None:
    column = s.section.watched.index(nodes[0])
    _curves(axis, s, np.array([one.mean[:, column] for one in s.answered]))
    axis.set_ylabel(f"{_listed(nodes)} against ground, V")
    _ticks(axis, s.knob, _values(s))
    _legend(axis)


def _current_panel(axis: Any, s: Substitution, group: list[int]) -> None:
    valves = [valves_at(one)[group[0]] for one in s.answered]
    _curves(axis, s, np.array([1e3 * valve.idle.i_cathode for valve in valves]))
    axis.set_ylabel(f"cathode of {_listed([names_of(s, group)])}, mA")
    _ticks(axis, s.knob, _values(s))
    _legend(axis)


def _family(axis: Any, c: Chart, group: list[int], nodes: list[str] | None = None) -> None:
    """One curve for each value of the second knob, at mid-travel."""

    def height(one: Setting) -> float:
        if one.trouble:
            return float("nan")
        if nodes is not None:
            return float(one.mean[c.middle, c.section.watched.index(nodes[0])])
        return 1e3 * float(valves_at(one)[group[0]].idle.i_cathode[c.middle])

    at = np.arange(len(c.rows.values))
    for b, value in enumerate(c.columns.values):
        heights = [height(c.at(a, b)) for a in range(at.size)]
        axis.plot(at, heights, _STYLES[b % len(_STYLES)], marker=_MARKS[b % len(_MARKS)],
                  color="black", markersize=4, linewidth=0.9, markerfacecolor="white",
                  label=label(c.columns, value))  # fmt: skip
    what = (f"cathode of {_listed([names_of(c, group)])}, mA" if nodes is None
            else f"{_listed(nodes)} against ground, V")  # fmt: skip
    axis.set_ylabel(what + (", at mid-travel" if c.swept else ""))
    _ticks(axis, c.rows, list(c.rows.values))
    axis.legend(frameon=False, fontsize=8, loc="upper left", bbox_to_anchor=(1.0, 1.0),
                title=_way(c.columns), title_fontsize=8)  # fmt: skip
