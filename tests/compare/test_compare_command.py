"""The command `compare` as a user calls it."""

from __future__ import annotations

import contextlib
import functools
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

import jsonschema
import pytest

from netcheck.cli import run
from netcheck.report.data import schema
from netcheck.resources import folder

pytestmark = pytest.mark.usefixtures("service")

SOUND = """\
readings for two-6v6gt-foot.bias
meter dmm 10 Mohm dcv 0.5% + 2 digits range 200 V resolution 0.1 V ohms 0.8% + 1 digit
as found
  mains 230 V
  RV1 at clockwise
    raw -60.7 V
    grid1 -29.9 V
    grid2 -29.9 V
  RV1 at middle
    grid1 -35.1 V
  RV1 at anticlockwise
    grid1 -40.4 V
    V1 cathode 9.3 mA plate 395 V
  power off discharged
    R3 27.2k
"""
FAULTY = SOUND.replace("27.2k", "20.2k").replace("-29.9", "-25.4")
LEFT = SOUND.replace("readings for", "\n#").replace("meter dmm", "\n#").replace("found", "left")


def sheet(folder: Path, text: str) -> str:
    path = folder / "job.readings"
    path.write_text(text, encoding="utf-8")
    return str(path)


class Said(NamedTuple):
    """What a run of the command came to."""

    code: int
    out: str
    err: str


