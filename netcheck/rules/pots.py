"""Rules about the pots: what they set, and what happens at their ends and when they fail."""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Severity
from ..netlist import OPEN, Pot
from ..polarity import NOTHING, Floats, MeanNetwork
from ..roles import Role
from .rule import Case, Problem, Rule

_ZERO = 0.08  # less than this share of the most negative is as good as no bias
_STILL = 2e-3  # of a source's volts: what a pot's mere load on it may do
_MARGIN = 0.03  # of the voltage; less is a matter of tolerances
_NEARLY = 0.8  # of the least bias that can be set
_RANGE = 0.1  # of the most negative: a pot that moves less only trims


def _totals(case: Case, pot: Pot, wiper: float) -> dict[str, float | None]:
    network = MeanNetwork(case.topology, {pot.name: wiper})
    return {grid: network.total(grid) for grid in case.section.grids}


def _look_shorted(case: Case) -> Iterator[Problem]:
    """The two ends of a pot are on different nodes.

    bad: link W1 from head to foot
    good: resistor R9 from sweep to ground 1M
    """
    at = case.topology.at
    for pot in case.section.circuit.of(Pot):
        if OPEN not in (pot.top, pot.bottom) and at(pot.top) == at(pot.bottom):
            yield Problem(
                pot.mark("bottom"),
                f"both ends of {pot.name} are on one node",
                "correct one of them, or take the link away that joins them",
            )


def _look_open(case: Case) -> Iterator[Problem]:
    """A pot is joined at two terminals at least, and they differ.

    bad: pot RV2 top open wiper sweep bottom open 10k
    good: pot RV2 top open wiper sweep bottom ground 1M
    """
    at = case.topology.at
    for pot in case.section.circuit.of(Pot):
        nodes = {at(node) for _, node in pot.terminals if node != OPEN}
        if len(nodes) < 2:
            yield Problem(
                pot.span,
                f"{pot.name} is joined to a single node and sets nothing",
                "join its ends as the schematic shows them",
            )


def _look_effect(case: Case) -> Iterator[Problem]:
    """Turning a pot moves a grid.

    bad: pot RV2 top raw wiper idle bottom ground 100k
    bad: resistor R9 from idle to ground 1M
    good: pot RV2 top sweep wiper sweep bottom ground 1M
    """
    at = case.topology.at
    if not _has_bias(case):
        return  # no pot could move anything; the reason has been told
    for pot in case.section.circuit.of(Pot):
        nodes = {at(node) for _, node in pot.terminals if node != OPEN}
        if len(nodes) < 2 or case.role(pot) is Role.LEVEL_POT:
            continue
        low, high = (MeanNetwork(case.topology, {pot.name: w}) for w in (0.1, 0.9))
        moves = [
            float(abs(b - a).max())
            for grid in case.section.grids
            if (a := low.volts(grid)) is not None and (b := high.volts(grid)) is not None
        ]
        if moves and max(moves) < _STILL:
            yield Problem(
                pot.span,
                f"turning {pot.name} moves no grid",
                "look at the node of its wiper",
            )


def _has_bias(case: Case) -> bool:
    volts: list[Floats | None] = [case.network.volts(grid) for grid in case.section.grids]
    return any(v is not None and bool((abs(v) > NOTHING).any()) for v in volts)


def _look_end(case: Case) -> Iterator[Problem]:
    """No end of a pot leaves a grid without bias.

    bad: resistor R3 from foot to ground 1 ohm
    good: resistor R3 from foot to ground 27k
    """
    for pot in case.section.circuit.of(Pot):
        if case.role(pot) is Role.LEVEL_POT:
            yield from _level_end(case, pot)
            continue
        bottom, top = (_totals(case, pot, w) for w in (0.0, 1.0))
        lost: dict[str, list[str]] = {}
        for grid, valves in case.section.grids.items():
            if bottom[grid] is None or top[grid] is None:
                continue
            low, high = abs(bottom[grid] or 0.0), abs(top[grid] or 0.0)
            if max(low, high) > 1e-6 and min(low, high) < _ZERO * max(low, high):
                end = "bottom" if low < high else "top"
                lost.setdefault(end, []).extend(valve.name for valve in valves)
        for end, names in lost.items():
            yield Problem(
                pot.mark(end),
                f"at its {end} {pot.name} leaves {', '.join(names)} with hardly any bias",
                "a resistor between that end and ground keeps some bias at the stop",
            )


