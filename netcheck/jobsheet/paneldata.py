"""What the page's live panel is given: every value computed beforehand, packed as whole numbers.

A series holds one quantity at every position of the pot. Neighbouring values differ by nearly the
same step, so that second differences make the shortest text: `[4, 1, 0, -1]` stands for 4, 5, 6, 6.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..engine.elements import Floats
from ..idling import Idle
from ..netlist import GROUND, Pot, Resistor
from ..preferred import parallel
from ..quantity import Dimension, show, show_part
from ..roles import roles
from .turned import Turn, Turned

STEPS = {"V": 1e-4, "A": 1e-7, "W": 1e-5}
"""What one step of a packed series is worth, by its unit. [SI unit]"""
_ALIKE = {"V": 2e-4, "A": 1e-7, "W": 1e-5}  # series that differ by less are one [SI unit]


def pack(values: Floats, step: float) -> list[int]:
    """Values as whole steps: the first, the first difference, then second differences.

    Parameters
    ----------
    values : array, shape (n,)
        The values. [SI unit]
    step : float
        What one step is worth. [SI unit]
    """
    whole = np.rint(values / step).astype(int)
    first = np.diff(whole, prepend=0)
    return [int(x) for x in np.concatenate([first[:1], first[1:2], np.diff(first[1:])])]


@dataclass(frozen=True)
class _Column:
    """A quantity with its values in every state.

    Parameters
    ----------
    unit : str
        "V", "A" or "W".
    base : array, shape (positions,)
        As it is. [SI unit]
    turns : list of array, shape (values, positions)
        By turn. [SI unit]
    """

    unit: str
    base: Floats
    turns: list[Floats]

    def is_like(self, other: _Column) -> bool:
        """Whether another one shows the same in every state."""
        if self.unit != other.unit:
            return False
        pairs = zip([self.base, *self.turns], [other.base, *other.turns], strict=True)
        return all(np.abs(a - b).max(initial=0.0) < _ALIKE[self.unit] for a, b in pairs)


def panel_data(found: Turned) -> dict[str, Any]:
    """All that the panel shows.

    Parameters
    ----------
    found : Turned
        What was computed.
    """
    p = found.prediction
    table = _Table()
    at_node = {node: table.place(_of_node(found, k)) for k, node in enumerate(found.nodes)}
    valves = [
        {
            "name": one.valve.name,
            "type": one.idling.type.name,
            "grid": at_node[one.valve.grid],
            "current": table.place(_of_valve(found, k, "A")),
            "power": table.place(_of_valve(found, k, "W")),
            "limit": one.limit,
            "low": one.window[0],
            "high": one.window[1],
        }
        for k, one in enumerate(p.valves.valves)
    ]
    return {
        "travel": [round(100.0 * float(at), 3) for at in p.travel],
        "pots": list(p.swept),
        "nodes": {node: k for node, k in at_node.items() if node != GROUND},
        "grids": _grids(found, at_node),
        "valves": _joined(valves),
        "steps": [STEPS[column.unit] for column in table.columns],
        "base": [pack(column.base, STEPS[column.unit]) for column in table.columns],
        "turns": [_turn(found, k, turn, table) for k, turn in enumerate(found.turns)],
    }


class _Table:
    """The distinct quantities."""

    def __init__(self) -> None:
        self.columns: list[_Column] = []

    def place(self, column: _Column) -> int:
        """Where a quantity stands; one that another is like, where that does. [count]"""
        for k, other in enumerate(self.columns):
            if other.is_like(column):
                return k
        self.columns.append(column)
        return len(self.columns) - 1


def _of_node(found: Turned, k: int) -> _Column:
    return _Column("V", found.base[:, k], [turn.v[:, :, k] for turn in found.turns])


def _of_valve(found: Turned, k: int, unit: str) -> _Column:
    def of(idle: Idle) -> Floats:
        return idle.i_cathode if unit == "A" else idle.p_plate

    return _Column(unit, of(found.valves[k]), [of(turn.valves[k]) for turn in found.turns])


def _grids(found: Turned, at_node: dict[str, int]) -> list[dict[str, Any]]:
    """The grids, those that are alike in every state together."""
    groups: dict[int, list[str]] = {}
    for node in found.prediction.watched:
        groups.setdefault(at_node[node], []).append(node)
    return [{"names": names, "series": k} for k, names in groups.items()]


def _joined(valves: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Valves that show the same in every state, together."""
    groups: list[dict[str, Any]] = []
    for one in valves:
        rest = {name: value for name, value in one.items() if name != "name"}
        for group in groups:
            if all(group[name] == value for name, value in rest.items()):
                group["names"].append(one["name"])
                break
        else:
            groups.append({"names": [one["name"]], **rest})
    return groups


def _turn(found: Turned, k: int, turn: Turn, table: _Table) -> dict[str, Any]:
    return {
        "parts": list(turn.parts),
        "label": _label(found, turn),
        "across": turn.is_across,
        "home": turn.home,
        "values": [
            {"text": text, "series": None if value is None else [
                pack(column.turns[k][row], STEPS[column.unit]) for column in table.columns]}
            for row, (value, text) in enumerate(zip(turn.values, _texts(found, turn), strict=True))
        ],
    }  # fmt: skip


def part_names(names: Sequence[str]) -> str:
    """Parts that are turned together: "R3", "each of R51 to R54"."""
    if len(names) == 1:
        return names[0]
    return f"each of {names[0]} to {names[-1]}" if len(names) > 2 else f"both {' and '.join(names)}"


def _label(found: Turned, turn: Turn) -> str:
    """For the list of parts: "R3, foot, 27k"."""
    role = roles(found.prediction.section).get(turn.parts[0])
    told = [part_names(turn.parts), role.word if role else "", show_part(turn.fitted)]
    return ", ".join(filter(None, told))


def _texts(found: Turned, turn: Turn) -> Iterator[str]:
    """What is turned, for each value: "82k across R3, together 20.3k"."""
    names = part_names(turn.parts)
    part = found.prediction.section.circuit.part(turn.parts[0])
    ends = "the ends of " if isinstance(part, Pot) else ""
    for value in turn.values:
        if turn.is_across and value is None:
            yield f"nothing across {ends}{names}, {show_part(turn.fitted)} alone"
        elif turn.is_across and value is not None:
            both = show(parallel(turn.fitted, value), Dimension.OHM)
            yield f"{show_part(value)} across {ends}{names}, together {both}"
        elif value is None:
            yield f"{show_part(turn.fitted)} as {names}, as drawn"
        else:
            kind = "" if isinstance(part, Resistor) else " pot"
            yield f"{show_part(value)}{kind} as {names}, instead of {show_part(turn.fitted)}"
