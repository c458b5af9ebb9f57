"""Rules about parts that must stand one way round."""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Related, Severity
from ..netlist import Capacitor, Zener
from ..polarity import Sign
from ..roles import Role
from .rule import Case, Problem, Rule


def is_turned(case: Case, capacitor: Capacitor) -> bool:
    """Whether the wiring alone tells that an electrolytic is the wrong way round.

    With a rectifier turned all signs are wrong, and no capacitor is to blame.
    """
    if not capacitor.polarised or case.turned:
        return False
    return case.network.sign(capacitor.start, capacitor.end) is Sign.NEGATIVE


def alternates(case: Case, capacitor: Capacitor) -> bool:
    """Whether an electrolytic lies across a winding, with nothing to polarise it."""
    topology = case.topology
    nodes = {topology.at(capacitor.start), topology.at(capacitor.end)}
    return (
        capacitor.polarised
        and len(nodes) > 1
        and bool(nodes & topology.winding_side)
        and nodes <= topology.winding_side | topology.quiet
    )


def _look_electrolytic(case: Case) -> Iterator[Problem]:
    """An electrolytic has its plus at the more positive node.

    bad: capacitor C1 plus raw minus ground 47 uF 100 V
    good: capacitor C1 plus ground minus raw 47 uF 100 V
    """
    for capacitor in case.section.circuit.of(Capacitor):
        if is_turned(case, capacitor) and not alternates(case, capacitor):
            yield Problem(
                capacitor.mark("plus"),
                f'{capacitor.name} is the wrong way round: "{capacitor.start}" is the more '
                f"negative of its nodes",
                f"turn it: plus {capacitor.end} minus {capacitor.start}",
            )


def _look_alternating(case: Case) -> Iterator[Problem]:
    """No electrolytic lies across a winding.

    bad: capacitor C9 plus ground minus tap 47 uF 100 V
    good: capacitor C9 from tap to ground 47n 400 V
    """
    for capacitor in case.section.circuit.of(Capacitor):
        if alternates(case, capacitor):
            yield Problem(
                capacitor.span,
                f"{capacitor.name} is an electrolytic on the alternating side of the rectifier",
                "correct its nodes; against spikes a film capacitor is fitted there",
            )


def _look_zener(case: Case) -> Iterator[Problem]:
    """A zener has its cathode at the more positive node.

    bad: zener Z1 anode ground cathode head 43 V
    good: zener Z1 anode head cathode ground 43 V
    """
    for zener in case.section.circuit.of(Zener):
        if case.turned or case.network.sign(zener.cathode, zener.anode) is not Sign.NEGATIVE:
            continue
        shunt = case.role(zener) is Role.REGULATOR
        done = "holds the bias at less than 1 V" if shunt else "takes less than 1 V off"
        yield Problem(
            zener.mark("cathode"),
            f"{zener.name} conducts forward and {done}",
            f"turn it: anode {zener.cathode} cathode {zener.anode}",
            severity=Severity.ERROR if shunt else Severity.WARNING,
            related=(Related(zener.mark("anode"), "the more positive node"),),
        )


RULES = (
    Rule("electrolytic-turned", Severity.ERROR, "An electrolytic is the wrong way round.",
         "an electrolytic with reversed volts leaks, heats up and may burst",
         "Turn the capacitor.", _look_electrolytic),
    Rule("electrolytic-alternating", Severity.ERROR, "An electrolytic lies across a winding.",
         "an electrolytic bears volts of one sign only; on alternating voltage it boils and bursts",
         "Correct its nodes.", _look_alternating),
    Rule("zener-turned", Severity.ERROR, "A zener is the wrong way round.",
         "forward it is a plain diode: the bias is gone, or higher than planned",
         "Turn the zener.", _look_zener),
)  # fmt: skip
