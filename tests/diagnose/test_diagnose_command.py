"""The command `diagnose` as a user calls it: sheets in, verdicts, exit codes, text and JSON out."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from netcheck.cli import run
from netcheck.commands.progress import ProgressLine
from netcheck.predictor import Predictor
from netcheck.readout import model as model_module
from netcheck.readout.model import SectionModel
from netcheck.report.data import schema
from netcheck.terminal import CAUTION

from .conftest import Models

FOOT = "two-6v6gt-foot"
HEAD = f"readings for {FOOT}.bias\nmeter dmm 10M dcv 0.5% + 2 digits ohms 0.8% + 1 digit\n"

STRAPPED = (
    HEAD
    + """\
as found
  mains 236 V
  tap 49.0 Vac
  RV1 at clockwise
    raw -61.8 V
    grid1 -26.1 V
  RV1 at anticlockwise
    raw -61.9 V
    grid1 -37.8 V
    grid2 -37.9 V
    V1 plate 402 V
  power off discharged
    R2 18.4k
    R3 20.2k
"""
)
"""As the simulation gives it with 82k across the foot resistor of 27k."""

VAGUE = (
    HEAD
    + """\
as found
  RV1 at clockwise
    grid1 -26.1 V
  RV1 at anticlockwise
    grid1 -37.8 V
"""
)

WEAK = (
    HEAD
    + """\
as found
  RV1 at clockwise
    raw -47.3 V
    head -31.7 V
    grid1 -23.3 V
  RV1 at anticlockwise
    raw -47.3 V
    grid1 -31.5 V
"""
)
"""As the simulation gives it with the winding at 78 %."""

SOUND = (
    HEAD.replace("0.5%", "0.1%")
    + """\
as found
  mains 230 V
  RV1 at anticlockwise
    grid1 -12.3 V
as left
  mains 230 V
  tap 47.9 Vac
  RV1 at clockwise
    raw -60.8 V
    head -40.7 V
    foot -30.04 V
    grid1 -29.95 V
    grid2 -29.95 V
  RV1 at anticlockwise
    raw -60.8 V
    grid1 -40.49 V
    grid2 -40.49 V
    V1 cathode 9.48 mA
    V2 cathode 9.48 mA
  power off discharged
    R1 470 ohm
    R2 18.0k
    R3 27.0k
    RV1 10.0k
    R4 68.0k
    R5 68.0k
    C2 lifted 10.0 uF
"""
)
"""As the simulation gives it with every part as drawn."""

LEAK = (
    HEAD
    + """\
as found
  mains 230 V
  tap 47.9 Vac
  RV1 at anticlockwise
    raw -59.9 V
    head -44.7 V
    foot -36.3 V
    grid1 -44.3 V
  power off discharged
    R1 470 ohm
    R2 13.68k
    R3 27.0k
    R4 68.0k
    R5 68.0k
    RV1 8.67k
"""
)
"""As the simulation gives it with 47k from the reservoir to the foot, where nothing is drawn."""

LEAKS = (
    HEAD
    + """\
as found
  mains 230 V
  tap 47.9 Vac
  RV1 at anticlockwise
    raw -59.1 V
    head -40.3 V
    foot -33.4 V
    grid1 -16.4 V
    grid2 -39.9 V
  power off discharged
    R1 470 ohm
    R2 13.66k
    R3 21.87k
    R4 35.5k
    R5 68.0k
    RV1 8.35k
