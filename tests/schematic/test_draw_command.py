"""The command `draw` as a user calls it."""

from __future__ import annotations

import contextlib
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import pytest

from netcheck import cli
from netcheck.errors import EngineError
from netcheck.report.schematic import CLASS
from netcheck.resources import folder
from netcheck.terminal import CAUTION

SVG = "{http://www.w3.org/2000/svg}"
FOOT = "two-6v6gt-foot"
SHEET = str(folder("circuits") / f"{FOOT}.readings")

pytestmark = pytest.mark.usefixtures("service", "known")


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command line knows the command."""


class Said(NamedTuple):
    """What a run of the command came to."""

    code: int
    out: str
    err: str


def draw(*arguments: str) -> Said:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = cli.run(["draw", *arguments])
    assert "Traceback" not in err.getvalue()
    return Said(code, out.getvalue(), err.getvalue())


def texts(picture: str, style: str) -> list[str]:
    root = ElementTree.fromstring(picture.encode())
    return [e.text or "" for e in root.iter(f"{SVG}text") if e.get("class") == f"{CLASS}-{style}"]


def volts(picture: str) -> dict[str, str]:
    """The voltages by node, in one line each."""
    found: dict[str, list[str]] = {}
    for e in ElementTree.fromstring(picture.encode()).iter(f"{SVG}text"):
        if e.get("class") == f"{CLASS}-volts":
            found.setdefault(e.get("data-node") or "", []).append(e.text or "")
    return {node: " ".join(lines) for node, lines in found.items()}


@pytest.fixture(scope="module")
def diagnosed(service: object) -> Iterator[str]:
    """The example with its readings, drawn once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(cli._COMMANDS, "draw", "")
        said = draw(FOOT, SHEET, "-o", "-")
        assert said.code == 0, said.err
        yield said.out


def test_a_file_is_written(tmp_path: Path) -> None:
    target = tmp_path / "foot.svg"
    said = draw(FOOT, "-o", str(target))
    assert said == (0, "", "")
    picture = target.read_text(encoding="utf-8")
    assert picture.startswith("<?xml")
    assert set(volts(picture)) == {"tap", "feed", "raw", "head", "sweep", "foot", "grid1", "grid2"}
    assert " to " in volts(picture)["grid1"]
    assert " to " not in volts(picture)["raw"]
    assert CAUTION in " ".join(texts(picture, "remark"))
    assert not texts(picture, "badge")
    assert not texts(picture, "read")
    assert [path.name for path in tmp_path.iterdir()] == ["foot.svg"]


def test_an_existing_file_is_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "foot.svg"
    target.write_text("mine")
    said = draw(FOOT, "-o", str(target), "--no-check")
    assert said.code == 2
    assert "exists already" in said.err
    assert target.read_text() == "mine"
    assert draw(FOOT, "-o", str(target), "--no-check", "--replace").code == 0
    assert "<svg" in target.read_text(encoding="utf-8")


def test_same_bytes_each_time() -> None:
    one = draw("two-el84-fixed", "-o", "-", "--no-check")
    assert one == draw("two-el84-fixed", "-o", "-", "--no-check")
    assert one.out.count("<svg") == 1


def test_readings_stand_below_what_should_be_there(diagnosed: str) -> None:
    read = texts(diagnosed, "read")
    assert "read -26.1 V cw" in read
    assert "read -37.8 V acw" in read
    assert "read 49.0 Vac" in read
    assert any(line.startswith("read 20.2k") for line in read)
    assert "Mains as read: 236 V." in " ".join(texts(diagnosed, "remark"))


def test_the_part_that_explains_them_is_marked(diagnosed: str) -> None:
    root = ElementTree.fromstring(diagnosed.encode())
    framed = [group.get("data-part") for group in root.iter(f"{SVG}g")
              if any(e.get("class") == f"{CLASS}-frame" for e in group)]  # fmt: skip
    assert framed == ["R3"]
    (chance,) = texts(diagnosed, "mark")
    assert re.fullmatch(r"(over )?\d\d %", chance)
    legend = " ".join(texts(diagnosed, "legend"))
    assert re.search(r"R3 acts as 20\.\dk .*where 27k is drawn \((over )?\d\d % sure\)\.", legend)
    assert texts(diagnosed, "badge") == ["1", "1"]


def test_what_the_check_finds_is_marked(tmp_path: Path) -> None:
    text = (folder("circuits") / "faulty" / "zener-turned.bias").read_text(encoding="utf-8")
    path = tmp_path / "turned.bias"
    path.write_text(text, encoding="utf-8")
    said = draw(str(path), "-o", "-")
    assert said.code == 0
    legend = " ".join(texts(said.out, "legend"))
    assert "Error: Z1" in legend
    assert texts(said.out, "badge")
    plain = draw(str(path), "-o", "-", "--no-check")
    assert not texts(plain.out, "badge")
    assert not texts(plain.out, "legend")


