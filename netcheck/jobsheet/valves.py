"""The output valves on the page: what was read, and what the travel of the pot makes of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..diagnose.words import position_words
from ..idle import Verdict
from ..quantity import Dimension, show, show_part
from ..report.prediction import groups
from ..report.valvetravel import remarks as valve_remarks
from ..report.valvetravel import sentences
from ..travel import Prediction
from ..valvetravel import alike
from .gather import StageFound
from .idles import matched
from .tables import (
    AMPERE,
    WATT,
    Group,
    Table,
    V,
    capital,
    milliamps,
    percent,
    sentence,
    table,
    volts_between,
)

WORDS = {
    Verdict.COLD: "\N{BLACK DOWN-POINTING TRIANGLE} too cold",
    Verdict.USUAL: "\N{CHECK MARK} within the usual",
    Verdict.FINE: "\N{CHECK MARK} in the window",
    Verdict.HOT: "\N{BLACK UP-POINTING TRIANGLE} too hot",
    Verdict.BEYOND: "\N{BLACK SQUARE} over the limit",
}
"""What a dissipation is, each with a mark of its own."""


def idle_table(stages: Sequence[StageFound]) -> Table:
    """The idle currents that were read, and the dissipation they make."""
    found = []
    for one in stages:
        rows = []
        for read in one.idle:
            judged, limit = read.judged, read.stage.limits.p_plate
            rows.append([
                f"{read.valve.name} ({read.stage.valve.name})",
                position_words(read.reading.state, short=True) or "not stated",
                show(read.stage.v_plate, V),
                show(judged.i_cathode, AMPERE),
                show(judged.p_plate.nominal, WATT),
                show_part(limit, WATT),
                percent(judged.of_limit.nominal),
                WORDS[judged.verdict],
            ])  # fmt: skip
        if rows:
            found.append(Group(rows, capital(one.stage)))
    head = ("valve", "pots", "plate", "cathode", "dissipates", "limit", "of limit", "")
    return Table("Idle currents read, and plate dissipation", head, found, left=2)


def match_words(stages: Sequence[StageFound]) -> Iterator[str]:
    """Whether valves that were read at one setting match."""
    for one in stages:
        found = matched(one.idle)
        if found is None:
            continue
        spread, allowed = (show(i, Dimension.AMPERE) for i in (found.spread, found.allowed))
        is_close = "which is acceptable" if found.matched else f"more than the {allowed} accepted"
        yield f"{capital(one.stage)} the valves are {spread} apart, {is_close}."


def verdicts(p: Prediction) -> Iterator[str]:
    """What the travel is worth, a sentence or two for each kind of valve."""
    for group in alike(p.valves.valves):
        names = ", ".join(one.valve.name for one in group)
        for told in sentences(group[0]):
            yield f"{names}: {told}."


def grid_tables(p: Prediction) -> Iterator[Table]:
    """Grid volts over the travel with both bands, a table for each distinct grid."""
    for group in groups(p):
        k, band = group[0], p.band
        rows = [
            [f"{at * 100:.0f} %", show(p.mean[n, k], V),
             volts_between(band.low_95[n, k], band.high_95[n, k]),
             volts_between(band.low[n, k], band.high[n, k])]
            for n, at in enumerate(p.travel)
        ]  # fmt: skip
        names = ", ".join(p.watched[i] for i in group)
        head = (_turned(p), "should be", "95 of 100 chassis", "worst case")
        yield table(f"{names} against ground, as drawn", head, rows, note=_note(p))


def _note(p: Prediction) -> str:
    worst = "Worst case: every part at a limit of its tolerance"
    if p.mains is None:
        return f"{worst}."
    return f"Mains {show(p.mains, V)}. {worst}, and the mains too."


def _turned(p: Prediction) -> str:
    return " and ".join(p.swept) or "no pot"


def valve_tables(p: Prediction) -> Iterator[Table]:
    """Idle current and dissipation over the travel, a table for each kind of valve."""
    for group in alike(p.valves.valves):
        one = group[0]
        valve, now = one.valve, one.idle
        names = ", ".join(v.valve.name for v in group)
        low, high = one.window
        rows = [
            [f"{at * 100:.0f} %", show(p.mean[n, p.watched.index(valve.grid)], V),
             show(now.i_cathode[n], AMPERE), milliamps(one.i_low[n], one.i_high[n]),
             show(now.p_plate[n], WATT), percent(now.p_plate[n] / one.limit),
             word(now.p_plate[n] / one.limit, low, high)]
            for n, at in enumerate(p.travel)
        ]  # fmt: skip
        screen = "" if valve.v_screen is None else f", screen {show_part(valve.v_screen, V)}"
        head = (_turned(p), "grid", "cathode", "95 of 100 valves", "plate", "of limit", "")
        yield table(f"{names}: {one.idling.type.name}, plate {show_part(valve.v_plate or 0.0, V)}"
                    f"{screen}, limit {show_part(one.limit, WATT)}", head, rows,
                    note="Cathode current is plate and screen together.")  # fmt: skip


def word(share: float, low: float, high: float) -> str:
    """What a dissipation is, as it is shown to the nearest percent; the live panel says alike.

    Parameters
    ----------
    share : float
        Of the limit. [1]
    low, high : float
        The window. [1]
    """
    shown = round(share * 100.0)
    if shown > 100:
        return WORDS[Verdict.BEYOND]
    if shown > round(high * 100.0):
        return WORDS[Verdict.HOT]
    return WORDS[Verdict.FINE if shown >= round(low * 100.0) else Verdict.COLD]


def remarks(p: Prediction) -> Iterator[str]:
    """What was taken for granted about the valves."""
    yield from map(sentence, valve_remarks(p))