def compared(circuit: str, path: str, *options: str) -> Said:
    """Run the command."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run(["compare", circuit, path, *options])
    assert "Traceback" not in err.getvalue()
    return Said(code, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Said]:
    """What the command says of a text; the same is not simulated twice."""
    place = tmp_path_factory.mktemp("sheets")

    @functools.cache
    def once(text: str, *options: str) -> Said:
        return compared("two-6v6gt-foot", sheet(place, text), *options)

    return once


Once = Callable[..., Said]


def test_a_sound_chassis_is_consistent(said: Once) -> None:
    code, out, _ = said(SOUND)
    assert code == 0
    assert out.startswith("As found: consistent with the drawing")
    assert "netcheck diagnose" not in out
    assert "lethal" in out.split("\n\n")[-1]


def test_both_stages_are_shown_and_the_last_one_counts(said: Once) -> None:
    code, out, _ = said(FAULTY + LEFT)
    assert code == 0
    assert out.index("As found: not consistent") < out.index("As left: consistent")
    code, out, _ = said(FAULTY + LEFT, "--stage", "left", "--no-plot")
    assert code == 0
    assert "As found" not in out
    assert "V against ground" not in out


def test_a_fault_is_not_consistent_and_the_next_command_is_named(said: Once) -> None:
    code, out, _ = said(FAULTY + LEFT, "--stage", "found")
    assert code == 1
    assert "As left" not in out
    verdict = " ".join(out.split("\n\n")[0].split())
    assert verdict.startswith("As found: not consistent with the drawing")
    assert "across R3" in verdict
    assert "where 25.7k to 28.3k" in verdict
    assert "netcheck diagnose two-6v6gt-foot" in out


def test_the_report_fits_eighty_columns(said: Once) -> None:
    for text in (SOUND, FAULTY + LEFT):
        lines = said(text).out.splitlines()
        # The command to type next is not broken.
        assert [line for line in lines if len(line) > 80 and "netcheck diagnose" not in line] == []


def test_readings_stand_under_their_pot_setting(said: Once) -> None:
    out = said(SOUND).out
    order = ["mains", "RV1 fully clockwise", "raw", "RV1 at the middle", "grid1",
             "RV1 fully anticlockwise", "V1 cathode", "power off, RV1 fully", "across R3"]  # fmt: skip
    at = out.index("as found")
    for words in order:
        at = out.index(words, at)
    assert "V against ground" in out[at:]


def test_json_obeys_its_schema_and_says_what_the_text_says(said: Once) -> None:
    found = json.loads(said(FAULTY + LEFT, "--json").out)
    jsonschema.validate(found, schema("compare"))
    assert [stage["stage"] for stage in found["stages"]] == ["as found", "as left"]
    verdicts = [stage["verdict"] for stage in found["stages"]]
    assert verdicts == ["not consistent", "consistent"]
    for stage in found["stages"]:
        rows = stage["readings"]
        assert len(rows) == 9
        assert [row["line"] for row in rows] == sorted(row["line"] for row in rows)
        foot, is_off = rows[-1], stage["verdict"] == "not consistent"
        assert foot["ohms"]["predicted"] == pytest.approx(27e3, rel=1e-4)
        assert foot["outside_band"] is is_off
        assert (len(rows) - 1 in stage["carried_by"]) is is_off
        assert stage["readings_counted"] == sum(row["counts"] for row in rows) == 7
        assert stage["mains"] == {"volts": 230.0, "is_read": True}
        (curve,) = stage["curves"]
        assert len(curve["spots"]) == 4
        assert len(curve["travel"]) == len(curve["volts"]) == 11


def test_the_picture_has_every_reading_of_a_grid(tmp_path: Path) -> None:
    path, target = sheet(tmp_path, SOUND), tmp_path / "curve.svg"
    words = ("two-6v6gt-foot", path, "--json", "--svg", str(target))
    said = compared(*words)
    assert said.code == 0
    first = target.read_bytes()
    ids = {element.get("id") for element in ElementTree.fromstring(first).iter()}
    lines = [(7, "grid1"), (8, "grid2"), (10, "grid1"), (12, "grid1")]
    assert {f"reading-{line}-{node}" for line, node in lines} <= ids
    assert compared(*words).code == 2  # not over another file
    assert target.read_bytes() == first
    again = compared(*words, "--replace")
    assert (again.code, again.out) == (0, said.out)  # the same bytes for the same readings
    assert target.read_bytes() == first


NODE = "junction_of_the_second_grid_leak_and_the_coupling_capacitor_to_the_right"


def test_long_names_take_lines_of_their_own(tmp_path: Path) -> None:
    text = (folder("circuits") / "two-6v6gta-direct.bias").read_text(encoding="utf-8")
    circuit = tmp_path / "long.bias"
    circuit.write_text(text.replace("grid1", NODE), encoding="utf-8")
    readings = f"readings for long.bias\nas found\n  {NODE} -30.0 V\n  grid2 -30.1 V\n"
    out = compared(str(circuit), sheet(tmp_path, readings), "--no-plot").out
    assert NODE in out
    assert max(len(line) for line in out.splitlines() if "netcheck diagnose" not in line) <= 80


def test_what_cannot_be_predicted_is_nothing_to_compare(tmp_path: Path) -> None:
    path = sheet(tmp_path, "readings for two-6v6gta-direct.bias\nas found\n  V1 plate 402 V\n")
    code, out, _ = compared("two-6v6gta-direct", path)
    assert code == 0
    assert "nothing to compare" in out
    assert "drawn" in out


@pytest.mark.parametrize(
    ("change", "options", "said"),
    [
        (("grid1", "grdi1"), [], 'did you mean "grid1"?'),
        (("as found", "as left"), ["--stage", "found"], "no reading as found"),
        (("as found", "# as found"), [], "as found"),
        (("", ""), ["--stage", "later"], "later"),
        (("RV1 at", "# RV1 at"), ["--svg", "never.svg", "--no-plot"], "nothing to draw"),
    ],
    ids=["unknown node", "empty stage", "no stage", "bad option", "no picture"],
)
def test_unusable_input_is_said_in_a_sentence(
    change: tuple[str, str], options: list[str], said: str, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    path = sheet(tmp_path, SOUND.replace(*change) if change[0] else SOUND)
    assert run(["compare", "two-6v6gt-foot", path, *options]) == 2
    captured = capsys.readouterr()
    assert said in captured.err
    assert "Traceback" not in captured.err
    assert captured.out == ""
    assert not Path("never.svg").exists()


def test_two_files_cannot_both_be_standard_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["compare", "-", "-"]) == 2
    assert "standard input" in capsys.readouterr().err


def test_a_junction_that_may_conduct_is_told(said: Once) -> None:
    text = SOUND.replace("1 digit", "1 digit test 2 V")
    code, out, _ = said(text + "    from raw to ground 700 ohm\n", "--no-plot")
    assert code == 0
    told = " ".join(out.split())
    assert "raw to ground: with 2 V from the meter and its red lead on raw D1 conducts" in told
    assert "That explains the reading" in told


def test_without_ngspice_there_is_a_sentence_and_exit_code_3(tmp_path: Path) -> None:
    nowhere = {"NGSPICE_LIBRARY_PATH": str(tmp_path / "libngspice.so")}
    words = [sys.executable, "-m", "netcheck", "compare", "two-6v6gt-foot", sheet(tmp_path, SOUND)]
    done = subprocess.run(words, capture_output=True, text=True, check=False,
                          env=os.environ | nowhere, timeout=60)  # fmt: skip
    assert done.returncode == 3
    assert "ngspice" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