def test_at_a_position_single_figures() -> None:
    said = draw(FOOT, "-o", "-", "--at", "30%", "--no-check")
    assert said.code == 0
    assert not any(" to " in text for text in volts(said.out).values())
    assert "RV1 at 30 %" in " ".join(texts(said.out, "remark"))
    ends = [volts(draw(FOOT, "-o", "-", "--at", at, "--no-check").out)["grid1"]
            for at in ("anticlockwise", "clockwise")]  # fmt: skip
    low, high = (float(text.removesuffix(" V")) for text in ends)
    here = float(volts(said.out)["grid1"].removesuffix(" V"))
    assert low < here < high


def test_another_pot_held() -> None:
    said = draw("two-el34-balance", "-o", "-", "--at", "RV2=clockwise", "--no-check")
    assert said.code == 0
    one, two = volts(said.out)["grid1"], volts(said.out)["grid2"]
    assert one != two
    assert "RV2 at 100 %" in " ".join(texts(said.out, "remark"))


def test_themes() -> None:
    assert f"{CLASS}-dark" in draw("two-el84-fixed", "-o", "-", "--theme", "dark", "--no-check").out
    assert "prefers-color-scheme" in draw("two-el84-fixed", "-o", "-", "--no-check").out


def test_from_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    text = (folder("circuits") / "two-6v6gta-direct.bias").read_bytes()

    class Input:
        buffer = io.BytesIO(text)

    monkeypatch.setattr("sys.stdin", Input())
    said = draw("-", "-o", "-")
    assert said.code == 0
    assert set(volts(said.out)) >= {"raw", "grid1"}


# ------------------------------------------------------------------------ what is wrong


def test_a_broken_circuit_is_not_drawn(tmp_path: Path) -> None:
    path = tmp_path / "broken.bias"
    path.write_text("resistor R1 from a to b 4,7k\nnonsense\ncapacitor C1 from a to b 1 V\n")
    target = tmp_path / "out.svg"
    said = draw(str(path), "-o", str(target))
    assert said.code == 2
    assert said.err.count("error:") >= 3
    assert f"{path}:1:" in said.err
    assert f"{path}:2:" in said.err
    assert not target.exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((FOOT,), "--output"),
        (("no-such", "-o", "-"), "there is no such file"),
        ((FOOT, "-o", "/no/such/folder/x.svg", "--no-check"), "cannot be written"),
        ((FOOT, "-o", "-", "--at", "RV9=30%"), 'no pot "RV9"'),
        ((FOOT, "-o", "-", "--at", "130%"), "0% to 100%"),
        ((FOOT, "-o", "-", "--stage", "left"), "--stage"),
        ((FOOT, SHEET, "-o", "-", "--stage", "left"), "no reading as left"),
        (("-", "-", "-o", "-"), "standard input"),
        ((FOOT, "-o", "-", "--theme", "pink"), "pink"),
    ],
)
def test_refusals(arguments: tuple[str, ...], said: str) -> None:
    done = draw(*arguments)
    assert done.code == 2
    assert said in done.err
    assert not done.out


def test_a_folder_is_not_written_to(tmp_path: Path) -> None:
    said = draw("two-el84-fixed", "-o", str(tmp_path), "--no-check", "--replace")
    assert said.code == 2
    assert "folder" in said.err


def test_without_a_simulator_it_is_drawn_without_volts(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise EngineError("ngspice ended unexpectedly")

    monkeypatch.setattr("netcheck.predictor.Predictor.wholes", refuse)
    monkeypatch.setattr("netcheck.predictor.Predictor.trace", refuse)
    said = draw(FOOT, "-o", "-")
    assert said.code == 0
    assert not volts(said.out)
    remarks = " ".join(texts(said.out, "remark"))
    assert "Without voltages: ngspice ended unexpectedly." in remarks
    read = draw(FOOT, SHEET, "-o", "-")
    assert read.code == 0
    assert "Without a diagnosis" in " ".join(texts(read.out, "remark"))
    assert "read -26.1 V cw" in texts(read.out, "read")


def test_a_section_without_a_source(tmp_path: Path) -> None:
    path = tmp_path / "none.bias"
    path.write_text("elsewhere in\nresistor R1 from in to g 1k\nresistor R2 from g to ground 1k\n"
                    "valve V1 EL84 grid g\n")  # fmt: skip
    said = draw(str(path), "-o", "-")
    assert said.code == 0
    assert "no source" in " ".join(texts(said.out, "remark"))


def test_help_says_what_it_draws() -> None:
    said = draw("--help")
    assert said.code == 0
    assert "schematic" in said.out
    assert max(map(len, said.out.split("\n"))) <= 80
