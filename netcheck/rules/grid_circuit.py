"""The rule about the resistance between a grid and its cathode."""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Severity
from ..netlist import Pot, Valve
from ..polarity import MeanNetwork
from ..quantity import show_part
from ..valves import lookup
from .rule import Case, Problem, Rule


def _look(case: Case) -> Iterator[Problem]:
    """The resistance from a grid to ground is within the data sheet's limit for fixed bias.

    It is counted through the whole path, supplies closed, at the pot position where it is
    largest. Where the limit depends on dissipation, that of the middle of the window counts.

    bad: resistor R4 from sweep to grid1 470k
    good: resistor R4 from sweep to grid1 68k
    """
    pots = [pot.name for pot in case.section.circuit.of(Pot)]
    networks = [
        MeanNetwork(case.topology, dict.fromkeys(pots, w)) for w in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
    for valve in case.section.circuit.of(Valve):
        kind = lookup(valve.type, case.section.circuit.own_types)
        limit = None if kind is None else kind.limits.r_grid_circuit(p_total=_p_total(case, valve))
        counted = [r for n in networks if (r := n.r_to_ground(valve.grid)) is not None]
        if kind is None or limit is None or not counted or max(counted) <= limit * 1.02:
            continue
        r = max(counted)
        yield Problem(
            valve.mark("grid"),
            f"the grid circuit of {valve.name} has {show_part(r)}; the data sheet of the "
            f"{kind.name} allows {show_part(limit)} with fixed bias",
            f"smaller grid leaks bring it down ({kind.limits.origin.source})",
            severity=Severity.WARNING if r > 1.5 * limit else Severity.NOTE,
        )


def _p_total(case: Case, valve: Valve) -> float | None:
    if case.stresses is None or valve.name not in case.stresses.valves:
        return None
    return case.stresses.valves[valve.name].p_total


RULES = (
    Rule("grid-circuit-resistance", Severity.WARNING,
         "The grid circuit has more resistance than the data sheet allows.",
         "a trace of grid current through it lifts the grid, which makes more of it: the valve "
         "runs away when it is old or hot",
         "Fit smaller grid leaks.", _look),
)  # fmt: skip
