"""Readings that could be taken next, with what each costs in effort and danger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..engine.elements import GROUND
from ..graph import Section
from ..netlist import Capacitor, Diode, Part, Pot, Resistor, Valve, Winding, Zener
from ..readings import Kind, Meter, Position, Reading, State
from ..readout.links import is_link
from ..readout.model import SectionModel

FIRST_TURN = 1000
"""Turns of readings that are not taken yet count from here. [count]"""

_OFF, _LIVE, _LIVE_INSIDE, _MAINS_SIDE, _LIFT = 1.0, 1.6, 2.0, 2.6, 3.0
"""Effort and danger: power off and in circuit is least; live at a pot or a grid's pin, then
elsewhere; on the winding; and unsoldering most. Common practice. [1]"""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading that could be taken.

    Parameters
    ----------
    reading : Reading
        What it would be; its value is still unknown.
    effort : float
        Effort and danger, 1 for a resistance in circuit with the power off. [1]
    """

    reading: Reading
    effort: float


def candidates(model: SectionModel, taken: Sequence[Reading], meter: Meter, pots: Sequence[str],
               *, valves_out: bool = False) -> list[Candidate]:  # fmt: skip
    """Every reading that could be taken and was not.

    Parameters
    ----------
    model : SectionModel
        The section.
    taken : sequence of Reading
        What was read already.
    meter : Meter
        What it would be taken with.
    pots : sequence of str
        The pots that set the bias; all others stay where they are.
    valves_out : bool
        Whether the output valves are out of their sockets.
    """
    had = {_key(reading) for reading in taken}
    every = [*_live(model, meter, pots, valves_out), *_off(model.section, meter, pots)]
    found: dict[tuple[object, ...], Candidate] = {}
    for candidate in every:
        key = _key(candidate.reading)
        if key not in had:
            found.setdefault(key, candidate)
    return list(found.values())


def _key(reading: Reading) -> tuple[object, ...]:
    """What makes two readings the same one."""
    ends = tuple(sorted((reading.plus, reading.minus)))
    where: tuple[object, ...] = ()
    if reading.kind in {Kind.DC, Kind.CURRENT, Kind.CATHODE}:
        where = tuple(sorted((n, round(p.travel, 2)) for n, p in reading.state.pots.items()))
    part = reading.part if reading.kind not in {Kind.DC, Kind.OHMS, Kind.AC} else ""
    kind = Kind.AC if reading.kind is Kind.RIPPLE else reading.kind
    kind = Kind.CURRENT if kind is Kind.CATHODE else kind
    return kind, ends, part, where


def _live(model: SectionModel, meter: Meter, pots: Sequence[str],
          valves_out: bool) -> Iterator[Candidate]:  # fmt: skip
    section = model.section
    handy = {pot.wiper for pot in section.circuit.of(Pot)} | set(section.grids)
    handy = {section.joined[node] for node in handy}
    alone = _representatives(section)
    ends = [(0.0, False), (1.0, False), (0.5, True)] if pots else [(0.5, True)]
    for turn, (travel, by_eye) in enumerate(ends, start=FIRST_TURN):
        state = State(pots={pot: Position(travel, by_eye, turn) for pot in pots}, turn=turn,
                      valves_out=valves_out)  # fmt: skip
        for node in model.live_wiring.nodes:
            if node in alone:
                effort = _LIVE if node in handy else _LIVE_INSIDE
                yield _candidate(Kind.DC, state, meter, effort, alone[node], GROUND)
        for valve in section.circuit.of(Valve):
            if valve.name in model.valves and not valves_out:
                yield Candidate(Reading(Kind.CURRENT, 0.0, 1e-4, state, meter, part=valve.name),
                                _LIVE)  # fmt: skip
    state = State(pots={pot: Position(0.0, turn=FIRST_TURN) for pot in pots}, turn=FIRST_TURN)
    yield from _leaks(section, state, meter)
    yield from _alternating(model, state, meter, alone)


def _leaks(section: Section, state: State, meter: Meter) -> Iterator[Candidate]:
    """Volts across grid leaks: what a grid draws shows there, and hardly anywhere else."""
    grids = {section.joined[grid] for grid in section.grids}
    for part in section.circuit.of(Resistor):
        ends = {section.joined[part.start], section.joined[part.end]}
        if len(ends) == 2 and len(ends & grids) == 1 and section.joined[GROUND] not in ends:
            yield _across(Kind.DC, state, meter, _LIVE, part.name, part.start, part.end)


