"""What is wrong with measured idle currents, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..finding import Finding, Severity
from ..quantity import Dimension, show, show_part
from ..source import NOWHERE, Source
from .judgement import Judged
from .matching import Match, Split, exchanges
from .samples import SAMPLES, Expected
from .stage import Spread, Stage, Verdict, exceeds

_DEAD = 1e-3
"""A valve with less cathode current does nothing. [A]"""

_SCREEN_ABOVE = 1.05
"""Screens rarely stand higher above the plate than this. [1]"""

_SOCKET = ("exchange two valves first: a difference that stays with the socket is a fault of "
           "the circuit (coupling capacitor, grid leak, screen resistor)")  # fmt: skip


def percent(share: float) -> str:
    """A share as it is judged, in whole percent."""
    return f"{share * 100:.0f} %"


def window_words(stage: Stage) -> str:
    """The window aimed at, such as "60 to 70 %"."""
    low, high = stage.aim
    return f"{low * 100:g} to {high * 100:g} %"


def stage_findings(stage: Stage, least_current: float) -> list[Finding]:
    """What the volts and the cathode resistor alone tell.

    Parameters
    ----------
    stage : Stage
        The valves.
    least_current : float
        Of the cathode currents measured, 0 if there are none. [A]

    Returns
    -------
    list of Finding
        About volts above the limits of the sheet, volts that look doubtful, and cathode bias.
    """
    found = []
    drop = least_current * stage.r_cathode
    limits = stage.limits
    for name, volts, limit in (
        ("plate", stage.v_plate, limits.v_plate),
        ("screen", stage.v_screen, limits.v_screen),
    ):
        if volts is not None and limit is not None and exceeds(volts - drop, limit):
            what = (f"{_volts(volts - drop)} at the {name} is above the limit of {_volts(limit)} "
                    f"({limits.rating.value})")  # fmt: skip
            why = "the dissipation may be right and the valve still flash over or wear out early"
            found.append(_finding(name, Severity.WARNING, f"idle-{name}-volts", what, why))
    if stage.v_screen is not None and stage.v_screen > _SCREEN_ABOVE * stage.v_plate:
        what = f"the screen is at {_volts(stage.v_screen)}, the plate at {_volts(stage.v_plate)}"
        fix = "measure both again: have the two readings been interchanged?"
        found.append(_finding("screen", Severity.NOTE, "idle-screen-above", what, fix=fix))
    if stage.has_cathode_bias and stage.window is None:
        what = f"a cathode resistor of {show_part(stage.r_cathode)} is cathode bias"
        why = "the window is that of fixed bias; with cathode bias valves idle hotter"
        fix = "choose another window, such as --window 80-100%"
        found.append(_finding("cathode", Severity.NOTE, "idle-cathode-bias", what, why, fix))
    return found


def valve_findings(stage: Stage, judged: Judged) -> list[Finding]:
    """What is to be said about one valve.

    Parameters
    ----------
    stage : Stage
        Where it works.
    judged : Judged
        What its current means.

    Returns
    -------
    list of Finding
        Empty for a valve that is fine.
    """
    if judged.i_cathode < _DEAD:
        return [_dead(judged)]
    found = [] if judged.verdict is Verdict.FINE else [_off_target(stage, judged)]
    return [*found, *_screen(stage, judged)]


def _dead(judged: Judged) -> Finding:
    what = f"{_milliamps(judged.i_cathode)} of cathode current: this valve does nothing"
    why = "a dead valve, an open cathode or screen resistor, or a grid that is far too negative"
    return _finding(judged.name, Severity.WARNING, "idle-none", what, why,
                    "check the heater, the screen volts and the grid volts")  # fmt: skip


def _off_target(stage: Stage, judged: Judged) -> Finding:
    share, aim = judged.of_limit, window_words(stage)
    p_plate = show(judged.p_plate.nominal, Dimension.WATT)
    what = f"{p_plate} on the plate is {percent(share.nominal)} of the limit"
    fix = _move(stage, judged)
    if judged.verdict is Verdict.BEYOND:
        what += f", {_watts(stage.limits.p_plate)}: beyond it"
        return _finding(judged.name, Severity.ERROR, "idle-beyond", what,
                        _beyond(stage, judged), fix)  # fmt: skip
    side = "below" if share.nominal < stage.aim[0] else "above"
    if judged.verdict is Verdict.USUAL:
        what += f": {side} the {aim} aimed at, but within the usual 50 to 70 %"
        grave = Severity.NOTE if stage.window is None else Severity.WARNING
        return _finding(judged.name, grave, "idle-usual", what, "", fix)
    what += f": {judged.verdict.value}, {aim} is aimed at"
    why = ""
    if judged.verdict is Verdict.HOT and exceeds(share.high, 1.0):
        why = (f"it may be beyond the limit: {percent(share.high)} if the screen takes the "
               "least share that is published")  # fmt: skip
    slug = f"idle-{judged.verdict.value}"
    return _finding(judged.name, Severity.WARNING, slug, what, why, fix)


def _beyond(stage: Stage, judged: Judged) -> str:
    absolute = stage.valve.absolute
    if absolute is None or stage.absolute:
        return ""
    share = judged.p_plate.nominal / absolute.p_plate
    side = "also above" if exceeds(share, 1.0) else "still within"
    return f"{side} the absolute limit, {_watts(absolute.p_plate)} ({percent(share)} of it)"


def _move(stage: Stage, judged: Judged) -> str:
    """What to do to the bias, with the rough size of it where a model can tell."""
    change = judged.v_grid_change
    cooler = judged.of_limit.nominal > stage.aim[1]
    if stage.has_cathode_bias:
        return f"a {'larger' if cooler else 'smaller'} cathode resistor"
    if change is None:
        return f"make the grid {'more' if cooler else 'less'} negative"
    way = "more" if change < 0.0 else "less"
    return (f"a grid roughly {abs(change):.1f} V {way} negative brings it to the middle of the "
            "window; read the plate volts again then")  # fmt: skip


def _screen(stage: Stage, judged: Judged) -> Iterator[Finding]:
    share, limit = judged.screen_of_limit, stage.limits.p_screen
    if judged.p_screen is None or share is None or limit is None:
        return
    if exceeds(share.nominal, 1.0):
        what = (f"{show(judged.p_screen.nominal, Dimension.WATT)} on the screen is "
                f"{percent(share.nominal)} of the limit, {_watts(limit)}: beyond it")  # fmt: skip
        why = "screen current taken from the published share; measure it to be sure"
        fix = "lower the screen volts, or fit a larger screen resistor"
        yield _finding(judged.name, Severity.ERROR, "idle-screen-beyond", what, why, fix)
    elif exceeds(share.high, 1.0):
        what = f"the screen may be beyond its limit of {_watts(limit)}"
        why = f"{percent(share.high)} of it if the screen takes the greatest share published"
        yield _finding(judged.name, Severity.NOTE, "idle-screen-doubtful", what, why,
                       "measure the screen current")  # fmt: skip


def sample_findings(stage: Stage, valves: Sequence[Judged]) -> list[Finding]:
    """About valves that draw another current at the measured grid voltage than samples do.

    Parameters
    ----------
    stage : Stage
        Where they work.
    valves : sequence of Judged
        What their currents mean.

    Returns
    -------
    list of Finding
        One for all valves where all are out: then the volts are doubted, not the valves.
    """
    ratios = {valve.name: valve.against_average for valve in valves}
    odd = {name: ratio for name, ratio in ratios.items() if ratio is not None and _is_odd(ratio)}
    if not odd or stage.v_grid is None:
        return []
    at = f"an average {stage.valve.name} would at {_volts(stage.v_grid)} on the grid"
    usual = f"samples differ from {SAMPLES.low:.2f} to {SAMPLES.high:.2f} times"
    fix = "read grid, screen and plate volts again; a meter loads the grid circuit"
    if len(valves) > 1 and len(odd) == len(valves):
        least, most = min(odd.values()), max(odd.values())
        what = f"all draw {least:.2f} to {most:.2f} times what {at}"
        why = f"{usual}: rather the volts do not belong to these currents"
        return [_finding(_set_name(len(valves)), Severity.NOTE, "idle-odd-sample", what, why, fix)]
    return [
        _finding(name, Severity.NOTE, "idle-odd-sample", f"it draws {ratio:.2f} times what {at}",
                 f"{usual}: an odd valve, or volts that do not belong to this current", fix)
        for name, ratio in odd.items()
    ]  # fmt: skip


def _is_odd(ratio: float) -> bool:
    return not SAMPLES.low <= ratio <= SAMPLES.high


def _set_name(count: int) -> str:
    return "pair" if count == 2 else f"all {count}"


def expected_findings(stage: Stage, found: Expected) -> list[Finding]:
    """What the grid voltage alone tells, no current having been measured.

    Parameters
    ----------
    stage : Stage
        The valves.
    found : Expected
        What they are expected to draw.

    Returns
    -------
    list of Finding
        Empty if an average valve lies in the window.
    """
    if found.verdict is Verdict.FINE:
        return []
    accepted = found.verdict is Verdict.USUAL and stage.window is None
    grave = Severity.NOTE if accepted else Severity.WARNING
    said = "within the usual 50 to 70 %" if found.verdict is Verdict.USUAL else found.verdict.value
    what = (f"an average {stage.valve.name} would be at {percent(found.of_limit.nominal)} of the "
            f"limit: {said}, {window_words(stage)} is aimed at")  # fmt: skip
    why = f"95 of 100 samples: {range_words(found.of_limit)}"
    fix = "measure the cathode current before anything is decided"
    return [_finding("grid", grave, "idle-expected", what, why, fix)]


def range_words(share: Spread) -> str:
    """The range of a share, such as "58 to 61 %"."""
    return f"{share.low * 100:.0f} to {share.high * 100:.0f} %"


def set_findings(names: Sequence[str], matched: Match) -> list[Finding]:
    """What is to be said about valves that work together.

    Parameters
    ----------
    names : sequence of str
        Of the valves, in the order of the sockets.
    matched : Match
        How they match.

    Returns
    -------
    list of Finding
        Empty for valves that match.
    """
    about = _set_name(len(names))
    found = []
    apart, allowed = _milliamps(matched.spread), _milliamps(matched.allowed)
    if not matched.matched:
        what = f"the valves are {apart} apart, more than the {allowed} that are acceptable here"
        why = "unequal currents magnetise the output transformer: hum, and less bass"
        fix = f"set them alike where each has a pot of its own; {_replace(names, matched)}"
        found.append(_finding(about, Severity.WARNING, "idle-mismatch", what, why, fix))
    if sides := _sides(names, matched):
        found.append(_finding(about, Severity.NOTE, "idle-sides", *sides))
    if len(names) % 2:
        what = f"{len(names)} valves: sides cannot be compared, push-pull has an even number"
        found.append(_finding(about, Severity.NOTE, "idle-uneven", what))
    return found


def _replace(names: Sequence[str], matched: Match) -> str:
    if len(names) == 2:
        return f"{_SOCKET}; one that goes with the valve asks for a matched pair"
    if not matched.odd_ones:
        return f"{_SOCKET}; no single valve is to blame, so fit a matched set"
    one, *more = (names[k] for k in matched.odd_ones)
    rest = "the others match within" if not more else f"(or {more[0]}) the others match within"
    return f"{_SOCKET}; without {one} {rest} a few milliamps, so replace that one"


def _sides(names: Sequence[str], matched: Match) -> tuple[str, str, str] | None:
    """About sides that do not balance as the valves stand now."""
    now, best = matched.present, matched.best
    if now is None or best is None or now.balanced:
        return None
    what = (f"if {split_words(names, now)} are the two sides, they differ by "
            f"{_milliamps(now.difference)}")  # fmt: skip
    if best is now:
        return what, "no other arrangement is better", ""
    moves = " and ".join(f"{names[a]} with {names[b]}" for a, b in exchanges(now, best))
    return what, "", f"exchange {moves}: {_milliamps(best.difference)} between the sides then"


def split_words(names: Sequence[str], split: Split) -> str:
    """The two sides by name, "V1 + V2 and V3 + V4"."""
    one, other = (" + ".join(names[k] for k in side) for side in (split.one, split.other))
    return f"{one} and {other}"


def _finding(
    about: str, severity: Severity, slug: str, what: str, why: str = "", fix: str = ""
) -> Finding:
    return Finding(slug, severity, Source(about, ""), NOWHERE, what, why, fix)


def _volts(v: float) -> str:
    return show_part(v, Dimension.VOLT)


def _watts(p: float) -> str:
    return show_part(p, Dimension.WATT)


def _milliamps(i: float) -> str:
    return f"{i * 1e3:.1f} mA"
