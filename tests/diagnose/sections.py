"""Small sections and readings made by program."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.readings import OVERLOAD, Kind, Meter, Position, Reading, State
from netcheck.readout.model import SectionModel
from netcheck.source import Source

METER = Meter("dmm")
YEAR = 2025
ANYHOW = State()
"""Live, the pots where nobody knows."""


def model_of(text: str, service: Service | None = None) -> SectionModel:
    """The model of a section written out; without windings it asks for no simulator."""
    circuit, findings = parse_circuit(Source("test.bias", text))
    assert circuit is not None, findings
    return SectionModel(Predictor(Section(circuit), service or Service()))


def at(pots: Mapping[str, float | str], *, live: bool = True, turn: int = 0) -> State:
    """A state: pots at a share of the travel, exactly; "middle" is judged by eye."""
    positions = {
        name: Position(0.5, True, turn) if isinstance(to, str) else Position(to, False, turn)
        for name, to in pots.items()
    }
    return State(live=live, pots=positions, discharged=not live, turn=turn)


def dc(node: str, volts: float, state: State = ANYHOW, meter: Meter = METER) -> Reading:
    """Volts at a node against ground, to a tenth."""
    return Reading(Kind.DC, volts, 0.1, state, meter, node, "ground")


def ohms(nodes: Sequence[str], r: float, state: State | None = None, part: str = "") -> Reading:
    """A resistance with the power off, to four digits, or `OVERLOAD`."""
    digit = 0.0 if r == OVERLOAD else 10.0 ** (len(str(int(r))) - 4)
    off = state or at({}, live=False)
    return Reading(Kind.OHMS, r, digit, off, METER, nodes[0], nodes[1], part)
