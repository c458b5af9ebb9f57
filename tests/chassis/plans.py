"""What to read: lists of readings to take, as a technician would."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from netcheck.diagnose.candidates import nodes_to_read
from netcheck.graph import Section
from netcheck.netlist import GROUND, OPEN, Capacitor, Pot, Resistor, Valve, Winding
from netcheck.predictor import Predictor
from netcheck.readings import Kind, Position, State
from netcheck.sweeping import swept_pots


@dataclass(frozen=True, slots=True)
class Item:
    """A reading to take; the fields are those of `netcheck.readings.Reading`."""

    kind: Kind
    plus: str = ""
    minus: str = ""
    part: str = ""
    state: State = field(default_factory=State)


def voltages(predictor: Predictor) -> list[Item]:
    """Direct volts of all nodes at both ends and the middle of travel, and what alternates.

    Nodes in front of the rectifier, the taps of the windings and the ripple do not need the
    pot to be turned: they are read at the middle.
    """
    section = predictor.section
    anticlockwise, clockwise, middle = settings(predictor)
    items = [Item(Kind.MAINS, state=middle)] if section.circuit.mains is not None else []
    for node in quiet_nodes(section):
        states = (anticlockwise, clockwise, middle) if list(predictor.pots()) else (middle,)
        items += [Item(Kind.DC, node, GROUND, state=state) for state in states]
    for node in front_nodes(section):
        items.append(Item(Kind.DC, node, GROUND, state=middle))
        items.append(Item(Kind.AC, node, GROUND, state=middle))
    items += [Item(Kind.AC, plus, minus, state=middle) for plus, minus in taps(section)]
    items += [Item(Kind.AC, n, GROUND, state=middle) for n in smoothed_nodes(section)]
    return items


def voltages_and_resistances(predictor: Predictor) -> list[Item]:
    """The same, and the resistance across every resistor and pot, soldered in, power off."""
    return voltages(predictor) + resistances(predictor.section)


def resistances(section: Section) -> list[Item]:
    """The resistance across every resistor and pot, each pot at the stop that shows its track."""
    at, state, items = section.joined, _switched_off(section), []
    for part in section.circuit.parts:
        if isinstance(part, Resistor):
            items.append(Item(Kind.OHMS, part.start, part.end, part.name, state))
        elif isinstance(part, Pot):
            ends = [n for n in (part.top, part.wiper, part.bottom) if n != OPEN]
            items.append(Item(Kind.OHMS, ends[0], ends[-1], part.name, state))
    return [item for item in items if at[item.plus] != at[item.minus]]


def other_resistances(section: Section) -> list[Item]:
    """The same of capacitors, rectifiers (the red lead on the cathode) and windings."""
    at, state, items = section.joined, _switched_off(section), []
    for part in section.circuit.parts:
        if isinstance(part, Capacitor):
            items.append(Item(Kind.OHMS, part.start, part.end, part.name, state))
        items += [Item(Kind.OHMS, *pair, state=state) for pair in nodes_to_read(part)]
    return [item for item in items if at[item.plus] != at[item.minus]]


def four_voltages(predictor: Predictor) -> list[Item]:
    """The reservoir, and a grid at both ends and the middle; without a pot any four nodes."""
    section = predictor.section
    quiet = quiet_nodes(section)
    cut = section.cut
    first = next((n for n in quiet if cut is not None and n in cut.ports), quiet[0])
    anticlockwise, clockwise, middle = settings(predictor)
    if predictor.pots():
        grid = section.watched[0]
        read = [(first, middle), (grid, anticlockwise), (grid, middle), (grid, clockwise)]
    else:
        read = [(node, middle) for node in dict.fromkeys((first, *quiet))][:4]
    return [Item(Kind.DC, node, GROUND, state=state) for node, state in read]


def settings(predictor: Predictor) -> tuple[State, State, State]:
    """Pots that set the bias at the two stops and, by eye, at the middle; others at the middle."""
    swept = swept_pots(predictor)
    names = [pot.name for pot in predictor.pots()]
    left = Position(0.5, by_eye=True)

    def turned(travel: float, turn: int) -> State:
        to = Position(travel, by_eye=travel == 0.5, turn=turn)
        pots: Mapping[str, Position] = {n: to if n in swept else left for n in names}
        return State(pots=pots, turn=turn)

    return turned(0.0, 0), turned(1.0, 1), turned(0.5, 2)


def quiet_nodes(section: Section) -> list[str]:
    """The nodes behind the rectifiers, the rectifiers' own ends among them."""
    front = set() if section.cut is None else section.cut.front_nodes
    return [node for node in _nodes(section) if node not in front]


def front_nodes(section: Section) -> list[str]:
    """The nodes between the windings and the rectifiers' ends."""
    front = set() if section.cut is None else section.cut.front_nodes
    return [node for node in _nodes(section) if node in front]


def _nodes(section: Section) -> list[str]:
    """All nodes but ground and those of the windings, one for those that links join."""
    at = section.joined
    wound = {at[node] for w in section.circuit.of(Winding) for _, node in w.terminals}
    nodes = dict.fromkeys(at[node] for node in section.circuit.nodes)
    return [node for node in nodes if node not in wound | {GROUND}]


def taps(section: Section) -> Iterator[tuple[str, str]]:
    """Each terminal of a winding that feeds something, and the one it is read against."""
    at = section.joined
    fed = {
        at[node]
        for part in section.circuit.parts
        if not isinstance(part, Winding | Valve)
        for _, node in part.terminals
        if node != OPEN
    }
    for winding in section.circuit.of(Winding):
        against = winding.start if winding.centre is None else winding.centre
        for _, node in winding.terminals:
            if at[node] in fed and at[node] != at[against]:
                yield node, against


def smoothed_nodes(section: Section) -> list[str]:
    """The nodes behind the rectifiers that a capacitor smooths."""
    at = section.joined
    held = {at[node] for c in section.circuit.of(Capacitor) for _, node in c.terminals}
    return [node for node in quiet_nodes(section) if node in held]


def _switched_off(section: Section) -> State:
    """Power off and discharged, each pot where its whole track shows."""
    pots = {pot.name: Position(_parked(section, pot), turn=3) for pot in section.circuit.of(Pot)}
    return State(live=False, pots=pots, discharged=True, turn=3)


def _parked(section: Section, pot: Pot) -> float:
    """The stop at which a rheostat has its whole track between its ends. [1]"""
    at = section.joined
    to_top = pot.top == OPEN or at[pot.top] == at[pot.wiper]
    return 1.0 if (pot.clockwise == "top") == to_top else 0.0