"""
)
"""The same and 47k from the first grid to ground."""


@dataclass(frozen=True)
class Called:
    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        data = json.loads(self.out)
        jsonschema.validate(data, schema("diagnose"))
        return data

    @property
    def said(self) -> str:
        return " ".join(self.out.split())


Diagnose = Callable[..., Called]


@pytest.fixture
def diagnose(tmp_path: Path, capsys: pytest.CaptureFixture[str], models: Models,
             monkeypatch: pytest.MonkeyPatch) -> Diagnose:  # fmt: skip
    """Call the command on a sheet; the simulation of the section is done once for all tests."""

    def ready(predictor: Predictor, progress: object) -> SectionModel:
        return models(FOOT)

    def call(sheet: str, *options: str, circuit: str = FOOT) -> Called:
        file = tmp_path / "sheet.readings"
        file.write_text(sheet, encoding="utf-8")
        with monkeypatch.context() as patched:
            patched.setattr(model_module, "SectionModel", ready)
            code = run(["diagnose", circuit, str(file), *options])
        text = capsys.readouterr()
        return Called(code, text.out, text.err)

    return call


def test_a_named_part(diagnose: Diagnose) -> None:
    done = diagnose(STRAPPED)
    assert done.code == 1
    assert done.said.startswith("R3 acts as 20.2k (20.")
    assert "where 27k is drawn (over 99 % sure): 82k across the 27k drawn" in done.said
    # the evidence: what was measured across R3 stands beside what a sound one would show
    (line,) = [line for line in done.out.splitlines() if line.startswith("across R3")]
    assert line.split()[-2:] == ["20.2k", "strongly"]
    assert "lift one leg of R3 with the power off and measure it alone: about 20.2k" in done.said
    assert "Not used, they say nothing of this section: V1 plate" in done.said
    assert done.said.endswith(CAUTION)
    assert max(map(len, done.out.splitlines())) <= 80


def test_a_named_part_as_data(diagnose: Diagnose) -> None:
    done = diagnose(STRAPPED, "--json")
    data = done.data
    assert done.code == 1
    assert (data["verdict"], data["group"], data["stage"]) == ("named", ["R3"], "as found")
    suspect = data["suspects"][0]
    (fitted,) = suspect["modes"][0]["fitted"]
    assert fitted["parameter"] == "R3"
    assert fitted["ohms"]["low_90"] < fitted["ohms"]["nominal"] < fitted["ohms"]["high_90"]
    assert suspect["explanations"][0]["acts_as"] == pytest.approx(
        1 / (1 / 27e3 + 1 / 82e3), rel=1e-6
    )
    strongest = data["evidence"][0]
    assert data["readings"][strongest["reading"]]["of"] == "across R3"
    assert strongest["ohms"]["measured"] == 20200
    assert strongest["ohms"]["sound"]["low_95"] > 25e3
    assert [r["of"] for r in data["readings_not_used"]] == ["V1 plate"]
    assert sum(s["probability"] for s in data["suspects"]) == pytest.approx(1.0, abs=0.01)


def test_a_group_and_what_would_settle_it(diagnose: Diagnose) -> None:
    done = diagnose(WEAK)
    assert done.code == 1
    assert done.said.startswith("Something is wrong with ")
    assert "these readings cannot tell them apart." in done.said
    assert max(map(len, done.out.splitlines())) <= 80
    data = diagnose(WEAK, "--json").data
    assert data["verdict"] == "group"
    assert {"T1", "the mains"} <= set(data["group"])
    best = data["next_readings"][0]
    assert f"Read next: {best['request']}." in done.said
    assert f"{best['asks_for']}; {best['bits']:.1f} bit" in done.said
    worth = [n["bits"] / n["effort"] for n in data["next_readings"]]
    assert worth == sorted(worth, reverse=True)
    names = {s["name"] for s in data["suspects"]}
    for one in data["next_readings"]:
        (values,) = (
            one[unit] for unit in one if isinstance(one[unit], dict) and "likely" in one[unit]
        )
        assert set(values["if_fault"]) <= names
        assert (
            values["likely"]["low_90"] <= values["likely"]["nominal"] <= values["likely"]["high_90"]
        )


def test_too_little_to_go_by(diagnose: Diagnose) -> None:
    done = diagnose(VAGUE)
    assert done.code == 1
    assert done.said.startswith("Undetermined: ")
    assert "More readings are needed." in done.said
    data = diagnose(VAGUE, "--json").data
    assert data["verdict"] == "undetermined"
    assert "nothing wrong" in data["group"]


def test_a_sound_section_as_left(diagnose: Diagnose) -> None:
    done = diagnose(SOUND, "--stage", "left")
    assert done.said.startswith("These readings agree with the drawing")
    assert done.code == 0
    assert "as left from" in done.said
    assert diagnose(SOUND).code == 1  # as found comes first where there is one
    assert diagnose(SOUND, "--stage", "found", "--json").data["stage"] == "as found"


def test_a_leak_that_is_not_drawn(diagnose: Diagnose) -> None:
    done = diagnose(LEAK)
    assert done.code == 1
    assert done.said.startswith("No part is at fault, but a leak raw to foot that is not drawn is "
                                "there, of 4")  # fmt: skip
    assert "dirt, damp or burning across a tag strip" in done.said
    assert "Look for it with the power off" in done.said
    (suspect, *_) = diagnose(LEAK, "--json").data["suspects"]
    assert suspect["name"] == "a leak raw to foot that is not drawn"
    (fitted,) = suspect["modes"][0]["fitted"]
    assert fitted["ohms"]["low_90"] < 47e3 < fitted["ohms"]["high_90"]


def test_nothing_fits(diagnose: Diagnose) -> None:
    done = diagnose(LEAKS)
    assert done.code == 1
    assert done.said.startswith("Nothing that is thought of here fits these readings")
    assert "Check the drawing against the chassis" in done.said
    assert "a leak that is not drawn" in done.said
    assert "does not go with the rest" in done.said
    data = diagnose(LEAKS, "--json").data
    assert data["verdict"] == "none fits"
    assert data["odd_readings"]
    assert data["chance_of_misfit"] < 0.01


def test_a_reading_that_looks_misread(diagnose: Diagnose) -> None:
    sheet = SOUND.replace("grid2 -29.95 V", "grid2 -2.995 V")
    done = diagnose(sheet, "--stage", "left")
    assert done.code == 1
    assert done.said.startswith("The chassis looks sound, but the reading of grid2 (RV1 cw) looks like "
                                "-3.00 V for -30.0 V")  # fmt: skip
    assert "all other readings make it" in done.said


def test_a_mains_that_is_off_is_told(diagnose: Diagnose) -> None:
    assert "The mains was read as" not in diagnose(STRAPPED).said
    done = diagnose(STRAPPED.replace("mains 236 V", "mains 271 V"))
    assert "The mains was read as 271 V, 18 % above the 230 V drawn" in done.said


def test_resistances_of_a_chassis_that_may_be_charged(diagnose: Diagnose) -> None:
    done = diagnose(STRAPPED.replace("power off discharged", "power off"))
    assert "does not say that the capacitors were discharged" in done.said


@pytest.mark.parametrize("options", [["--stage", "left"], ["--stage", "left", "--json"]])
def test_a_stage_without_readings(options: list[str], diagnose: Diagnose) -> None:
    done = diagnose(STRAPPED, *options)
    assert done.code == 2
    assert "it holds no reading as left" in done.err
    assert not done.out


def test_an_empty_sheet(diagnose: Diagnose) -> None:
    done = diagnose(HEAD)
    assert done.code == 2
    assert "it holds no reading" in done.err


def test_faults_of_the_sheet_are_shown_with_their_place(diagnose: Diagnose) -> None:
    done = diagnose(VAGUE.replace("grid1 -26.1 V", "grdi1 -26.1 V"))
    assert done.code == 2
    assert "sheet.readings:5:5: error" in " ".join(done.err.split())
    doubtful = diagnose(VAGUE.replace("-26.1 V", "26.1 V"))
    assert doubtful.code == 1
    assert "warning" in doubtful.err  # a bias that is positive: leads swapped?
    assert diagnose(VAGUE.replace("-26.1 V", "26.1 V"), "--json").data["findings"]


def test_files_that_are_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["diagnose", FOOT, "no-such.readings"]) == 2
    assert run(["diagnose", "no-such", "no-such.readings"]) == 2
    assert run(["diagnose", "-", "-"]) == 2
    assert "only one of the files" in capsys.readouterr().err


def test_standard_input_and_order_of_hashes(tmp_path: Path) -> None:
    outputs = []
    for seed in ("0", "1"):
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", "diagnose", FOOT, "-", "--json"],
            input=VAGUE, capture_output=True, text=True, check=False, timeout=60,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )  # fmt: skip
        assert done.returncode == 1, done.stderr
        assert not done.stderr  # no progress where nobody watches
        outputs.append(done.stdout)
    assert outputs[0] == outputs[1]
    jsonschema.validate(json.loads(outputs[0]), schema("diagnose"))


class Watched(io.StringIO):
    """A terminal of somebody who watches."""

    def isatty(self) -> bool:
        return True


def test_progress_is_one_line_that_is_erased() -> None:
    seen = Watched()
    with ProgressLine(seen) as progress:
        progress("simulating the rectifier under faults", 20, 104)
        progress("weighing", 0, 0)
    text = seen.getvalue()
    assert "\rsimulating the rectifier under faults: 20 of 104" in text
    assert "\n" not in text
    # what is left on the screen: every character of the longest line overwritten with blanks
    screen = [" "] * 100
    column = 0
    for char in text:
        if char == "\r":
            column = 0
        else:
            screen[column] = char
            column += 1
    assert "".join(screen).strip() == ""
    assert column == 0


def test_no_progress_where_nobody_watches() -> None:
    silent = io.StringIO()
    with ProgressLine(silent) as progress:
        progress("simulating", 1, 2)
    assert silent.getvalue() == ""


@pytest.mark.usefixtures("service")
def test_the_model_says_how_far_it_is() -> None:
    from netcheck.commands.common import load  # noqa: PLC0415
    from netcheck.engine.service import Service  # noqa: PLC0415
    from netcheck.graph import Section  # noqa: PLC0415

    said: list[tuple[str, int, int]] = []
    with Service() as service:
        SectionModel(
            Predictor(Section(load("two-el84-fixed")), service), lambda *step: said.append(step)
        )
    assert len({what for what, _, _ in said}) == 1
    done = [n for _, n, _ in said]
    assert done == sorted(done)
    assert len(done) >= 2
    assert all(n <= total for _, n, total in said)
