"""The table of a sweep: a row for each value, the ends and the middle of the travel."""

from __future__ import annotations

from ..quantity import show, show_part
from ..substitution import Setting, Substitution, Way
from ..valvetravel import ValveTravel, Verdict
from .sweepwords import (
    OHM,
    WATT,
    items,
    marked,
    milli,
    names_of,
    percent,
    together,
    valves_at,
    volts,
)
from .tables import paragraph, table

_NAME = 12  # characters of a part's name at the head of a column
_NO_ANSWER = "no answer"


def valve_table(s: Substitution, group: list[int]) -> list[str]:
    """Grid volts, cathode current and dissipation of valves that do the same.

    Parameters
    ----------
    s : Substitution
        The sweep.
    group : list of int
        The valves, by their place.
    """
    k, picks = group[0], positions(s)
    first = valves_at(s.answered[0])[k]
    column = s.section.watched.index(first.valve.grid)
    figures = [["grid V", "mA", "%"] * len(picks)]
    for one in s.answered:
        valve = valves_at(one)[k]
        for_each = [
            (volts(one.mean[n, column]), milli(valve.idle.i_cathode[n]),
             f"{valve.idle.p_plate[n] / valve.limit * 100:.0f}")
            for n in picks
        ]  # fmt: skip
        figures.append([text for three in for_each for text in three])
    head, *cells = _in_threes(figures)
    following = iter(cells)
    rows = [
        [*_lead(s, one), *[_NO_ANSWER] * len(picks), ""] if one.trouble
        else [*_lead(s, one), *next(following), _where(s, valves_at(one)[k])]
        for one in s.settings
    ]  # fmt: skip
    over = f", over the travel of {together(s)}" if s.swept else ""
    lines = paragraph(f"{names_of(s, group)} ({first.idling.type.name}): grid, cathode current, "
                      f"share of {show_part(first.limit, WATT)}{over}")  # fmt: skip
    lines += _under_positions(s, [*_lead_head(s), *head, "window"], rows)
    return lines + items(_footnotes(s, k))


def positions(s: Substitution) -> list[int]:
    """The ends and the middle of the travel, by their place."""
    return sorted({0, s.middle, s.travel.size - 1})


def _footnotes(s: Substitution, k: int) -> list[str]:
    """What the signs in a table mean."""
    foot = ["window: where in the travel it lies, %"] if s.swept else []
    if any(valves_at(one)[k].over is not None for one in s.answered):
        foot.append("! the pot can over-run the valve" if s.swept else "! beyond the limit")
    return foot + _fitted(s)


def _fitted(s: Substitution) -> list[str]:
    return ["= as fitted"] if s.knob.way is Way.IN_PLACE else []


def _lead(s: Substitution, one: Setting) -> list[str]:
    """The first cells of a row: the value, and what the part acts as with it."""
    value = one.values[0]
    acts = s.knob.acts_as(value)
    cell = marked(s.knob, value)
    return [cell] if acts is None else [cell, show(acts, OHM)]


def _lead_head(s: Substitution) -> list[str]:
    if s.knob.way is Way.IN_PLACE:
        return [s.knob.part.name[:_NAME]]
    return ["across"] if s.knob.acts_as(None) is None else ["across", "acts as"]


def _in_threes(figures: list[list[str]]) -> list[list[str]]:
    """Rows of texts with each three made one, set below each other."""
    widths = [max(len(text) for text in column) for column in zip(*figures, strict=True)]
    rows = [[text.rjust(width) for text, width in zip(row, widths, strict=True)] for row in figures]
    return [[" ".join(row[k : k + 3]) for k in range(0, len(row), 3)] for row in rows]


def _under_positions(s: Substitution, head: list[str], rows: list[list[str]]) -> list[str]:
    """A table with the positions of the pot in a line above the columns that go with them."""
    lead = len(_lead_head(s))
    widths = [max(len(cell) for cell in column) for column in zip(head, *rows, strict=True)]
    before = sum(widths[:lead]) + 2 * lead
    above = "  ".join(f"at {percent(s.travel[n])}".rjust(widths[lead + k])
                      for k, n in enumerate(positions(s)))  # fmt: skip
    return [*([(" " * before + above).rstrip()] if s.swept else []), *table(head, rows)]


def _where(s: Substitution, valve: ValveTravel) -> str:
    """Where in the travel the window lies, or what stands in its place."""
    mark = "!" if valve.over is not None else " "
    if valve.inside is None:
        word = {Verdict.COLD: "too cold", Verdict.HOT: "too hot"}.get(valve.verdict, "skipped")
        return word + mark
    if not s.swept:
        return "met" + mark
    low, high = (f"{at * 100:.0f}" for at in valve.inside)
    return (low if low == high else f"{low}-{high}") + mark


def grid_table(s: Substitution, nodes: list[str]) -> list[str]:
    """Volts of grids or wipers that do the same and have no valve that can be modelled."""
    column = s.section.watched.index(nodes[0])
    picks = positions(s)
    rows = []
    for one in s.settings:
        shown = [_NO_ANSWER if one.trouble else volts(one.mean[n, column]) for n in picks]
        rows.append([*_lead(s, one), *shown])
    head = ["V"] if not s.swept else [f"at {percent(s.travel[n])}" for n in picks]
    over = f", over the travel of {together(s)}" if s.swept else ""
    return [*paragraph(f"{', '.join(nodes)}: V against ground{over}"),
            *table([*_lead_head(s), *head], rows), *_fitted(s)]  # fmt: skip
