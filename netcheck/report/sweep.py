"""A substitution box on paper, for the terminal: what it comes to first, then the table."""

from __future__ import annotations

from ..quantity import show_part
from ..substitution import LEAST, Knob, Substitution, Way, valve_groups, volts_wanted
from .sweepplot import sweep_plot
from .sweeptable import grid_table, valve_table
from .sweepverdict import remarks, verdicts
from .sweepwords import (
    V,
    bare_nodes,
    grids_of,
    head,
    is_moved,
    joined_blocks,
    label,
    milli,
    percent,
    title_of,
    volts,
)
from .tables import paragraph

__all__ = [
    "joined_blocks", "milli", "percent", "render_sweep", "sweep_outcome", "title_of", "volts",
]  # fmt: skip


def render_sweep(s: Substitution, why_not: str | None, plotted: bool = True) -> str:
    """The whole report of one knob, lines of at most 80 characters.

    Parameters
    ----------
    s : Substitution
        The sweep.
    why_not : str or None
        Why the part does not act on the grids; None if it does.
    plotted : bool
        Whether to draw curves.
    """
    blocks = [head(s), sweep_outcome(s, why_not)]
    if why_not is not None:
        return joined_blocks(blocks)
    groups = _moved(s)
    blocks += [valve_table(s, group) for group in groups]
    blocks += [grid_table(s, nodes) for nodes in bare_nodes(s)]
    if plotted and len(s.answered) > 2:
        blocks += [sweep_plot(s, grids_of(s, group), volts_wanted(s, group[0])) for group in groups]
        blocks += [sweep_plot(s, nodes, None) for nodes in bare_nodes(s)]
    blocks.append(remarks(s))
    return joined_blocks(blocks)


def sweep_outcome(s: Substitution, why_not: str | None) -> list[str]:
    """What it comes to; arguments as `render_sweep`."""
    if why_not is not None:
        return paragraph(f"{why_not}. {_tried(s.knob)}")
    return verdicts(s, _moved(s))


def _moved(s: Substitution) -> list[list[int]]:
    """Valves that are moved, those that are moved alike together."""
    return [group for group in valve_groups(s) if is_moved(s, group)]


def _tried(knob: Knob) -> str:
    """Which values were tried in vain."""
    way = "across it" if knob.way is Way.ACROSS else "in its place"
    tried = [value for value in knob.values if value is not None]
    low, high = label(knob, min(tried)), label(knob, max(tried))
    which = f"{low} {way} does not move" if low == high else (
        f"No value {way} from {low} to {high} moves")  # fmt: skip
    return f"{which} a grid by more than {show_part(LEAST, V)}."
