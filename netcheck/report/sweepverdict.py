"""What a sweep comes to, in sentences."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from ..quantity import Dimension, show, show_part
from ..substitution import (
    Chart,
    Knob,
    Setting,
    Substitution,
    Way,
    flat_stretches,
    valve_groups,
)
from ..substitution.study import FLAT
from ..valves.practice import SAMPLE_SPREAD
from ..valvetravel import ValvesTravel, ValveTravel, Verdict
from .sweepwords import (
    OHM,
    is_moved,
    label,
    named,
    names_of,
    percent,
    valves_at,
    window_words,
    with_value,
)
from .tables import paragraph

_AS_GOOD = 0.02
"""Positions of the window that differ by less are as good as one. [1]"""


def verdicts(s: Substitution, groups: list[list[int]]) -> list[str]:
    """The part and its direction, and for each kind of valve which values will do.

    Parameters
    ----------
    s : Substitution
        The sweep.
    groups : list of list of int
        Valves that do the same and are moved, by their place.
    """
    lines = paragraph(f"{named(s, s.knob)}. {_turning(s.knob)}: {s.direction()}.")
    for group in groups:
        for sentence in (_met(s, group[0]), _over(s, group[0])):
            if sentence:
                lines += paragraph(f"{names_of(s, group)}: {sentence}.", "  ", "")
    alone = [k for group in valve_groups(s) if not is_moved(s, group) for k in group]
    if alone:
        lines += paragraph(f"{names_of(s, alone)}: not moved.", "  ", "")
    return lines


def _turning(knob: Knob) -> str:
    if knob.way is Way.ACROSS:
        return "The smaller the resistor across it"
    is_volts = knob.dimension in (Dimension.VOLT, Dimension.VOLT_AC)
    return "The more volts it has" if is_volts else "The larger its value"


def _valve(s: Substitution, n: int, k: int) -> ValveTravel | None:
    """A valve at a setting; None where that could not be simulated."""
    valves = valves_at(s.settings[n])
    return valves[k] if valves else None


def _met(s: Substitution, k: int) -> str:
    """With which values the idle current wanted can be set."""
    every = [(n, _valve(s, n, k)) for n in range(len(s.settings))]
    there = {n: valve for n, valve in every if valve is not None and valve.inside is not None}
    window = window_words(s, valves_at(s.answered[0])[k])
    can = "can be set" if s.swept else "is met"
    if not there:
        return f"{window} {can} at no value{_beside(s, k)}"
    said = f"{window} {can} {_runs(s, list(there))}"
    best = _best(s, there)
    valve = there[best]
    if not s.swept:
        return f"{said}; nearest to its middle {_as(s, best)}: {percent(valve.share_most)}"
    if valve.middle is None:
        return said
    return f"{said}; its middle is nearest to mid-travel {_as(s, best)}: at {percent(valve.middle)}"


def _best(s: Substitution, there: dict[int, ValveTravel]) -> int:
    """The value that is wanted most; the one that is fitted if none is clearly better."""
    far = {n: _from_middle(s, valve) for n, valve in there.items()}
    best = min(far, key=far.__getitem__)
    fitted = s.knob.at_fitted
    return fitted if far.get(fitted, 1.0) <= far[best] + _AS_GOOD else best


def _from_middle(s: Substitution, valve: ValveTravel) -> float:
    """How far the wanted dissipation is from mid-travel; without a pot, from that at work."""
    if not s.swept:
        return abs(valve.share_most - 0.5 * sum(s.window))
    return 0.9 if valve.middle is None else abs(valve.middle - 0.5)


def _as(s: Substitution, n: int) -> str:
    """A setting in words: "as it is", "with 150k across, R3 acting as 22.9k"."""
    if n == s.knob.at_fitted:
        return "as it is"
    value = s.settings[n].values[0]
    acts = s.knob.acts_as(value)
    as_one = "" if acts is None else f", {s.knob.part.name} acting as {show(acts, OHM)}"
    return with_value(s.knob, value) + as_one


def _beside(s: Substitution, k: int) -> str:
    """Where the window lies that no value reaches."""
    words = [(n, valve.verdict) for n in range(len(s.settings)) if (valve := _valve(s, n, k))]
    every = {verdict for _, verdict in words}
    if every == {Verdict.COLD}:
        return ": the valve stays too cold"
    if every == {Verdict.HOT}:
        return ": the valve stays too hot"
    for (n, one), (m, other) in pairwise(words):
        if {one, other} == {Verdict.COLD, Verdict.HOT}:
            a, b = (label(s.knob, s.settings[at].values[0]) for at in (n, m))
            return f": it is stepped over from {a} to {b}"
    return ""


def _runs(s: Substitution, there: list[int]) -> str:
    """Settings in words: "with nothing or 180k and more across"."""
    if len(there) == len(s.settings):
        return "at every value"
    runs: list[list[int]] = []
    for n in there:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", and ".join(_run(s, run) for run in runs)


def _run(s: Substitution, run: list[int]) -> str:
    """Neighbouring settings in words."""
    knob = s.knob
    first, last = (s.settings[n].values[0] for n in (run[0], run[-1]))
    if len(run) == 1:
        return with_value(knob, first)
    if knob.way is Way.IN_PLACE:
        return f"with {label(knob, first)} to {label(knob, last)}"
    if first is None:
        return f"with nothing or {label(knob, last)} and more across"
    return f"with {label(knob, first)} down to {label(knob, last)} across"


def _over(s: Substitution, k: int) -> str:
    """With which values the pot takes the valve beyond its limit."""
    every = [(n, _valve(s, n, k)) for n in range(len(s.settings))]
    there = [n for n, valve in every if valve is not None and valve.over is not None]
    what = "the pot can over-run the valve" if s.swept else "the valve is beyond its limit"
    return f"{what} {_runs(s, there)}" if there else ""


# ------------------------------------------------------------------------ two knobs


def chart_verdicts(c: Chart, groups: list[list[int]]) -> list[str]:
    """The two parts, and for each kind of valve how many pairs will do."""
    lines = paragraph(f"{named(c, c.rows)}, {_way(c.rows)}, against {named(c, c.columns)}, "
                      f"{_way(c.columns)}.")  # fmt: skip
    for group in groups:
        lines += paragraph(f"{names_of(c, group)}: {_cells(c, group[0])}.", "  ", "")
    return lines


def _cells(c: Chart, k: int) -> str:
    met = [one for one in c.answered if valves_at(one)[k].inside is not None]
    window = window_words(c, valves_at(c.answered[0])[k])
    can = "can be set" if c.swept else "is met"
    if not met:
        return f"{window} {can} in no cell"
    said = f"{window} {can} in {len(met)} of {len(c.settings)} cells"
    if not c.swept:
        best = _best_cell(c, met, lambda v: abs(v.share_most - 0.5 * sum(c.window)), k)
        return f"{said}; nearest to its middle {_pair(c, best)}"
    safe = [one for one in met if valves_at(one)[k].over is None]
    said += (f", and in {len(safe)} of them the pot cannot over-run the valve" if safe
             else ", and in all of them the pot can over-run the valve")  # fmt: skip
    middles = [one for one in safe or met if valves_at(one)[k].middle is not None]
    if not middles:
        return said
    best = _best_cell(c, middles, lambda v: abs((v.middle or 0.0) - 0.5), k)
    at = percent(valves_at(best)[k].middle or 0.0)
    return f"{said}; of those its middle is nearest to mid-travel {_pair(c, best)}: at {at}"


def _best_cell(
    c: Chart, cells: list[Setting], far: Callable[[ValveTravel], float], k: int
) -> Setting:
    """The pair that is wanted most; of pairs as good the one that changes least."""
    least = min(far(valves_at(one)[k]) for one in cells)
    good = [one for one in cells if far(valves_at(one)[k]) <= least + _AS_GOOD]
    drawn = [knob.values[knob.at_fitted] for knob in (c.rows, c.columns)]
    return max(good, key=lambda one: sum(
        v == w for v, w in zip(one.values, drawn, strict=True)))  # fmt: skip


def _pair(c: Chart, one: Setting) -> str:
    a, b = one.values
    return f"with {_of(c.rows, a)} and {_of(c.columns, b)}"


def _of(knob: Knob, value: float | None) -> str:
    if knob.way is Way.ACROSS:
        return f"{label(knob, value)} across {knob.part.name}"
    return f"{knob.part.name} of {label(knob, value)}"


def _way(knob: Knob) -> str:
    return "a resistor across it" if knob.way is Way.ACROSS else "another in its place"


# -------------------------------------------------------------------------- remarks


def remarks(s: Substitution | Chart) -> list[str]:
    """What else is to be said: values that are all one, what was taken for granted."""
    said = []
    if isinstance(s, Substitution):
        for first, last in flat_stretches(s):
            a, b = (label(s.knob, s.settings[n].values[0]) for n in (first, last))
            said.append(f"From {a} to {b} hardly anything changes: the grids move by less than "
                        f"{show_part(FLAT, Dimension.VOLT)}.")  # fmt: skip
    valves = s.answered[0].valves
    if valves is not None:
        said += _valve_remarks(valves)
    troubles = dict.fromkeys(one.trouble for one in s.settings if one.trouble)
    said += [f"No answer at some values: {text}." for text in troubles]
    if not all(one.settled for one in s.answered):
        said.append("Some states were still moving a little when the search for them ended.")
    return [line for text in said for line in paragraph(text, "  ", "")]


def _valve_remarks(valves: ValvesTravel) -> list[str]:
    """What was taken for granted about the valves, and which are left out."""
    said = [f"{name}: no idle current, {why}." for name, why in valves.left_out.items()]
    if not valves.valves:
        return said
    if any(one.idling.shift.spread == SAMPLE_SPREAD for one in valves.valves):
        said.append(f"The currents are those of a typical valve; samples differ by "
                    f"{SAMPLE_SPREAD:.0%} (one standard deviation) at equal voltages.")  # fmt: skip
    if valves.constant_plate:
        said.append('Plate and screen volts are taken as constant: no "hightension" line says '
                    "how they fall.")  # fmt: skip
    return said
