"""What the names in a sheet mean: nodes, parts, valves and pots of the circuit."""

from __future__ import annotations

from dataclasses import replace

from ..finding import Finding, Severity
from ..graph import Section
from ..netlist import GROUND, OPEN, Capacitor, Diode, Part, Pot, Valve, Zener
from ..parse.words import nearest
from ..readings import DIODE_TEST, Kind, Position, Reading, Sheet
from ..source import Span
from .shown import place_of

_OF_VALVES = {
    Kind.CURRENT: "a cathode current",
    Kind.CATHODE: "the voltage across a cathode resistor",
    Kind.PLATE: "a plate voltage",
    Kind.SCREEN: "a screen voltage",
}
_OF_CAPACITORS = {Kind.CAPACITANCE: "a capacitance", Kind.ESR: "a series resistance (esr)"}


class Naming:
    """Finds the nodes and parts that readings are of; complaints gather in `findings`.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    section : Section
        The circuit.
    """

    def __init__(self, sheet: Sheet, section: Section) -> None:
        self.findings: list[Finding] = []
        self._sheet = sheet
        circuit = section.circuit
        self._nodes = {GROUND, *circuit.nodes}
        self._parts = {part.name: part for part in circuit.parts}
        self._pots_told: set[tuple[str, Span]] = set()

    def resolved(self, reading: Reading) -> Reading | None:
        """The reading with its nodes; None, with an error, if it cannot be used."""
        before = len(self.findings)
        for name, position in reading.state.pots.items():
            self._pot(name, position)
        found = self._resolved(reading)
        errors = [f for f in self.findings[before:] if f.severity is Severity.ERROR]
        return None if errors else found

    def _resolved(self, reading: Reading) -> Reading:
        if reading.kind is Kind.MAINS:
            return reading
        if not reading.part:
            return self._between(reading)
        if reading.kind is Kind.OHMS and reading.minus == GROUND and not reading.plus:
            return self._either(reading)
        part = self._part(reading)
        if part is None:
            return reading
        if reading.kind in (Kind.DC, Kind.AC, Kind.RIPPLE, Kind.OHMS):
            is_grid = reading.minus == GROUND and not reading.plus
            return self._grid(reading, part) if is_grid else self._across(reading, part)
        return self._of_part(reading, part)

    # ------------------------------------------------------------------------- nodes

    def _between(self, reading: Reading) -> Reading:
        for node in (reading.plus, reading.minus):
            if node not in self._nodes:
                self._unknown_node(reading, node)
        if reading.plus == reading.minus:
            self._error("same-node", reading.span, f"both leads are on {reading.plus}",
                        "there is nothing to read between a node and itself",
                        "name the node of the other lead")  # fmt: skip
        return reading

    def _unknown_node(self, reading: Reading, node: str) -> None:
        span = self._span(reading, node)
        part = self._parts.get(node)
        if isinstance(part, Valve):
            self._error("not-a-node", span, f"{node} is a valve, not a node",
                        "a valve is read at its cathode, plate, screen or grid",
                        f'write "{node} grid" or the node, "{part.grid}"')  # fmt: skip
        elif part is not None:
            self._error("not-a-node", span, f"{node} is a {part.kind}, not a node",
                        "a voltage stands at a node, or across a part",
                        f'write "across {node}"')  # fmt: skip
        else:
            near = nearest(node, [*sorted(self._nodes), *self._parts, "mains"], 0.5)
            self._error("unknown-node", span, f'there is no node "{node}" in the circuit',
                        self._listed_nodes(), _did_you_mean(near))  # fmt: skip

    def _either(self, reading: Reading) -> Reading:
        """Ohms at a name that may be a part's or a node's: parts are meant first."""
        name = reading.part
        part = self._parts.get(name)
        if part is None and name in self._nodes:
            return replace(reading, part="", plus=name)
        if part is None:
            near = nearest(name, [*self._parts, *sorted(self._nodes)], 0.5)
            self._error("unknown-part", self._span(reading, name),
                        f'there is no part and no node "{name}" in the circuit', "",
                        _did_you_mean(near))  # fmt: skip
            return reading
        if name in self._nodes:
            self.findings.append(Finding(
                "two-meanings", Severity.NOTE, self._sheet.source, self._span(reading, name),
                f"{name} is a part and a node too: the part is taken",
                "the resistance across a part and from a node to ground are two things",
                f'write "across {name}" or "node {name}"',
            ))  # fmt: skip
        return self._across(replace(reading, minus=""), part)

    # ------------------------------------------------------------------------- parts

    def _part(self, reading: Reading) -> Part | None:
        name = reading.part
        part = self._parts.get(name)
        if part is None and name in self._nodes:
            self._error("not-a-part", self._span(reading, name), f"{name} is a node, not a part",
                        "this is read at a part", f'name the part, or write "node {name}" for a '
                        "voltage or a resistance to ground")  # fmt: skip
        elif part is None:
            fitting = self._fitting(reading.kind)
            why = f"these are drawn: {', '.join(fitting)}" if len(fitting) <= 20 else ""
            self._error("unknown-part", self._span(reading, name),
                        f'there is no part "{name}" in the circuit', why,
                        _did_you_mean(nearest(name, fitting, 0.5)))  # fmt: skip
        return part

    def _fitting(self, kind: Kind) -> list[str]:
        """The parts that a kind of reading can be of."""
        wanted: type[Part] = Part
        if kind in _OF_VALVES:
            wanted = Valve
        elif kind in _OF_CAPACITORS:
            wanted = Capacitor
        elif kind in DIODE_TEST:
            return [name for name, part in self._parts.items() if isinstance(part, Diode | Zener)]
        return [name for name, part in self._parts.items() if isinstance(part, wanted)]

    def _grid(self, reading: Reading, part: Part) -> Reading:
        if isinstance(part, Valve):
            return replace(reading, part="", plus=part.grid)
        self._wrong_part(reading, part, "a grid voltage", "a valve")
        return reading

    def _across(self, reading: Reading, part: Part) -> Reading:
        name = part.name
        if isinstance(part, Valve):
            self._error("wrong-part", self._span(reading, name),
                        f"{name} is a valve, with more than two ends",
                        "here something is read across a part",
                        f'name the node of its grid, "{part.grid}"')  # fmt: skip
            return reading
        ends = [node for _, node in part.terminals]
        plus, minus = ends[0], ends[-1]
        if OPEN in (plus, minus):
            whole = f'"{name} lifted"' if reading.kind is Kind.OHMS else "the nodes"
            self._error("free-end", self._span(reading, name),
                        f"one end of {name} has nothing soldered to it",
                        "across its track there is no second node",
                        f'write {whole}, or "from {minus if plus == OPEN else plus} to '
                        f'{ends[1]}"')  # fmt: skip
        return replace(reading, plus=plus, minus=minus)

    def _of_part(self, reading: Reading, part: Part) -> Reading:
        if reading.kind not in DIODE_TEST:
            self._kind_fits(reading, part)
            return reading
        if not isinstance(part, Diode | Zener):
            self._wrong_part(reading, part, "a diode test", "a diode")
            return reading
        forward = reading.kind is Kind.FORWARD
        plus, minus = (part.anode, part.cathode) if forward else (part.cathode, part.anode)
        return replace(reading, plus=plus, minus=minus)

    def _kind_fits(self, reading: Reading, part: Part) -> None:
        if reading.kind in _OF_VALVES and not isinstance(part, Valve):
            self._wrong_part(reading, part, _OF_VALVES[reading.kind], "a valve")
        elif reading.kind is Kind.CATHODE and isinstance(part, Valve) and not part.r_cathode:
            self._error("no-cathode-resistor", reading.span,
                        f"{part.name} has no cathode resistor in the circuit",
                        "volts there say nothing without the resistor that they are across",
                        f'add "cathode 1 ohm" to {part.name} in the circuit, or write the '
                        "current")  # fmt: skip
        elif reading.kind in _OF_CAPACITORS and not isinstance(part, Capacitor):
            self._wrong_part(reading, part, _OF_CAPACITORS[reading.kind], "a capacitor")
        elif reading.kind is Kind.LIFTED and isinstance(part, Valve):
            self._wrong_part(reading, part, "a lifted leg", "a part that is soldered in")

    def _wrong_part(self, reading: Reading, part: Part, read: str, of: str) -> None:
        self._error("wrong-part", self._span(reading, part.name), f"{part.name} is a {part.kind}",
                    f"{read} is read at {of}", "correct the name, or what was read")  # fmt: skip

    def _pot(self, name: str, position: Position) -> None:
        part = self._parts.get(name)
        if isinstance(part, Pot) or (name, position.span) in self._pots_told:
            return
        self._pots_told.add((name, position.span))
        if part is not None:
            self._error("unknown-pot", position.span, f"{name} is a {part.kind}, not a pot",
                        "it has no position", "name the pot that was turned")  # fmt: skip
            return
        pots = [pot.name for pot in self._parts.values() if isinstance(pot, Pot)]
        near = nearest(name, pots, 0.4)
        why = f"its pots: {', '.join(pots)}" if pots else "it has no pot at all"
        self._error("unknown-pot", position.span, f'there is no pot "{name}" in the circuit', why,
                    _did_you_mean(near))  # fmt: skip

    # ---------------------------------------------------------------------- messages

    def _error(self, slug: str, span: Span, what: str, why: str, fix: str) -> None:
        source = self._sheet.source
        self.findings.append(Finding(slug, Severity.ERROR, source, span, what, why, fix))

    def _listed_nodes(self) -> str:
        names = sorted(self._nodes)
        return f"its nodes: {', '.join(names)}" if len(names) <= 20 else ""

    def _span(self, reading: Reading, name: str) -> Span:
        """Where a name stands in the line of a reading; the reading's own place if nowhere."""
        return place_of(self._sheet, reading, name)


def _did_you_mean(near: str | None) -> str:
    return f'did you mean "{near}"?' if near else "look at the names in the circuit file"