def _level_end(case: Case, pot: Pot) -> Iterator[Problem]:
    """In front of the rectifier an end at ground takes the alternating voltage away."""
    for end in ("top", "bottom"):
        node = pot.top if end == "top" else pot.bottom
        if case.topology.at(node) in case.topology.quiet:
            yield Problem(
                pot.mark(end),
                f"at its {end} {pot.name} takes the voltage off the rectifier: no grid has bias",
                "a resistor between that end and ground keeps some bias at the stop",
            )


def _look_lift(case: Case) -> Iterator[Problem]:
    """A lifting wiper makes the grids more negative.

    bad: capacitor R6 from head to sweep 100n
    good: resistor R6 from head to sweep 220k
    """
    for pot in case.section.circuit.of(Pot):
        lifted = MeanNetwork(case.topology, lifted=[pot.name])
        bottom, top = (_totals(case, pot, w) for w in (0.0, 1.0))
        lost: dict[str, list[str]] = {}
        for grid, valves in case.section.grids.items():
            if bottom[grid] is None or top[grid] is None:
                continue
            least, most = sorted(abs(v[grid] or 0.0) for v in (bottom, top))
            if most - least < 1e-4:
                continue
            volts = lifted.total(grid)
            if volts is None or abs(volts) < least * _held(case, pot, least, most):
                gone = "nothing holds" if volts is None or abs(volts) < 1e-6 else "too little holds"
                lost.setdefault(gone, []).extend(valve.name for valve in valves)
        for gone, names in lost.items():
            yield Problem(
                pot.mark("wiper"),
                f"when the wiper of {pot.name} lifts, {gone} {', '.join(names)} negative",
                f"a resistor from the wiper of {pot.name} to {_hold(case, pot)}, some ten to "
                "twenty times the track, hardly moves the travel and saves the valves",
            )


def _held(case: Case, pot: Pot, least: float, most: float) -> float:
    """How much of the least bias that can be set must be left when the wiper lifts. [1]

    A resistor that holds the wiper has some volts across it, so a little less will do. But a
    resistor to the wrong end leaves just the least, the hottest setting there is: where the
    wiper is not strapped to an end, and the pot has a range to speak of, that is too little.
    """
    if case.role(pot) is Role.LEVEL_POT:
        return _MARGIN  # in front of the rectifier only the wiring tells: is there any hold?
    at = case.topology.at
    strapped = at(pot.wiper) in (at(pot.top), at(pot.bottom)) or OPEN in (pot.top, pot.bottom)
    return _NEARLY if strapped or most - least < _RANGE * most else 1.0 + _MARGIN


def _hold(case: Case, pot: Pot) -> str:
    """Where the resistor goes that holds the grids when the wiper lifts."""
    if case.role(pot) is Role.LEVEL_POT:
        return "its end at the winding"
    at, ends = case.topology.at, ("top", "bottom")
    volts = [case.network.total(at(n)) for n in (pot.top, pot.bottom) if n != OPEN]
    if len(volts) == 2 and volts[0] is not None and volts[1] is not None:
        return f"its {ends[0] if volts[0] < volts[1] else ends[1]}, the more negative end"
    return "its more negative end"


RULES = (
    Rule("pot-shorted", Severity.ERROR, "Both ends of a pot are on one node.",
         "such a pot sets nothing", "Correct the node.", _look_shorted),
    Rule("pot-unconnected", Severity.ERROR, "A pot is joined to a single node.",
         "such a pot sets nothing", "Join its ends.", _look_open),
    Rule("pot-without-effect", Severity.WARNING, "Turning a pot moves no grid.",
         "a bias pot that moves no grid is joined to the wrong node",
         "Look at the node of its wiper.", _look_effect),
    Rule("bias-lost-at-the-end", Severity.WARNING, "An end of a pot leaves a grid without bias.",
         "whoever turns the pot to that stop destroys the valves",
         "Add a foot resistor.", _look_end),
    Rule("bias-lost-when-wiper-lifts", Severity.WARNING,
         "A wiper that lifts leaves a grid with less bias than any setting.",
         "wipers of old pots lift; the grid must then go more negative, not towards zero",
         "Add a resistor from the wiper to the negative end.", _look_lift),
)  # fmt: skip
