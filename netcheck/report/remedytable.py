"""Ways to put a section right, side by side and one in full, for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from ..quantity import Dimension, show, show_part
from ..remedy.aim import Mark
from ..remedy.figures import Fall, Figures
from ..remedy.option import Option
from ..remedy.ratings import Buy
from ..remedy.study import Remedies
from ..remedy.ways import Kind, Way
from ..remedy.words import effort_words, listed, short_words, way_words
from .tables import paragraph, table

V, AMPERE, WATT = Dimension.VOLT, Dimension.AMPERE, Dimension.WATT

SHOWN = 5
"""Ways in the table. [count]"""
_WHAT = 26  # columns for a way in the table
_TELLS = 1.0  # points: a smaller difference explains nothing

# --------------------------------------------------------------------------------- table


def done(option: Option) -> Way:
    """What an option does."""
    assert option.way is not None, "an option that does something"
    return option.way


def ways_table(found: Remedies) -> list[str]:
    """The section as it is and the best ways, a row each."""
    rows: list[list[str]] = []
    if found.as_is is not None:
        rows += _row(found, "", "as it is", found.as_is)
    for number, option in enumerate(found.options[:SHOWN], start=1):
        what = short_words(found.start.drawn, done(option), option.before)
        rows += _row(found, str(number), what, option)
    if not rows:
        return []
    steps = "per 10 %" if found.pots else ""
    head = ["", "way", "window" if found.pots else "grid", "hot end", steps, "work", "buy"]
    lines = table(head, rows, 2)
    more = len(found.options) - SHOWN
    said = ""
    if is_modelled(found):
        said = (f"Hot end: dissipation there of {valve_word(found).rstrip(',')}, and in the worst "
                "case, of the limit. ")  # fmt: skip
    if found.pots:
        what = "idle current" if is_modelled(found) else "grid voltage"
        said += f"Per 10 %: change of the {what} in a tenth of the travel, at the window."
    if more > 0:
        said += f" {more} more {'are' if more > 1 else 'is'} in the JSON output."
    return [*lines, *paragraph(said)]


def is_modelled(found: Remedies) -> bool:
    """Whether any valve can be modelled."""
    return any(mark.law is not None for mark in found.goal.marks)


def _row(found: Remedies, number: str, what: str, option: Option) -> list[list[str]]:
    figures = option.figures
    window = "missed"
    if not found.pots:
        window = show(figures.falls[0].v_most, V)
    elif figures.inside is not None and figures.middle is not None:
        window = stretch(figures.inside)
    cells = [window, _hot(figures), _step(figures), *_work(option)]
    first, *rest = _cell(what, _WHAT)
    return [[number, first, *cells], *(["", line, *[""] * len(cells)] for line in rest)]


def _cell(text: str, width: int) -> list[str]:
    """A text broken into lines of a cell."""
    return textwrap.wrap(text, width, break_on_hyphens=False) or [""]


def _hot(figures: Figures) -> str:
    most, worst = figures.share_most, figures.share_worst
    return "" if most is None or worst is None else f"{most * 100:.0f}, {worst * 100:.0f} %"


def _step(figures: Figures) -> str:
    fall = _steepest(figures)
    if fall.i_per_tenth is not None:
        return show(abs(fall.i_per_tenth), AMPERE, 2)
    return "" if fall.v_per_tenth is None else show(abs(fall.v_per_tenth), V, 2)


def _steepest(figures: Figures) -> Fall:
    return max(figures.falls, key=lambda fall: fall.steepness)


_WORK = {Kind.STRAP: "little", Kind.STRAP_POT: "little", Kind.RESISTOR: "some",
         Kind.RESTORE: "some", Kind.SERIES: "some", Kind.POT: "more"}  # fmt: skip


def _work(option: Option) -> list[str]:
    if option.way is None:
        return ["", ""]
    times = len(option.way.parts)
    work = _WORK[option.way.kind] + (f" x{times}" if times > 1 else "")
    power = max((one.power for one in option.buys), default=None)
    return [work, "" if power is None else show_part(power, WATT)]


# -------------------------------------------------------------------------------- detail


def detail(found: Remedies, option: Option) -> list[str]:
    """One way in full: what it changes, how much travel is left, what to buy."""
    lines = paragraph(f"{capital(way_words(found.start.drawn, done(option), option.before))} "
                      f"({effort_words(done(option))}):")  # fmt: skip
    for group in _alike(option):
        lines += _change(found, option, group)
    told = [_finesse(found, option), *map(_buy, _distinct(option.buys))]
    return lines + [line for text in told if text for line in paragraph(text)]


def _alike(option: Option) -> list[list[Mark]]:
    """Marks that want the same, together."""
    groups: list[list[Mark]] = []
    for mark in (fall.mark for fall in option.figures.falls):
        for group in groups:
            other = group[0]
            near = abs(option.v_grids[:, mark.column] - option.v_grids[:, other.column]).max()
            if near < 0.02 and abs(mark.v_middle - other.v_middle) < 0.02:
                group.append(mark)
                break
        else:
            groups.append([mark])
    return groups


def _change(found: Remedies, option: Option, group: Sequence[Mark]) -> list[str]:
    """Grid and idle current at the ends and in the middle, before and after."""
    mark, last = group[0], option.travel.size - 1
    rows = []
    for k in sorted({0, last // 2, last}):
        at = f"{option.travel[k] * 100:.0f} %" if found.pots else ""
        row = [at]
        for one in (found.as_is, option):
            row += _at(one, mark, k)
        rows.append(row)
    head = [listed(found.pots) or "no pot", "grid now", "idle", "of limit", "then", "idle",
            "of limit"]  # fmt: skip
    names = ", ".join(one.name for one in group)
    return [*paragraph(f"{names}:"), *table(head, rows)]


def _at(option: Option | None, mark: Mark, k: int) -> list[str]:
    if option is None:
        return ["", "", ""]
    v = float(option.v_grids[k, mark.column])
    if mark.law is None:
        return [show(v, V), "", ""]
    return [show(v, V), show(float(mark.law.current(v)), AMPERE),
            percent(float(mark.law.shares(v)))]  # fmt: skip


def _finesse(found: Remedies, option: Option) -> str:
    room = option.figures.room
    if room is None:
        return ""
    left, right = room
    return (f"Travel left: {percent(left)} anticlockwise of the window, {percent(right)} "
            f"clockwise; a tenth of the travel is {_step(option.figures)} at the "
            "window.")  # fmt: skip


def _distinct(buys: Sequence[Buy]) -> list[tuple[Buy, list[str]]]:
    """What is bought, parts alike together, with the one that bears most."""
    groups: dict[tuple[float, float], list[Buy]] = {}
    for one in buys:
        groups.setdefault((one.r, one.power), []).append(one)
    return [(max(group, key=lambda b: b.p), [b.name for b in group]) for group in groups.values()]


def _buy(bought: tuple[Buy, list[str]]) -> str:
    one, names = bought
    count = f"{len(names)} times " if len(names) > 1 else ""
    kind = " pot" if one.is_pot else ""
    told = (f"Buy {count}{show_part(one.r)}{kind}, {show_part(one.power, WATT)} or more: it "
            f"dissipates up to {show(one.p, WATT, 2)} and has up to {show(one.v_peak, V, 2)} "
            "across it")  # fmt: skip
    if one.v_working is not None:
        told += (f"; its working voltage must be {show(one.v_working, V, 2)} at least, which "
                 "takes two or more in series")  # fmt: skip
    return f"{told}."


# -------------------------------------------------------------------------------- others


def others(found: Remedies, option: Option) -> list[str]:
    """Why the others stand lower."""
    lines: list[str] = []
    for number, other in enumerate(found.options[:SHOWN], start=1):
        if other is not option and found.options.index(option) < number - 1:
            why = _why_lower(option, other)
            lines += paragraph(f"{number} stands lower: {why}.", "  ", "")
    return lines


def _why_lower(first: Option, other: Option) -> str:
    if done(first).kind is Kind.RESTORE and first.before is None:
        return "it leaves the fault in the chassis"
    said = []
    if other.figures.over_runs and not first.figures.over_runs:
        said.append("the pot alone can over-run the valves")
    terms = {name: points - first.score.terms[name] for name, points in other.score.terms.items()}
    worse = sorted((name for name in terms if terms[name] > _TELLS), key=lambda n: -terms[n])
    said += [_reasons(other.figures)[name] for name in worse[: 2 - len(said)]]
    return " and ".join(said) or "it is as good but for a trifle"


def _reasons(figures: Figures) -> Mapping[str, str]:
    middle = "off the middle of the window"
    if figures.middle is not None:
        middle = f"the window's middle is at {percent(figures.middle)}"
    room = figures.room or (0.0, 0.0)
    return {
        "off middle": middle,
        "window missed": "part of the window is out of reach",
        "valves apart": "the valves' windows lie apart",
        "little range": f"only {percent(min(room))} of the travel is left on one side",
        "coarse": "the pot is coarser to set",
        "hot end": "the hot end is hotter in the worst case",
        "effort": "it is more work",
        "series": "it takes a value that is in E24 only",
    }


# ------------------------------------------------------------------------ words that recur


def valve_word(found: Remedies) -> str:
    """Whose dissipation is spoken of."""
    return "the hottest valve, as measured," if found.samples else "an average valve"


def stretch(ends: tuple[float, float]) -> str:
    """A stretch of the travel: "42 to 55 %"."""
    return f"{ends[0] * 100:.0f} to {ends[1] * 100:.0f} %"


def percent(share: float) -> str:
    """A share as a percentage."""
    return f"{share * 100:.0f} %"


def capital(text: str) -> str:
    """A text with a capital letter in front."""
    return text[:1].upper() + text[1:]
