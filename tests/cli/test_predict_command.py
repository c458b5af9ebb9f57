"""The command `predict` as a user calls it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest

from netcheck.changes import read_positions
from netcheck.cli import run
from netcheck.commands.common import load
from netcheck.engine.service import Service
from netcheck.report.data import schema
from netcheck.resources import folder

pytestmark = pytest.mark.usefixtures("service")

CIRCUIT = "two-6v6gt-foot"


def predicted(capsys: pytest.CaptureFixture[str], *options: str) -> dict[str, object]:
    """What `predict --json` says about the example circuit."""
    assert run(["predict", CIRCUIT, "--json", *options]) == 0
    data: dict[str, object] = json.loads(capsys.readouterr().out)
    return data


def volts(data: dict[str, object], node: str = "grid1") -> list[float]:
    """The predicted volts of a grid."""
    grids = data["grids"]
    assert isinstance(grids, dict)
    found: list[float] = grids[node]["volts"]
    return found


def test_json_obeys_its_schema(capsys: pytest.CaptureFixture[str]) -> None:
    data = predicted(capsys)
    jsonschema.validate(data, schema("predict"))
    assert len(volts(data)) == 11
    assert data["settled"] is True


def test_json_is_the_same_on_every_run(capsys: pytest.CaptureFixture[str]) -> None:
    run(["predict", CIRCUIT, "--json"])
    first = capsys.readouterr().out
    run(["predict", CIRCUIT, "--json"])
    assert capsys.readouterr().out == first


def test_at_gives_one_position_of_the_travel(capsys: pytest.CaptureFixture[str]) -> None:
    whole = volts(predicted(capsys))
    only = predicted(capsys, "--at", "30%")
    assert only["travel"] == [0.3]
    # The search for the steady state ends within 0.1 mV + 1e-5 of a capacitor's voltage.
    assert volts(only)[0] == pytest.approx(whole[3], abs=2e-3)


@pytest.mark.parametrize(
    ("terminal", "travel"), [("CLOCKWISE", 1.0), ("ANTICLOCKWISE", 0.0), ("MIDDLE", 0.5)]
)
def test_a_position_has_the_words_of_a_sheet(terminal: str, travel: float) -> None:
    """All that the grammar of readings has for it."""
    grammar = (folder("grammars") / "readings.lark").read_text("utf-8")
    (line,) = re.findall(rf"^{terminal}: (.*)", grammar, re.MULTILINE)
    words = re.findall(r'"(\w+)"i', line)
    assert len(words) > 1
    for word in (*words, words[0].upper()):
        assert read_positions(load(CIRCUIT), [word, f"RV1 = {word}"]) == (travel, {"RV1": travel})


def test_more_foot_resistance_makes_the_grids_more_negative(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Common practice: more in the foot, more negative; more in series, less negative."""
    drawn = volts(predicted(capsys))[5]
    assert volts(predicted(capsys, "--set", "R3=33k"))[5] < drawn - 1.0
    assert volts(predicted(capsys, "--set", "R2=22k"))[5] > drawn + 1.0


def test_bias_follows_the_mains(capsys: pytest.CaptureFixture[str]) -> None:
    at_230, at_253 = (volts(predicted(capsys, "--mains", m))[5] for m in ("230", "253 V"))
    # Ten per cent more on the winding; the diode's drop does not grow with it, so a little more.
    assert at_253 / at_230 == pytest.approx(1.10, abs=0.01)


def test_a_meter_reads_less_than_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    bare = volts(predicted(capsys))[5]
    ten, one = (volts(predicted(capsys, "--meter", r))[5] for r in ("10M", "1M"))
    assert bare < ten < one < 0
    # By hand: about 68k + 10k of source resistance against 1 Mohm.
    assert one / bare == pytest.approx(1 / (1 + 0.078), abs=0.015)


def test_the_report_fits_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["predict", CIRCUIT]) == 0
    out = capsys.readouterr().out
    assert max(len(line) for line in out.splitlines()) <= 80
    assert "95 of 100" in out
    assert "lethal" in out


