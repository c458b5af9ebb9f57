"""Windings and rectifiers read with the power off."""

from __future__ import annotations

import pytest

from netcheck.diagnose.candidates import candidates
from netcheck.diagnose.diagnosis import Verdict, diagnose
from netcheck.diagnose.words import mode_words, request
from netcheck.engine.service import Service
from netcheck.readings import OVERLOAD, Kind

from ..chassis.chassis import Chassis
from ..chassis.faults import Fault
from ..chassis.plans import Item, other_resistances
from .conftest import Models
from .sections import METER, YEAR, at, dc, ohms
from .test_volts_gone import HALF_A_WINDING

OFF = at({"RV1": 0.0}, live=False)
DEAD = [dc("raw", 0.0, at({"RV1": 0.0}, turn=1)), dc("grid1", 0.0, at({"RV1": 0.0}, turn=1))]
BRIDGE = {"D1": ("ac1", "raw"), "D2": ("ac2", "raw"), "D3": ("ground", "ac1"),
          "D4": ("ground", "ac2")}  # fmt: skip
"""Cathode and anode of each diode of the example with a bridge."""


def test_a_winding_that_reads_open_is_open(models: Models) -> None:
    model = models("two-6v6gt-foot")
    assert diagnose(model, DEAD, YEAR).suspects[0].probability < 0.9
    found = diagnose(model, [*DEAD, ohms(("ground", "tap"), OVERLOAD, OFF)], YEAR)
    assert found.verdict is Verdict.NAMED
    assert found.suspects[0].label == "T1"
    assert mode_words(model.section, found.suspects[0].mode) == "T1 is open"


def test_a_winding_that_reads_as_copper_is_not_open(models: Models) -> None:
    # The source as drawn holds the primary's share too; of it the meter sees a third, say.
    model = models("two-6v6gt-foot")
    found = diagnose(model, [*DEAD, ohms(("ground", "tap"), 20.0, OFF)], YEAR)
    assert found.verdict is not Verdict.NONE_FITS
    whole = diagnose(model, DEAD, YEAR)
    share = {s.label: s.probability for s in whole.suspects}["T1"]
    assert {s.label: s.probability for s in found.suspects}["T1"] < share


def test_half_a_winding_that_reads_open(models: Models) -> None:
    model = models("two-el34-coupled")
    halves = [ohms(("ht2", "ground"), OVERLOAD, OFF), ohms(("ht1", "ground"), 98.0, OFF)]
    found = diagnose(model, [*HALF_A_WINDING, *halves], YEAR)
    assert found.verdict is Verdict.NAMED
    assert found.suspects[0].label == "T1"
    assert mode_words(model.section, found.suspects[0].mode) == "the half to ht2 of T1 is open"


def test_the_shorted_diode_of_a_bridge(models: Models, service: Service) -> None:
    """Simulated: by its volts alone it cannot be told from its three companions."""
    model = models("two-7591-bridge")
    chassis = Chassis(model.section, [Fault("D3", "short")], 3, service)
    live = [Item(Kind.DC, "raw", "ground", state=at({"RV1": 1.0}, turn=1)),
            Item(Kind.DC, "raw", "ground", state=at({"RV1": 0.0}, turn=2))]  # fmt: skip
    volts = chassis.readings(live)
    found = diagnose(model, volts, YEAR)
    assert max(s.probability for s in found.suspects) < 0.5
    across = [item for item in other_resistances(model.section) if not item.part]
    assert {(item.plus, item.minus) for item in across} == {*BRIDGE.values(), ("ac1", "ac2")}
    told = diagnose(model, [*volts, *chassis.readings(across)], YEAR)
    assert told.verdict is Verdict.NAMED
    assert told.suspects[0].label == "D3"
    assert mode_words(model.section, told.suspects[0].mode) == "D3 is shorted"


@pytest.mark.parametrize(("part", "nodes"), [("D1", ("feed", "raw")), ("C1", ("ground", "raw"))])
def test_what_broke_down_to_some_ohms(part: str, nodes: tuple[str, str], models: Models) -> None:
    # A junction or an electrolytic that fails is seldom a piece of wire.
    model = models("two-6v6gt-foot")
    found = diagnose(model, [*DEAD, ohms(nodes, 22.0, OFF)], YEAR)
    assert found.verdict is Verdict.NAMED
    (suspect,) = found.group
    assert suspect.label == part
    (fitted,) = suspect.mode.fitted
    assert fitted.nominal == pytest.approx(22.0, rel=0.02)
    assert fitted.low < 22.0 < fitted.high
    assert mode_words(model.section, suspect.mode).startswith(f"{part} has broken down")


def test_rectifiers_and_windings_are_asked_for(models: Models) -> None:
    # With the red lead on the cathode, so that a sound rectifier does not conduct.
    model = models("two-7591-bridge")
    asked = [c.reading for c in candidates(model, [], METER, ["RV1"])
             if c.reading.kind is Kind.OHMS and not c.reading.part]  # fmt: skip
    between = {(r.plus, r.minus) for r in asked}
    assert set(BRIDGE.values()) | {("ac1", "ac2")} <= between
    at_the_winding = next(r for r in asked if (r.plus, r.minus) == ("ac1", "ac2"))
    told = request(model.section, at_the_winding)
    assert "resistance across T1, from ac1 to ac2, red lead on ac1, with the power off" in told
    halves = [c.reading for c in candidates(models("two-el34-coupled"), [], METER, ["RV1"])
              if c.reading.kind is Kind.OHMS]  # fmt: skip
    assert {("ht1", "ground"), ("ground", "ht2")} <= {(r.plus, r.minus) for r in halves}
    assert not any(r.state.live for r in halves)
