"""Rules about what the bias makes of the output valves."""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Related, Severity
from ..netlist import Valve
from ..quantity import Dimension, show, show_part
from ..valves import lookup
from .rule import Case, Problem, Rule

_FAR_OVER = 2.0
"""Of the dissipation limit: at twice of it plates glow within seconds; common practice. [1]"""
_LATE = 1.0
"""Later than this the bias is late for valves that are hot already; common practice. [s]"""


def _look_volts(case: Case) -> Iterator[Problem]:
    """Plate and screen volts are within the data sheet's limits.

    bad: valve V1 EL84 grid grid1 plate 390 V screen 385 V
    good: valve V1 EL84 grid grid1 plate 300 V screen 300 V
    """
    for valve in case.section.circuit.of(Valve):
        kind = lookup(valve.type, case.section.circuit.own_types)
        if kind is None:
            continue
        limits = kind.limits
        for word, volts, limit in (
            ("plate", valve.v_plate, limits.v_plate),
            ("screen", valve.v_screen, limits.v_screen),
        ):
            if volts is not None and limit is not None and volts > limit:
                yield Problem(
                    valve.mark(word),
                    f"{valve.name} has {show_part(volts, Dimension.VOLT)} on its {word}; the data "
                    f"sheet allows {show_part(limit, Dimension.VOLT)} ({limits.rating.value})",
                    f"many amplifiers do it all the same; choose sound samples, and bias them on "
                    f"the cold side ({limits.origin.source})",
                    severity=Severity.WARNING if volts > 1.5 * limit else Severity.NOTE,
                )


def _look_contradiction(case: Case) -> Iterator[Problem]:
    """The plate volts of the valves agree with the readings of the high tension.

    bad: hightension 402 V at 25 mA  390 V at 90 mA
    good: hightension 318 V at 25 mA  306 V at 90 mA
    """
    supply = case.section.circuit.high_tension
    if supply is None or not supply.readings:
        return
    volts = [v for v, _ in supply.readings]
    for valve in case.section.circuit.of(Valve):
        if valve.v_plate is None or 0.95 * min(volts) <= valve.v_plate <= 1.05 * max(volts):
            continue
        low, high = (show_part(v, Dimension.VOLT) for v in (min(volts), max(volts)))
        yield Problem(
            valve.mark("plate"),
            f"{valve.name} has {show_part(valve.v_plate, Dimension.VOLT)} on its plate, but the "
            f"high tension was read at {low} and {high}",
            "give plate volts that hold at a current between those of the readings",
            related=(Related(supply.span, "the readings"),),
        )


def _alike(case: Case) -> list[list[Valve]]:
    """Valves of one type that do the same, together: one finding is enough for them."""
    assert case.stresses is not None
    groups: dict[tuple[str, str, str], list[Valve]] = {}
    for valve in case.section.circuit.of(Valve):
        found = case.stresses.valves.get(valve.name)
        if found is not None:
            key = (valve.type, f"{found.i_most:.3g}", f"{found.i_least:.3g}")
            groups.setdefault(key, []).append(valve)
    return list(groups.values())


def _names(valves: list[Valve]) -> str:
    names = [valve.name for valve in valves]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _look_over(case: Case) -> Iterator[Problem]:
    """No position of the pot drives a valve beyond its dissipation.

    bad: resistor R3 from foot to ground 3k3
    good: resistor R3 from foot to ground 27k
    """
    if case.stresses is None:
        return
    for valves in _alike(case):
        found = case.stresses.valves[valves[0].name]
        if found.share_most <= 1.0:
            continue
        yield Problem(
            valves[0].mark("grid"),
            f"the pot can drive {_names(valves)} to {show(found.i_most, Dimension.AMPERE)} at the "
            f"cathode, {found.share_most * 100:.0f} % of the dissipation limit",
            "more resistance in the foot keeps the hot end of the travel colder",
            severity=Severity.WARNING if found.share_most > _FAR_OVER else Severity.NOTE,
            also=tuple(valve.mark("grid") for valve in valves[1:]),
        )


def _look_window(case: Case) -> Iterator[Problem]:
    """Some position of the pot gives the idle current wanted.

    bad: resistor R3 from foot to ground 150k
    good: resistor R3 from foot to ground 15k
    """
    if case.stresses is None:
        return
    for valves in _alike(case):
        found = case.stresses.valves[valves[0].name]
        if found.covered:
            continue
        low, high = (f"{share * 100:.0f}" for share in found.window)
        if found.share_most < found.window[0]:
            said = f"cannot get above {found.share_most * 100:.0f} % of the dissipation limit"
            fix = "less resistance in the foot, or more in series, gives more current"
        elif found.share_least > found.window[1]:
            said = f"cannot get below {found.share_least * 100:.0f} % of the dissipation limit"
            fix = "more resistance in the foot, or less in series, gives less current"
        else:
            said = "cannot be set in between: the pot steps over it"
            fix = "a pot of less resistance has a finer travel"
        yield Problem(
            valves[0].mark("grid"),
            f"{_names(valves)} {said}; {low} to {high} % is wanted",
            fix,
            also=tuple(valve.mark("grid") for valve in valves[1:]),
        )


def _look_late(case: Case) -> Iterator[Problem]:
    """The bias is there before the high tension can be.

    bad: hightension source 100 ohm at 50 mA silicon
    bad: capacitor C9 plus ground minus sweep 1000 uF 100 V
    good: hightension source 100 ohm at 50 mA silicon
    """
    supply = case.section.circuit.high_tension
    if case.stresses is None or supply is None:
        return
    at_once = supply.rectifier in ("silicon", "selenium")
    if not (supply.standby or at_once):
        return
    cause = "the standby switch" if supply.standby else f"a {supply.rectifier} rectifier"
    for grid, valves in case.section.grids.items():
        if grid not in case.stresses.t_bias:
            continue
        time = case.stresses.t_bias[grid]
        if time is None or time > _LATE:
            late = "more than 20 s" if time is None else show(time, Dimension.SECOND, 2)
            yield Problem(
                valves[0].mark("grid"),
                f"the bias of {valves[0].name} takes {late} to come up, and {cause} gives the "
                "high tension at once",
                "less capacitance at the wiper, or less resistance before it",
            )


RULES = (
    Rule("plate-volts-contradicted", Severity.WARNING,
         "Plate volts and the readings of the high tension contradict each other.",
         "idle currents are predicted at the plate volts, and these would be wrong",
         "Correct the one or the other.", _look_contradiction),
    Rule("valve-volts", Severity.WARNING, "A valve has more volts than its data sheet allows.",
         "above its limits a sample may arc over, however well it is biased",
         "Choose another type, or lower the volts.", _look_volts),
    Rule("pot-can-over-run", Severity.WARNING,
         "The pot can drive a valve beyond its dissipation limit.",
         "whoever turns the pot without a meter can destroy the valves",
         "Raise the foot resistor.", _look_over, needs_simulation=True),
    Rule("window-missed", Severity.WARNING, "No position of the pot gives the idle current wanted.",
         "the pot runs out of travel before the valves are where they belong",
         "Change the foot or the series resistor.", _look_window, needs_simulation=True),
    Rule("bias-late", Severity.WARNING, "The bias comes later than the high tension.",
         "valves that are still hot from before conduct without bias until it has come up",
         "Make the bias faster.", _look_late, needs_simulation=True),
)  # fmt: skip
