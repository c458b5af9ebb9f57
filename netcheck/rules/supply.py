"""Rules about how the direct voltage is made and reaches the grids."""

from __future__ import annotations

from collections.abc import Iterator

import networkx as nx

from ..finding import Related, Severity
from ..netlist import GROUND, Supply, Winding
from ..polarity import NOTHING
from .rule import Case, Problem, Rule


def _look_fed(case: Case) -> Iterator[Problem]:
    """Every grid has a path for direct current to a source.

    bad: resistor R4 from lost to grid1 68k
    bad: resistor R9 from lost to ground 100k
    good: resistor R4 from sweep to grid1 68k
    """
    joined = case.section.joined
    paths = nx.relabel_nodes(case.section.dc, joined)
    paths.remove_node(GROUND)
    outside = set(map(case.section.at, case.section.circuit.elsewhere))
    for grid, valves in case.section.grids.items():
        volts = case.network.volts(grid)
        if joined[grid] == GROUND or (volts is not None and any(abs(volts) > NOTHING)):
            continue
        if nx.node_connected_component(paths, joined[grid]) & outside:
            continue
        valve = valves[0]
        yield Problem(
            valve.mark("grid"),
            f'no direct current can reach the grid of {valve.name} ("{grid}") from the supply',
            "follow the path back from the grid: a resistor is missing or joined to another node",
        )


def _look_positive(case: Case) -> Iterator[Problem]:
    """No direct path leads from a positive supply to a grid.

    bad: supply HT plus hot minus ground 400 V
    bad: resistor R9 from hot to sweep 1M
    good: elsewhere ht
    good: capacitor C9 from ht to grid1 100n 630 V
    """
    for grid, valves in case.section.grids.items():
        volts = case.network.volts(grid)
        if volts is None:
            continue
        for source, share in zip(case.network.sources, volts, strict=True):
            if isinstance(source, Supply) and share > NOTHING:
                yield Problem(
                    valves[0].mark("grid"),
                    f"direct current from {source.name} reaches the grid of {valves[0].name} and "
                    "pulls it positive",
                    "find the resistor that joins the two; a leaky coupling capacitor does it too",
                    related=(Related(source.span, "the positive supply"),),
                )


def _look_turned(case: Case) -> Iterator[Problem]:
    """The rectifier makes the grids negative.

    bad: diode D1 anode feed cathode raw 1000 V
    good: diode D1 anode raw cathode feed 1000 V
    """
    for diode in case.turned:
        yield Problem(
            diode.mark("anode"),
            f"{diode.name} makes the grids positive",
            f"turn {diode.name} round: its anode belongs to the side of the bias line; "
            "electrolytics that had reversed volts are best replaced",
        )


def _look_reservoir(case: Case) -> Iterator[Problem]:
    """A capacitor holds the volts at the rectifier's output.

    bad: capacitor C1 from tap to ground 47n 100 V
    good: capacitor C1 plus ground minus raw 47 uF 100 V
    """
    for output in case.topology.outputs:
        if output.has_reservoir:
            continue
        ends = {
            d.name: d
            for d in case.topology.rectifiers
            if output.start in (case.topology.at(d.anode), case.topology.at(d.cathode))
        }
        span = next((d.span for d in ends.values()), case.section.circuit.parts[0].span)
        yield Problem(
            span,
            f'there is no reservoir capacitor at the rectifier\'s output ("{output.node}")',
            "add the reservoir, plus to ground, or correct the node it is joined to",
        )


def _look_rectifier(case: Case) -> Iterator[Problem]:
    """A winding needs a rectifier before it can bias a grid.

    bad: resistor D1 from feed to raw 10 ohm
    good: diode D1 anode raw cathode feed 1000 V
    """
    windings = list(case.section.circuit.of(Winding))
    if windings and not case.topology.rectifiers and case.section.watched:
        yield Problem(
            windings[0].span,
            f"nothing rectifies the voltage of {windings[0].name}",
            "add the diode between the winding and the reservoir",
        )


def _look_no_source(case: Case) -> Iterator[Problem]:
    """Something makes volts.

    bad: capacitor T1 from tap to ground 10n
    bad: diode D1 anode raw cathode feed 1000 V
    good: winding T1 from ground to tap 48 Vac source 60 ohm
    """
    circuit = case.section.circuit
    if not case.section.sources and not circuit.elsewhere and circuit.parts:
        yield Problem(
            circuit.parts[0].span,
            "the section holds neither a winding nor a supply",
            'add the winding that feeds it, or "supply ... V" for a direct voltage made elsewhere',
        )


def _look_source_resistance(case: Case) -> Iterator[Problem]:
    """The source resistance of a winding is stated.

    bad: winding T1 from ground to tap 48 Vac
    good: winding T1 from ground to tap 48 Vac source 60 ohm
    """
    for winding in case.section.circuit.of(Winding):
        if winding.r_source is None:
            yield Problem(
                winding.span,
                f"the source resistance of {winding.name} is not stated",
                f'measure {winding.name} with the power off and add "source ... ohm"',
            )


RULES = (
    Rule("no-source", Severity.ERROR, "Nothing in the section makes a voltage.",
         "without a source every grid is at 0 V, and the valves run away",
         "Add the winding or the supply.", _look_no_source),
    Rule("no-rectifier", Severity.ERROR, "A winding has no rectifier.",
         "an alternating voltage has a mean of zero: the grids get no bias",
         "Add the diode.", _look_rectifier),
    Rule("grid-unfed", Severity.ERROR, "A grid has no path for direct current to the supply.",
         "a grid that no path holds negative drifts up, and its valve runs away",
         "Join the grid to the bias line through its grid leak.", _look_fed),
    Rule("positive-at-grid", Severity.ERROR, "A positive supply reaches a grid.",
         "a grid pulled positive draws the valve into destruction",
         "Take the path away.", _look_positive),
    Rule("rectifier-turned", Severity.ERROR, "The rectifier makes the grids positive.",
         "grids must be negative; positive ones destroy the valves in seconds",
         "Turn the diode.", _look_turned),
    Rule("no-reservoir", Severity.ERROR, "No capacitor holds the rectifier's output.",
         "without it the bias is a train of pulses: it hums, and its mean is far too small",
         "Add the reservoir.", _look_reservoir),
    Rule("source-resistance-unstated", Severity.NOTE,
         "A winding's source resistance is not stated.",
         "it is taken as 1 ohm for each volt, which may be off by two",
         "Measure it and add it.", _look_source_resistance),
)  # fmt: skip