def _alternating(model: SectionModel, state: State, meter: Meter,
                 alone: dict[str, str]) -> Iterator[Candidate]:  # fmt: skip
    section = model.section
    if section.circuit.mains is not None:
        yield _candidate(Kind.MAINS, state, meter, _LIVE, "", "")
    for winding in section.circuit.of(Winding):
        nodes = [node for _, node in winding.terminals]
        middle = winding.centre or winding.start
        for node in nodes:
            if node != middle:
                yield _candidate(Kind.AC, state, meter, _MAINS_SIDE, node, middle)
    smoothed = {section.joined[node] for c in section.circuit.of(Capacitor)
                for _, node in c.terminals}  # fmt: skip
    for node in model.live_wiring.nodes:
        if node in smoothed and node in alone and model.front is not None:
            yield _candidate(Kind.AC, state, meter, _LIVE_INSIDE, alone[node], GROUND)


def _off(section: Section, meter: Meter, pots: Sequence[str]) -> Iterator[Candidate]:
    state = State(live=False, pots={pot: Position(0.0, turn=FIRST_TURN) for pot in pots},
                  turn=FIRST_TURN,
                  discharged=True)  # fmt: skip
    for part in section.circuit.parts:
        if isinstance(part, Resistor):
            yield _across(Kind.OHMS, state, meter, _OFF, part.name, part.start, part.end)
            if not is_link(part):
                yield _across(Kind.LIFTED, state, meter, _LIFT, part.name, "", "")
        elif isinstance(part, Pot):
            for a, b in (
                (part.top, part.bottom),
                (part.top, part.wiper),
                (part.wiper, part.bottom),
            ):
                if "open" not in (a, b) and section.joined[a] != section.joined[b]:
                    yield _across(Kind.OHMS, state, meter, _OFF, part.name, a, b)
            yield _across(Kind.LIFTED, state, meter, _LIFT, part.name, "", "")
        elif isinstance(part, Capacitor):
            yield _across(Kind.OHMS, state, meter, _OFF, part.name, part.start, part.end)
            yield Candidate(Reading(Kind.CAPACITANCE, 0.0, 0.0, state, meter, part=part.name),
                            _LIFT)  # fmt: skip
        else:
            yield from _by_nodes(section, part, state, meter)


def _by_nodes(section: Section, part: Part, state: State, meter: Meter) -> Iterator[Candidate]:
    """Readings of rectifiers and windings; a valve rectifier is cold and shows nothing forward."""
    if isinstance(part, Diode) and part.material != "vacuum":
        yield _across(Kind.FORWARD, state, meter, _OFF, part.name, part.anode, part.cathode)
    for plus, minus in nodes_to_read(part):
        if section.joined[plus] != section.joined[minus]:
            yield _candidate(Kind.OHMS, state, meter, _OFF, plus, minus)


def nodes_to_read(part: Part) -> Iterator[tuple[str, str]]:
    """Between what nodes the resistance of a rectifier or a winding is read.

    By its nodes and not across it, for a rectifier has its cathode at the red lead: a sound one
    does not conduct then.
    """
    if isinstance(part, Diode | Zener):
        yield part.cathode, part.anode
    elif isinstance(part, Winding):
        yield from pairwise([n for n in (part.start, part.centre, part.end) if n is not None])


def _representatives(section: Section) -> dict[str, str]:
    """For each node that links join the name to show: one of a part's terminals."""
    found: dict[str, str] = {}
    for node in section.circuit.nodes:
        if node != GROUND and section.joined[node] != GROUND:
            found.setdefault(section.joined[node], node)
    return found


def _candidate(kind: Kind, state: State, meter: Meter, effort: float, plus: str,
               minus: str) -> Candidate:  # fmt: skip
    return Candidate(Reading(kind, 0.0, 0.0, state, meter, plus, minus), effort)


def _across(kind: Kind, state: State, meter: Meter, effort: float, part: str, plus: str,
            minus: str) -> Candidate:  # fmt: skip
    return Candidate(Reading(kind, 0.0, 0.0, state, meter, plus, minus, part), effort)