def test_svg_is_written_whole_and_not_over_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "curve.svg"
    assert run(["predict", CIRCUIT, "--svg", str(target)]) == 0
    first = target.read_bytes()
    assert first.startswith(b"<?xml")
    assert run(["predict", CIRCUIT, "--svg", str(target)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert target.read_bytes() == first
    assert run(["predict", CIRCUIT, "--svg", str(target), "--replace"]) == 0
    assert target.read_bytes() == first  # the same bytes for the same prediction


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--set", "R3"], "write a name and a value"),
        (["--set", "R33=10k"], 'did you mean "R3"?'),
        (["--set", "R3=47 uF"], "a resistance"),
        (["--set", "R3=4,7k"], "comma"),
        (["--set", "V1=10k"], "no value to change"),
        (["--set", "R3=-10k"], "outside of what a part can have"),
        (["--at", "130%"], "0% to 100%"),
        (["--at", "RV9=30%"], 'no pot "RV9"'),
        (["--at", "halfway"], "halfway"),
        (["--pot", "RV2"], 'did you mean "RV1"?'),
        (["--mains", "2300"], "believable mains voltage"),
        (["--mains", "lots"], "lots"),
        (["--meter", "3 ohm"], "believable meter"),
        (["--window", "70-60%"], "does not rise"),
        (["--window", "warm"], "is not a window"),
    ],
)
def test_a_bad_option_is_said_in_a_sentence(
    options: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["predict", CIRCUIT, *options]) == 2
    captured = capsys.readouterr()
    assert said in captured.err
    assert "Traceback" not in captured.err
    assert captured.out == ""


def test_export_is_a_deck_that_names_its_nodes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "deck.cir"
    assert run(["export", CIRCUIT, "--at", "30%", "-o", str(target)]) == 0
    deck = target.read_text()
    assert ".tran" in deck
    assert "is node sweep" in deck
    assert run(["export", CIRCUIT]) == 0
    assert ".end" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("name", "was", "now", "change"),
    [
        ("two-6v6gt-foot", "  10k  ", "  22k  ", "RV1=22k"),
        ("two-el34-zener", " ground 47 V", " ground 33 V", "Z1=33V"),
    ],
)
def test_another_value_is_another_part(
    name: str, was: str, now: str, change: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another pot has other stops, another zener another resistance: as if it were typed so."""
    run(["circuits", "--show", name])
    text = capsys.readouterr().out
    assert was in text
    typed = tmp_path / "typed.bias"
    typed.write_text(text.replace(was, now))
    found = []
    for words in ([str(typed)], [name, "--set", change]):
        assert run(["predict", *words, "--json"]) == 0
        found.append(json.loads(capsys.readouterr().out)["grids"]["grid1"]["volts"])
    assert found[0] == pytest.approx(found[1], abs=2e-3)


@pytest.mark.parametrize(
    "words",
    [["predict", CIRCUIT, "--svg"], ["compare", CIRCUIT, CIRCUIT, "--svg"],
     ["draw", CIRCUIT, "-o"], ["sweep", CIRCUIT, "R3", "--svg"], ["export", CIRCUIT, "-o"],
     ["remedy", CIRCUIT, "--apply"], ["report", CIRCUIT, "-o"], ["demo", "-o"]],
    ids=lambda words: words[0],
)  # fmt: skip
def test_a_file_that_may_not_be_replaced_is_refused_before_the_simulation(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def simulated(*_: object, **__: object) -> list[object]:
        raise AssertionError("it was simulated")

    monkeypatch.setattr(Service, "solve", simulated)
    target = tmp_path / "picture.svg"
    target.write_text("mine", "utf-8")
    assert run([*words, str(target)]) == 2
    said = capsys.readouterr().err
    assert "exists already" in said
    assert "--replace" in said
    assert target.read_text("utf-8") == "mine"
