"""Idle current over the travel for the terminal: the verdict first, then the figures."""

from __future__ import annotations

from ..quantity import Dimension, show, show_part
from ..travel import Prediction
from ..valves.practice import SAMPLE_SPREAD
from ..valvetravel import ValveTravel, Verdict, alike
from .tables import paragraph, table

AMPERE, WATT, VOLT = Dimension.AMPERE, Dimension.WATT, Dimension.VOLT


def verdicts(p: Prediction) -> list[str]:
    """One or two sentences for each kind of valve."""
    if not p.valves.valves and not p.valves.left_out:
        return []
    lines: list[str] = []
    for group in alike(p.valves.valves):
        names = ", ".join(one.valve.name for one in group)
        for sentence in sentences(group[0]):
            lines += paragraph(f"{names}: {sentence}", "  ", "")
    if p.at_peak is not None:
        for group in alike(p.at_peak.valves):
            lines += paragraph(_tremolo(p, group), "  ", "")
    return lines


def _tremolo(p: Prediction, group: list[ValveTravel]) -> str:
    """How far the tremolo swings valves, and where that takes them beyond their limit."""
    one = group[0]
    names = ", ".join(valve.valve.name for valve in group)
    swing = p.swing[one.valve.grid]
    least, most = show(float(swing.min()), VOLT), show(float(swing.max()), VOLT)
    far = most if least == most else f"{least} to {most}"
    said = f"{names}: the tremolo swings the grid by {far} either side"
    if one.over is None:
        return f"{said}; even at its peak the valve stays within its limit"
    return f"{said}; at its peak the valve is beyond its limit {_stretch(one.over)}"


def sentences(one: ValveTravel) -> list[str]:
    """What the travel is worth for a valve, in words."""
    low, high = one.window
    window = f"{low * 100:.0f} to {high * 100:.0f} % of {show_part(one.limit, WATT)}"
    if one.idle.i_cathode.size == 1:
        return [f"draws {show(one.i_most, AMPERE)} at the cathode, {_percent(one.share_most)} of "
                f"the limit; {window} is wanted"]  # fmt: skip
    said = [_coverage(one, window)]
    if one.over is not None:
        said.append(_over(one))
    return said


def _coverage(one: ValveTravel, window: str) -> str:
    verdict = one.verdict
    if verdict is Verdict.COLD:
        return (f"runs out: even {_end(one.at_most)} the valve stays below "
                f"{show(one.i_most, AMPERE)} at the cathode, {_percent(one.share_most)} of the "
                f"limit; {window} is wanted")  # fmt: skip
    if verdict is Verdict.HOT:
        return (f"runs out: even {_end(one.at_least)} the valve draws "
                f"{show(one.i_least, AMPERE)} at the cathode, {_percent(one.share_least)} of the "
                f"limit; {window} is wanted")  # fmt: skip
    if one.inside is None:
        return f"the travel steps over the window of {window}"
    covers = "travel covers the window" if verdict is Verdict.COVERS else (
        "travel covers only part of the window")  # fmt: skip
    middle = "" if one.middle is None else f", its middle at {_percent(one.middle)}"
    return (f"{covers} of {window} from {_percent(one.inside[0])} to "
            f"{_percent(one.inside[1])}{middle}")  # fmt: skip


def _over(one: ValveTravel) -> str:
    assert one.over is not None
    return f"beyond the limit {_stretch(one.over)}: the pot alone can over-run the valve"


def _stretch(over: tuple[float, float]) -> str:
    """A stretch of the travel in words."""
    start, end = over
    if start > 0.0 and end >= 1.0:
        return f"from {_percent(start)} on"
    if start <= 0.0 and end < 1.0:
        return f"up to {_percent(end)}"
    if start <= 0.0:
        return "everywhere"
    return f"from {_percent(start)} to {_percent(end)}"


def _end(at: float) -> str:
    if at >= 1.0:
        return "fully clockwise"
    return "fully anticlockwise" if at <= 0.0 else f"at {_percent(at)}"


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %"


def tables(p: Prediction) -> list[list[str]]:
    """A table for each kind of valve: current, band, dissipation over the travel."""
    if not p.valves.valves and not p.valves.left_out:
        return []
    return [_table(p, group) for group in alike(p.valves.valves)]


def _table(p: Prediction, group: list[ValveTravel]) -> list[str]:
    one = group[0]
    valve, now = one.valve, one.idle
    names = ", ".join(v.valve.name for v in group)
    screen = "" if valve.v_screen is None else f", screen {show_part(valve.v_screen, VOLT)}"
    title = (f"{names}: {one.idling.type.name}, plate {show_part(valve.v_plate or 0.0, VOLT)}"
             f"{screen}; cathode current is plate and screen together")  # fmt: skip
    rows = [
        [
            f"{at * 100:.0f} %",
            show(p.mean[n, p.watched.index(valve.grid)], VOLT),
            show(now.i_cathode[n], AMPERE),
            f"{one.i_low[n] * 1e3:.1f} to {one.i_high[n] * 1e3:.1f} mA",
            show(now.p_plate[n], WATT),
            _percent(now.p_plate[n] / one.limit),
        ]
        for n, at in enumerate(p.travel)
    ]
    head = [" and ".join(p.swept) or "no pot", "grid", "cathode", "95 of 100 valves", "plate",
            "of limit"]  # fmt: skip
    return paragraph(title) + table(head, rows)


def remarks(p: Prediction) -> list[str]:
    """What was taken for granted about the valves."""
    if not p.valves.valves and not p.valves.left_out:
        return []
    said = [f"{name}: no idle current, {why}." for name, why in p.valves.left_out.items()]
    if p.valves.valves:
        if any(one.idling.shift.spread == SAMPLE_SPREAD for one in p.valves.valves):
            said.append(f"Samples of one valve type differ by {SAMPLE_SPREAD:.0%} (one standard "
                        "deviation) at equal voltages; the band has that in.")  # fmt: skip
        if p.valves.constant_plate:
            said.append('Plate and screen volts are taken as constant: no "hightension" line '
                        "says how they fall.")  # fmt: skip
    return said
