"""A fuse that blew or a strap that broke is a part like any other."""

from __future__ import annotations

import pytest

from netcheck.diagnose.diagnosis import Verdict, diagnose
from netcheck.engine.elements import GROUND, Resistance
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.readings import Kind, Meter, Position, Reading, State
from netcheck.readout.links import with_links_as_parts
from netcheck.readout.model import SectionModel
from netcheck.source import Source

TEXT = """\
circuit "Two 6V6GT with a fuse and a strap, invented"
mains 230 V 50 Hz
winding   T1   from ground to sec       48 Vac   source 60 ohm
link      F1   from sec to tap
resistor  R1   from tap to feed         470 ohm   10%
diode     D1   anode raw  cathode feed
capacitor C1   plus ground  minus raw   47 uF   100 V
resistor  R2   from raw to head         18k   10%
pot       RV1  top head  wiper arm  bottom foot   10k   20%   clockwise bottom
resistor  R3   from foot to ground      27k   5%
resistor  R6   from head to arm         220k   10%
link      W1   from arm to sweep
resistor  R4   from sweep to grid1      68k   10%
valve     V1   6V6GT   grid grid1   plate 390 V   screen 385 V
"""
R_METER = 10e6


def section() -> Section:
    circuit, findings = parse_circuit(Source("fused.bias", TEXT))
    assert circuit is not None, findings
    return Section(circuit)


@pytest.fixture(scope="module")
def model(service: Service) -> SectionModel:
    return SectionModel(Predictor(section(), service))


def read(service: Service, changes: dict[str, float]) -> list[Reading]:
    """Volts as ngspice has them with a link of another resistance, by a meter of 10 Mohm."""
    drawn = Section(with_links_as_parts(section().circuit))
    predictor = Predictor(drawn, service, changes)
    state = State(pots={"RV1": Position(1.0, turn=1)}, turn=1)
    values = predictor.values({"RV1": 1.0})
    found = []
    for node in ("raw", "head", "arm", "sweep", "grid1"):
        loaded = predictor.whole(values, [Resistance("meter", node, GROUND, R_METER)])
        found.append(Reading(Kind.DC, round(loaded.mean[node], 1), 0.1, state,
                             Meter("dmm"), node, GROUND))  # fmt: skip
    return found


@pytest.mark.parametrize("link", ["F1", "W1"])
def test_an_open_link_is_named_or_among_the_suspects(
    link: str, model: SectionModel, service: Service
) -> None:
    found = diagnose(model, read(service, {link: 1e9}), 2026)
    assert link in [suspect.label for suspect in found.group]
    assert found.verdict in {Verdict.NAMED, Verdict.GROUP}
    if link == "W1":  # nothing else parts the arm from the sweep
        assert [suspect.label for suspect in found.group] == ["W1"]


def test_sound_links_are_no_suspects(model: SectionModel, service: Service) -> None:
    found = diagnose(model, read(service, {}), 2026)
    links = sum(s.probability for s in found.suspects if s.label in {"F1", "W1"})
    assert links < 0.1  # a little resistance in a link cannot be seen in these volts
