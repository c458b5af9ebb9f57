"""From rows and columns to lengths, so that nothing that is drawn or written meets anything."""

from __future__ import annotations

from collections.abc import Iterator

from ..netlist import GROUND
from .captions import Line, node_lines
from .columns import settle_columns
from .fit import fit, root_fit
from .measured import ARROW_LENGTH, LEAD, Label, Spaced, drawn_stops, stops_of
from .notes import Notes
from .plan import Plan
from .rows import Rows
from .symbols import WIPER


def spaced(plan: Plan, notes: Notes, spread: float = 1.0) -> Spaced:
    """Measure a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    notes : Notes
        What is written into it.
    spread : float
        Factor by which gaps are larger than need be. [1]
    """
    found = Spaced(plan)
    for place in plan.places:
        if not place.root_rows:
            found.fits[place] = fit(place, notes)
    found.labels = list(_labels(plan, notes))
    Rows(found, spread).settle()
    for place in plan.places:
        if place.root_rows:
            middle, stops = stops_of(place)
            found.middles[place] = middle
            found.fits[place] = root_fit(place, notes, stops)
            found.sides[place] = [y for y, row in drawn_stops(place)[:-1] if row is None]
    settle_columns(found, spread)
    return found


# ------------------------------------------------------------------------------ labels


def _labels(plan: Plan, notes: Notes) -> Iterator[Label]:
    """Where the label of each node stands: once, above a run if there is room."""
    for node in dict.fromkeys(run.node for run in plan.runs):
        if node == GROUND:
            continue  # a source with no other node
        lines = node_lines(node, notes)
        arrow = next((a for a in plan.arrows if a.node == node and a.angle != 180), None)
        runs = plan.runs_of(node)
        settled = next((run for run in runs if run.label is not None), None)
        if settled is not None and settled.label is not None:
            yield Label(node, settled.row, settled.label, lines, True)
        elif arrow is not None:
            down = arrow.angle == 90
            yield Label(node, arrow.row, arrow.column, lines, False,
                        4.0 if down else ARROW_LENGTH, LEAD + 8.0 if down else 0.0)  # fmt: skip
        else:
            yield _hung(plan, node, lines)


def _hung(plan: Plan, node: str, lines: list[Line]) -> Label:
    """The label of a node that hangs below another: above its run, or beside it."""
    runs = [run for run in plan.runs_of(node) if run.first <= run.last] or plan.runs_of(node)
    run = runs[-1]
    order = plan.order(run.row)
    for column in range(run.last, run.first - 1 + run.is_walled, -1):
        if not any(a < order <= b for a, b in plan.uprights(column)):
            return Label(node, run.row, column, lines, True)
    column = max(run.first, run.last)
    at_wiper = run.is_walled and column == run.first
    return Label(node, run.row, column, lines, False, float(WIPER) if at_wiper else 0.0)
