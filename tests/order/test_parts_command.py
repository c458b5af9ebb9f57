"""The command `parts` as a user calls it."""

from __future__ import annotations

import contextlib
import functools
import io
import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from netcheck.cli import run
from netcheck.quantity import show_part
from netcheck.report.data import schema
from netcheck.resources import folder

pytestmark = pytest.mark.usefixtures("service")


class Said:
    """What a run of the command came to."""

    def __init__(self, *arguments: str) -> None:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            self.code = run(["parts", *arguments])
        self.out, self.err = out.getvalue(), err.getvalue()
        assert "Traceback" not in self.err
        assert all(len(line) <= 80 for line in self.out.splitlines() if '"' not in line)


Once = Callable[..., Said]


@pytest.fixture(scope="module")
def said() -> Once:
    """The same call is not simulated twice."""
    return functools.cache(Said)


def test_nothing_to_order(said: Once) -> None:
    done = said("two-el84-fixed", "--no-remedy")
    assert done.code == 0
    assert done.out.startswith("Nothing to order.\n")
    assert "[ ]" not in done.out
    assert "lethal" in done.out.split("\n\n")[-1]


def test_a_list_for_the_shop(said: Once) -> None:
    done = said("two-6l6gc-selenium", "--no-remedy", "--valves")
    assert done.code == 1
    assert done.out.startswith("6 parts to order.\n")
    boxes = [line for line in done.out.splitlines() if line.startswith("[ ]")]
    assert boxes[0] == "[ ] 2 x electrolytic 22 uF 160 V 105 C  C1, C2"
    assert boxes[1] == "[ ] 1 x diode 1N4007 1000 V  D1"
    assert boxes[-1] == "[ ] 2 x valve 6L6GC, matched pair  V1 and V2"
    assert done.out.isascii()


def test_the_part_that_is_named(said: Once) -> None:
    """Not the part alone: somebody strapped it, and the strap may just be taken off."""
    done = said("two-6v6gt-foot", "two-6v6gt-foot", "--no-remedy")
    assert done.code == 1
    assert "[ ] 1 x resistor 27k 5% 0.5 W  R3\n        bands red violet orange gold\n" in done.out
    assert "(the diagnosis)" in done.out
    assert "look for a resistor across it" in " ".join(done.out.split())


def test_parts_that_cannot_be_told_apart_wait(tmp_path: Path) -> None:
    sheet = tmp_path / "few.readings"
    sheet.write_text(
        "readings for two-6v6gt-foot.bias\nmeter dmm 10M dcv 0.5% + 2 digits\nas found\n"
        "  mains 230 V\n  RV1 at clockwise\n    grid1 -22.0 V\n  RV1 at anticlockwise\n"
        "    grid1 -31.0 V\n",
        encoding="utf-8",
    )
    done = Said("two-6v6gt-foot", str(sheet), "--no-remedy")
    assert done.code == 1
    assert "Only once it is found to be the one:" in done.out
    first, _, then = done.out.partition("Only once it is found to be the one:")
    assert "[ ]" not in first
    assert then.count("[ ]") >= 2
    assert "may be needed" in done.out


def test_an_open_part_named_and_measured_is_bought_once(said: Once) -> None:
    done = said("two-el34-balance", "two-el34-balance", "--json", "--no-remedy")
    assert done.code == 1
    data = json.loads(done.out)
    jsonschema.validate(data, schema("parts"))
    (line,) = data["lines"]
    assert line["parts"] == ["R6"]
    assert line["count"] == 1
    assert line["ohms"] == 33e3
    assert line["condition"] is None
    assert {why["source"] for why in line["reasons"]} == {"the diagnosis", "the readings"}


def test_the_first_remedy_is_bought(tmp_path: Path) -> None:
    """A foot resistor drawn too large keeps the valves too cold: something is strapped."""
    text = (folder("circuits") / "two-6v6gt-foot.bias").read_text(encoding="utf-8")
    path = tmp_path / "cold.bias"
    path.write_text(text.replace("27k   5%", "68k   5%"), encoding="utf-8")
    done = Said(str(path), "--json")
    assert done.code == 1
    data = json.loads(done.out)
    jsonschema.validate(data, schema("parts"))
    (line,) = data["lines"]
    assert line["kind"] in {"resistor", "pot"}
    assert line["reasons"][0]["source"] == "simulation"
    assert "of the travel" in line["reasons"][0]["text"]
    assert show_part(line["ohms"]) in line["reasons"][0]["text"]


def test_the_year_of_the_amplifier(said: Once) -> None:
    done = said("two-6v6gt-foot", "--year", "1968", "--no-remedy", "--json")
    data = json.loads(done.out)
    jsonschema.validate(data, schema("parts"))
    assert [line["text"] for line in data["lines"]] == [
        "electrolytic 47 uF 100 V 105 C", "electrolytic 10 uF 100 V 105 C",
    ]  # fmt: skip


def test_nothing_to_aim_at_leaves_the_rest(tmp_path: Path) -> None:
    text = (folder("circuits") / "two-6l6gc-selenium.bias").read_text(encoding="utf-8")
    path = tmp_path / "bare.bias"
    path.write_text(text.replace("plate 420 V", ""), encoding="utf-8")
    done = Said(str(path))
    assert done.code == 1
    assert "No remedy was looked for: " in done.out
    assert "[ ] 2 x electrolytic" in done.out


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--stage", "left"], "--stage: there are no readings"),
        (["--year", "1850"], "--year 1850: it lies between 1920 and"),
        (["--year", "3000"], "--year 3000"),
        (["--year", "old"], "not a valid integer"),
        (["--window", "hot"], "--window"),
        (["no-such.readings"], "no-such.readings"),
    ],
)
def test_what_cannot_be_asked(options: list[str], told: str) -> None:
    done = Said("two-6v6gt-foot", *options)
    assert done.code == 2
    assert told in done.err


def test_only_one_file_can_be_standard_input() -> None:
    done = Said("-", "-")
    assert done.code == 2
    assert "standard input" in done.err


def test_without_ngspice_there_is_no_list(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", str(tmp_path / "none.so"))
    done = Said("two-6v6gt-foot", "--no-remedy")
    assert done.code == 3
    assert done.out == ""
    assert "ngspice" in done.err
