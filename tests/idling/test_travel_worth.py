"""What the travel of the pot is worth, end to end: circuit text to verdict."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from netcheck.cli import run
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.report.data import prediction_data, schema
from netcheck.report.valvetravel import sentences
from netcheck.source import Source
from netcheck.travel import Prediction, predict
from netcheck.valvetravel import Verdict

from ..rules.base import changed


def predicted(service: Service, *lines: str, **options: object) -> Prediction:
    """The sound circuit, changed and predicted."""
    circuit, findings = parse_circuit(Source("x", changed(list(lines))))
    assert circuit is not None, findings
    return predict(Predictor(Section(circuit), service), with_start=False, **options)  # type: ignore[arg-type]


def test_the_sound_circuit_covers_the_window(service: Service) -> None:
    one = predicted(service).valves.valves[0]
    assert one.verdict is Verdict.COVERS
    assert one.inside is not None
    assert one.middle is not None
    assert one.inside[0] < one.middle < one.inside[1]
    said = sentences(one)[0]
    assert said.startswith("travel covers the window of 60 to 70 % of 12 W from ")


def test_too_much_foot_runs_out_cold(service: Service) -> None:
    """Common practice: more resistance in the foot, more negative, less current."""
    one = predicted(service, "resistor R3 from foot to ground 47k").valves.valves[0]
    assert one.verdict is Verdict.COLD
    assert sentences(one)[0].startswith("runs out: even fully clockwise the valve stays below ")


def test_too_little_foot_runs_out_hot_and_over_runs(service: Service) -> None:
    one = predicted(service, "resistor R3 from foot to ground 3k3").valves.valves[0]
    assert one.verdict is Verdict.HOT
    assert one.over is not None
    assert "fully anticlockwise the valve draws" in sentences(one)[0]
    assert sentences(one)[1].startswith("beyond the limit ")


def test_the_window_can_be_changed(service: Service) -> None:
    narrow = predicted(service).valves.valves[0]
    wide = predicted(service, window=(0.5, 0.7)).valves.valves[0]
    assert wide.inside is not None
    assert narrow.inside is not None
    assert wide.inside[0] < narrow.inside[0]
    assert wide.inside[1] == pytest.approx(narrow.inside[1])


def test_dissipation_by_hand(service: Service) -> None:
    """W = V I, and the cathode current is more than the plate's by the screen's."""
    now = predicted(service).valves.valves[0].idle
    assert now.p_plate == pytest.approx(now.v_plate * now.i_plate)
    assert np.all(now.i_cathode > now.i_plate)
    assert now.v_plate == pytest.approx(310.0 - now.i_cathode * 1.0)


def test_the_ends_of_the_window_are_where_the_dissipation_says(service: Service) -> None:
    """Asked for at those positions, the prediction gives 60 and 70 per cent of 12 W."""
    whole = predicted(service).valves.valves[0]
    assert whole.inside is not None
    there = predicted(service, travel=list(whole.inside)).valves.valves[0]
    # The ends are found among 401 positions, each a step of some 0.3 % of the limit.
    assert there.idle.p_plate == pytest.approx([0.60 * 12.0, 0.70 * 12.0], abs=0.05)


def test_the_band_holds_sample_spread_and_grid_band(service: Service) -> None:
    plain = predicted(service).valves.valves[0]
    ratio = plain.i_high / plain.i_low
    assert np.all(ratio > np.exp(2 * 1.96 * 0.22))  # the spread of samples alone
    line = "valve V1 6V6GT grid grid1 plate 310 V screen 280 V cathode 1 ohm draws 30 mA at -17 V"
    known = predicted(service, line).valves.valves[0]
    assert np.all(known.i_high / known.i_low < ratio)


def test_a_sagging_supply_is_solved_with_the_current(service: Service) -> None:
    stiff = predicted(service)
    assert stiff.valves.constant_plate
    soft = predicted(service, "hightension source 500 ohm at 50 mA")
    assert not soft.valves.constant_plate
    one = soft.valves.valves[0].idle
    total = 2.0 * one.i_cathode
    assert one.v_plate == pytest.approx(310.0 - 500.0 * (total - 50e-3) - one.i_cathode)
    same = predicted(service, "hightension 315 V at 40 mA 305 V at 60 mA").valves.valves[0].idle
    assert same.i_cathode == pytest.approx(one.i_cathode)  # 10 V in 20 mA are 500 ohm


def test_a_tremolo_swings_the_grids_and_is_judged_at_its_peak(service: Service) -> None:
    lines = ["tremolo OSC from ground to osc 60 Vpp 4 Hz source 100k",
             "capacitor C5 from osc to sweep 100n",
             "capacitor C2 plus ground minus sweep 1 uF 63 V"]  # fmt: skip
    found = predicted(service, *lines)
    assert found.at_peak is not None
    swing = found.swing["grid1"]
    assert np.all((swing > 0.5) & (swing < 10.0))
    assert np.all(found.at_peak.valves[0].idle.i_cathode > found.valves.valves[0].idle.i_cathode)
    data = prediction_data(found)
    jsonschema.validate(data, schema("predict"))
    assert data["tremolo_swing_volts"]["grid1"] == pytest.approx(swing, rel=1e-5)


def test_valves_that_cannot_be_modelled_are_left_out_with_the_reason(service: Service) -> None:
    found = predicted(service, "valve V1 6V6GT grid grid1")
    assert found.valves.left_out == {"V1": "its plate volts are not given"}
    assert [one.valve.name for one in found.valves.valves] == ["V2"]


OWN = """
["6P99X"]
kind = "pentode"
source = "an invented sheet"
status = "memory"
rows = [
  { plate_V = 250, screen_V = 250, grid_V = -12.5, plate_mA = 45, screen_mA = 4.5, gm_mA_V = 4.1 },
  { plate_V = 315, screen_V = 225, grid_V = -13, plate_mA = 34, screen_mA = 2.2, gm_mA_V = 3.75 },
]
["6P99X".limits]
rating = "design centre"
plate_W = 12
screen_W = 2
plate_V = 400
screen_V = 400
grid_circuit = [{ fixed_kohm = 100, cathode_kohm = 500 }]
"""


@pytest.mark.usefixtures("service")
def test_own_valve_types_beside_the_circuit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    circuit = tmp_path / "amp.bias"
    circuit.write_text(changed([]).replace("6V6GT  grid", "6P99X  grid"), encoding="utf-8")
    assert run(["predict", str(circuit), "--json"]) == 2
    assert "valves.toml" in capsys.readouterr().err
    (tmp_path / "valves.toml").write_text(OWN, encoding="utf-8")
    assert run(["predict", str(circuit), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["valves"]["V1"]["type"] == "6P99X"
    assert run(["format", str(circuit)]) == 0
    capsys.readouterr()
    (tmp_path / "valves.toml").write_text(OWN.replace("plate_W", "plat_W"), encoding="utf-8")
    assert run(["check", str(circuit)]) == 2
    assert 'did you mean "plate_W"?' in capsys.readouterr().err
