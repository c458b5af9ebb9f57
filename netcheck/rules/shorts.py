"""Rules about currents that nothing limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..finding import Related, Severity
from ..netlist import GROUND, Diode, Part, Supply, Winding
from ..polarity import Sign
from ..quantity import Dimension, show_part
from ..roles import Role
from .rule import Case, Problem, Rule

_ALIKE = 0.02  # of the volts: windings that differ by less share a load


def _look_winding(case: Case) -> Iterator[Problem]:
    """No way through diodes alone leads from one end of a winding to the other.

    bad: diode D9 anode tap cathode ground 1000 V
    good: resistor R9 from tap to ground 10k
    """
    at = case.topology.at
    for winding in case.section.circuit.of(Winding):
        ends = list(dict.fromkeys(at(node) for _, node in winding.terminals))
        for start in ends:
            way = _way(case, start, set(ends) - {start})
            if way:
                names = " and ".join(diode.name for diode in way)
                yield Problem(
                    way[0].mark("anode"),
                    f"{names} short{'' if len(way) > 1 else 's'} {winding.name} at every other "
                    "half wave",
                    "compare the diodes with the schematic, one by one; of a bridge neither end "
                    "of the winding is grounded",
                    related=(Related(winding.span, "the winding"),),
                )
                break


def _way(case: Case, start: str, goals: set[str]) -> list[Diode]:
    """The shortest way from anode to cathode through diodes, [] if there is none."""
    at = case.topology.at
    ways: dict[str, list[Diode]] = {start: []}
    queue = [start]
    while queue:
        node = queue.pop(0)
        for edge in case.topology.around(node):
            diode = edge.part
            if not isinstance(diode, Diode) or at(diode.anode) != node:
                continue
            far = edge.other(node)
            if far not in ways:
                ways[far] = [*ways[node], diode]
                queue.append(far)
                if far in goals:
                    return ways[far]
    return []


@dataclass(frozen=True, slots=True)
class _Volts:
    """A difference between two nodes: alternating and direct. [V rms], [V]"""

    ac: float
    dc: float

    def plus(self, other: _Volts, sign: float = 1.0) -> _Volts:
        return _Volts(self.ac + sign * other.ac, self.dc + sign * other.dc)


def _look_clash(case: Case) -> Iterator[Problem]:
    """Windings and supplies in parallel have the same volts.

    bad: winding T2 from ground to tap 30 Vac source 60 ohm
    good: winding T2 from ground to tap 48 Vac source 60 ohm
    """
    at: dict[str, _Volts] = {}
    group: dict[str, int] = {}
    for number, (part, a, b, volts) in enumerate(_stretches(case)):
        if a == b:
            continue  # told as a shorted part
        for node in (a, b):
            if node not in at:
                at[node], group[node] = _Volts(0.0, 0.0), -1 - 2 * number - (node == b)
        if group[a] != group[b]:
            shift, old = at[a].plus(volts).plus(at[b], -1.0), group[b]
            for node in [n for n in group if group[n] == old]:
                at[node], group[node] = at[node].plus(shift), group[a]
            continue
        off = at[b].plus(at[a], -1.0).plus(volts, -1.0)
        if max(abs(off.ac), abs(off.dc)) > _ALIKE * max(abs(volts.ac), abs(volts.dc)):
            apart = show_part(abs(off.dc) or abs(off.ac), Dimension.VOLT)
            yield Problem(
                part.span,
                f"{part.name} works against another winding or supply across it, {apart} apart",
                "correct its nodes, or swap its ends if two windings are meant to share the load",
            )


def _stretches(case: Case) -> Iterator[tuple[Part, str, str, _Volts]]:
    """Each fixed difference between two nodes: part, from, to, volts from the one to the other."""
    at = case.topology.at
    for part in case.section.circuit.parts:
        if isinstance(part, Supply):
            yield part, at(part.minus), at(part.plus), _Volts(0.0, part.v)
        elif isinstance(part, Winding):
            zero = at(part.start if part.centre is None else part.centre)
            yield part, zero, at(part.end), _Volts(part.v_rms, 0.0)
            if part.centre is not None:
                yield part, zero, at(part.start), _Volts(-part.v_rms, 0.0)
            for tap in part.taps:
                yield part, zero, at(tap.node), _Volts(tap.v_rms, 0.0)


def _look_conducting(case: Case) -> Iterator[Problem]:
    """A diode from the bias network to ground blocks.

    bad: diode D9 anode ground cathode sweep 1000 V
    good: diode D9 anode sweep cathode ground 1000 V
    """
    if case.turned:
        return
    for diode in case.section.circuit.of(Diode):
        ends = {case.topology.at(diode.anode), case.topology.at(diode.cathode)}
        if case.role(diode) is not Role.DIODE or GROUND not in ends:
            continue
        if case.network.sign(diode.anode, diode.cathode) is Sign.POSITIVE:
            yield Problem(
                diode.mark("anode"),
                f"{diode.name} conducts to ground and leaves less than 1 V of bias",
                f"turn it: anode {diode.cathode} cathode {diode.anode}",
            )


RULES = (
    Rule("winding-shorted", Severity.ERROR, "Diodes alone lead from end to end of a winding.",
         "they short the winding; the diodes fail, or the transformer burns out",
         "Correct the diodes or the ends of the winding.", _look_winding),
    Rule("windings-clash", Severity.ERROR,
         "Windings or supplies of different volts are in parallel.",
         "a large current circulates between them and burns the weaker one",
         "Correct their nodes.", _look_clash),
    Rule("diode-takes-bias", Severity.ERROR, "A diode conducts the bias to ground.",
         "the grids are left with the drop of one diode, and the valves run away",
         "Turn the diode.", _look_conducting),
)  # fmt: skip
