"""What to do, on the page: the ways side by side, and the first one in full."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..assumed import mains_tolerance
from ..quantity import Dimension, show, show_part
from ..remedy.aim import Mark
from ..remedy.figures import Figures
from ..remedy.option import Option
from ..remedy.ratings import Buy
from ..remedy.samples import matching
from ..remedy.study import Remedies
from ..remedy.ways import Way
from ..remedy.words import effort_words, listed, short_words, way_words
from .tables import AMPERE, WATT, Group, Table, V, percent, table

_MOST = 6  # ways that are shown [count]
_SAME = 0.02  # grids nearer to each other are one [V]


def done(option: Option) -> Way:
    """What an option does."""
    assert option.way is not None, "an option that does something"
    return option.way


def ways_table(found: Remedies) -> Table:
    """The section as it is and the best ways, a row each."""
    rows = [] if found.as_is is None else [["as it is", "", *_cells(found, found.as_is), ""]]
    for number, option in enumerate(found.options[:_MOST], start=1):
        what = short_words(found.start.drawn, done(option), option.before)
        power = max((one.power for one in option.buys), default=None)
        rows.append([f"{number}. {what}", effort_words(done(option)), *_cells(found, option),
                     "" if power is None else show_part(power, WATT)])  # fmt: skip
    head = ("way", "work", "window" if found.pots else "grid", "hot end", "worst case",
            "per 10 %" if found.pots else "", "rating")  # fmt: skip
    return table("Ways side by side", head, rows, left=2, note=_note(found))


def _note(found: Remedies) -> str:
    said = []
    if any(mark.law is not None for mark in found.goal.marks):
        whose = "the hottest valve, as measured" if found.samples else "an average valve"
        said.append(f"Hot end: dissipation there of {whose}, of its limit; worst case: the same "
                    f"with every part at a limit of its tolerance{_mains(found)}.")  # fmt: skip
    if found.pots:
        said.append("Per 10 %: change in a tenth of the travel, at the window.")
    more = len(found.options) - _MOST
    if more > 0:
        said.append(f"{more} more {'are' if more > 1 else 'is'} not shown.")
    return " ".join(said)


def _mains(found: Remedies) -> str:
    mains = found.start.drawn.mains
    if mains is None or found.goal.mains_high <= 1.0:
        return ""
    return f" and the mains {percent(mains_tolerance(mains))} high"


def _cells(found: Remedies, option: Option) -> list[str]:
    """Where the window falls, the hot end, and how coarse the pot is."""
    figures = option.figures
    window = "missed"
    if not found.pots:
        window = show(figures.falls[0].v_most, V)
    elif figures.inside is not None and figures.middle is not None:
        low, high = figures.inside
        window = f"{low * 100:.0f} to {high * 100:.0f} %"
    most, worst = figures.share_most, figures.share_worst
    return [window, "" if most is None else percent(most), "" if worst is None else percent(worst),
            _step(figures)]  # fmt: skip


def _step(figures: Figures) -> str:
    fall = max(figures.falls, key=lambda one: one.steepness)
    if fall.i_per_tenth is not None:
        return show(abs(fall.i_per_tenth), AMPERE, 2)
    return "" if fall.v_per_tenth is None else show(abs(fall.v_per_tenth), V, 2)


def change_table(found: Remedies, option: Option) -> Table:
    """Grid and idle current at the ends and in the middle of the travel, before and after."""
    last = option.travel.size - 1
    groups = []
    for marks in _alike(option):
        rows = []
        for k in sorted({0, last // 2, last}):
            at = f"{option.travel[k] * 100:.0f} %" if found.pots else "no pot"
            rows.append([at, *_at(found.as_is, marks[0], k), *_at(option, marks[0], k)])
        groups.append(Group(rows, ", ".join(mark.name for mark in marks)))
    head = (listed(found.pots) or "travel", "grid now", "idle now", "of limit", "grid then",
            "idle then", "of limit")  # fmt: skip
    return Table(f"Before and after: {way_words(found.start.drawn, done(option), option.before)}",
                 head, groups)  # fmt: skip


def _alike(option: Option) -> list[list[Mark]]:
    """Marks that want the same of the same grid voltages, together."""
    groups: list[list[Mark]] = []
    for mark in (fall.mark for fall in option.figures.falls):
        for group in groups:
            other = group[0]
            apart = abs(option.v_grids[:, mark.column] - option.v_grids[:, other.column]).max()
            if apart < _SAME and abs(mark.v_middle - other.v_middle) < _SAME:
                group.append(mark)
                break
        else:
            groups.append([mark])
    return groups


def _at(option: Option | None, mark: Mark, k: int) -> list[str]:
    if option is None:
        return ["", "", ""]
    v = float(option.v_grids[k, mark.column])
    if mark.law is None:
        return [show(v, V), "", ""]
    return [show(v, V), show(float(mark.law.current(v)), AMPERE),
            percent(float(mark.law.shares(v)))]  # fmt: skip


def purchases(option: Option) -> list[str]:
    """What one way takes, each with what it bears."""
    groups: dict[tuple[float, float], list[Buy]] = {}
    for one in option.buys:
        groups.setdefault((one.r, one.power), []).append(one)
    return [_bought(group) for group in groups.values()]


def _bought(alike: Sequence[Buy]) -> str:
    most = max(alike, key=lambda one: one.p)
    count = f"{len(alike)} times " if len(alike) > 1 else ""
    told = (f"Buy {count}{show_part(most.r)}{' pot' if most.is_pot else ''}, "
            f"{show_part(most.power, WATT)} or more: it dissipates up to {show(most.p, WATT, 2)} "
            f"and has up to {show(most.v_peak, V, 2)} across it")  # fmt: skip
    if most.v_working is not None:
        told += (f"; its working voltage must be {show(most.v_working, V, 2)} at least, which "
                 "takes two or more in series")  # fmt: skip
    return f"{told}."


def remarks(found: Remedies) -> Iterator[str]:
    """What the search began with, what it leaves out, and what no resistor mends."""
    yield from found.start.words
    yield from found.obstacle
    if found.samples:
        each = ", ".join(f"{s.name} {s.ratio:.2g}" for s in found.samples)
        yield f"Valves as measured, their current of that of an average one: {each}."
    for one in (s for s in found.samples if s.is_far):
        yield (f"{one.name} draws {one.ratio:.2g} times what an average valve of its type would at "
               f"{show(one.v_grid, V)}: fewer than one sample of twenty does so. The cure may be a "
               "valve and not a resistor.")  # fmt: skip
    match = matching(found.samples)
    if match is not None and not match.matched:
        each = ", ".join(f"{s.name} {show(s.i_cathode, Dimension.AMPERE)}" for s in found.samples)
        yield (f"The valves do not match: at one grid voltage {each}. No resistor mends that; it "
               "takes matched valves, or a bias pot for each.")  # fmt: skip
    for refused in found.refused:
        yield (f"Not offered: {way_words(found.start.drawn, refused.way)}; it would over-stress "
               f"{listed(refused.over_stressed)}.")  # fmt: skip
    if found.goal.left_out:
        yield f"Not looked at: {'; '.join(found.goal.left_out)}."
