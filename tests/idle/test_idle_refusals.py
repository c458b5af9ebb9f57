"""Calls that cannot be understood: exit code 2, one clear message for each mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from .calls import Idle

GOOD = "EL34 --plate 400V"

OWN = """\
[EL99]
kind = "pentode"
source = "data sheet EL99"
rows = [
  { plate_V = 250, screen_V = 250, grid_V = -14, plate_mA = 70, screen_mA = 9 },
]
[EL99.limits]
plate_W = 25
screen_W = 8
plate_V = 800
screen_V = 500
"""


@pytest.mark.parametrize(
    ("call", "words"),
    [
        # the type
        ("EL43 --plate 400V", ['"EL43" is not known', "nearest known types", "EL34", "--types"]),
        ("'' --plate 400V", ['"" is not known', "--types"]),
        (f"{'x' * 5000} --plate 400V", ["is not known"]),
        # plate volts
        ("EL34 --plate 40V", ["40V is not believable", "60 V to 2 kV", "high tension on"]),
        ("EL34 --plate 4kV", ["4kV is not believable", "decimal point"]),
        ("EL34 --plate -400V", ["-400V is negative"]),
        ("EL34 --plate 400mA", ["400mA is a current", "a voltage is wanted"]),
        ("EL34 --plate 400Vac", ["an alternating voltage"]),
        ("EL34 --plate plenty", ['"plenty" is not a value']),
        ("EL34 --plate ''", ["is not a value"]),
        ("EL34 --plate 4,000", ["has a comma"]),
        # cathode current
        (f"{GOOD} --cathode -42mA", ["-42mA is negative"]),
        (f"{GOOD} --cathode 4A", ["4A is not believable", "0.1 mA to 1 A"]),
        (f"{GOOD} --cathode 4uA", ["4uA is not believable", "uA written for mA"]),
        (f"{GOOD} --cathode 42", ["42 has no unit", "write 42 mA"]),
        (f"{GOOD} --cathode 42m", ["milli or mega", "42 mA"]),
        (f"{GOOD} --cathode 42V", ["42V is a voltage", "--resistor 1ohm"]),
        (f"{GOOD} --cathode 42mV", ["42mV is a voltage", "--resistor 1ohm"]),
        (f"{GOOD} --cathode 42V --resistor 1ohm", ["that is 42 A", "is not believable"]),
        (f"{GOOD} --cathode -42mV --resistor 1ohm", ["is negative"]),
        (f"{GOOD} --cathode 4k7", ["a current is wanted"]),
        (f"{GOOD} --cathode 15W", ["a current is wanted"]),
        (f"{GOOD} --cathode V5=", ["is not a value"]),
        (f"{GOOD} --cathode =42mA", ["is no name of a valve"]),
        (f"{GOOD} --cathode output-valve-5=42mA", ["is no name of a valve"]),
        (f"{GOOD} --cathode V5=42mA --cathode V5=43mA", ["V5 is given twice"]),
        (GOOD + " --cathode 42mA" * 13, ["13 valves are too many"]),
        # screen volts
        (f"{GOOD} --screen 39V", ["39V is not believable", "60 V to 1 kV"]),
        (f"{GOOD} --screen 3.9kV", ["is not believable"]),
        (f"{GOOD} --screen -390V", ["is negative"]),
        ("300B --plate 350V --screen 300V", ["300B is a triode: it has no screen"]),
        # grid volts
        (f"{GOOD} --screen 390V --grid 38V", ["38V is not believable", "minus sign", "negative"]),
        (f"{GOOD} --screen 390V --grid -3.8kV", ["is not believable"]),
        (f"{GOOD} --grid -38V", ["needs the screen voltage"]),
        ("KT120 --plate 500V --screen 490V --grid -50V", ["no operating row of KT120"]),
        # the window
        (f"{GOOD} --window 70-60%", ["does not rise"]),
        (f"{GOOD} --window 60-60%", ["does not rise"]),
        (f"{GOOD} --window 600%", ["is not a window", "60-70%"]),
        (f"{GOOD} --window 60-600%", ["beyond the limit"]),
        (f"{GOOD} --window 0.6-0.7", ["begins too low"]),
        (f"{GOOD} --window 0-70%", ["begins too low"]),
        (f"{GOOD} --window 15W-20W", ["is not a window"]),
        (f"{GOOD} --window {'9' * 500}-70%", ["is not a window"]),
        # the resistor
        (f"{GOOD} --resistor 0", ["is not believable as a cathode resistor"]),
        (f"{GOOD} --resistor -1ohm", ["is negative"]),
        (f"{GOOD} --resistor 1M", ["is not believable"]),
        (f"{GOOD} --resistor 1V", ["a resistance is wanted"]),
        (f"{GOOD} --resistor 1m", ["milli or mega"]),
        ("300B --plate 400V --resistor 2k", ["cannot reach its dissipation limit", "20 W"]),
        (
            "EL84 --plate 300V --cathode 200mA --resistor 820ohm",
            ["drop 164 V", "half of the plate"],
        ),
        # the rest
        (f"{GOOD} --absolute", ["of EL34 one set of limits is known"]),
        (f"{GOOD} --types no-such-file.toml", ["no-such-file.toml", "there is no such file"]),
        ("EL34", ["Missing option '--plate'"]),
        (f"{GOOD} --anode 400V", ["No such option"]),
    ],
)
def test_each_mistake_is_met_with_its_reason(idle: Idle, call: str, words: list[str]) -> None:
    done = idle(call)
    assert done.code == 2
    assert done.out == ""
    for word in words:
        assert word in done.said, done.err
    assert max(map(len, done.err.splitlines())) <= 80


def test_all_mistakes_of_a_call_are_told_at_once(idle: Idle) -> None:
    done = idle("EL43 --plate 40V --screen 4kV --grid 38V --cathode -42mA --cathode 42 "
                "--window 70-60 --resistor 0")  # fmt: skip
    assert done.code == 2
    assert done.err.rstrip().endswith("8 errors")
    for option in ("TYPE", "--plate", "--screen", "--grid", "--cathode", "--window", "--resistor"):
        assert f"{option}: error:" in done.err


def test_a_mistaken_resistor_does_not_start_a_second_complaint(idle: Idle) -> None:
    done = idle(f"{GOOD} --cathode 42mV --resistor 0")
    assert done.err.rstrip().endswith("1 error")


def test_bad_input_prints_no_json(idle: Idle) -> None:
    done = idle("EL34 --plate 40V --json")
    assert (done.code, done.out) == (2, "")


@pytest.mark.parametrize("text", ["400", "400V", "400 V", "0.4kV", "400Vdc"])
def test_ways_to_write_volts(idle: Idle, text: str) -> None:
    assert idle(f"EL34 --plate '{text}' --json").data["plate_volts"] == 400.0


@pytest.mark.parametrize("text", ["46mA", "46 mA", "0.046A", "46000uA", "V5=46mA", " V5 = 46 mA"])
def test_ways_to_write_a_current(idle: Idle, text: str) -> None:
    (valve,) = idle(f"{GOOD} --cathode '{text}' --json").data["valves"]
    assert valve["cathode_amperes"] == 0.046
    assert valve["name"] == ("V5" if "V5" in text else "valve 1")


# ------------------------------------------------------------ a file of types of one's own


def test_a_type_of_ones_own(idle: Idle, tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(OWN, encoding="utf-8")
    done = idle(f"EL99 --plate 400V --cathode 47mA --types {file} --json")
    assert done.code == 0
    assert done.data["limits"]["source"] == "data sheet EL99"
    # One row: 9 mA of screen to 70 mA of plate current.
    assert done.data["valves"][0]["plate_amperes"]["nominal"] == pytest.approx(0.047 * 70 / 79)
    assert done.data["grid_model"] is not None


def test_the_example_in_the_help_is_such_a_file(idle: Idle, tmp_path: Path) -> None:
    shown = idle("--help").out
    lines = shown[shown.index("[EL99]") :].splitlines()
    file = tmp_path / "own.toml"
    file.write_text("\n".join(line.strip() for line in lines), encoding="utf-8")
    done = idle(f"EL99 --plate 400V --types {file} --json")
    assert done.code == 0
    assert done.data["grid_model"] is not None


def test_a_mistake_in_the_file_is_shown_with_its_place(idle: Idle, tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(OWN.replace("plate_W = 25", 'plate_W = "lots"'), encoding="utf-8")
    done = idle(f"EL99 --plate 40V --types {file}")
    assert done.code == 2
    assert "own.toml:8:1: error:" in done.said
    assert "--plate: error:" in done.said
    assert "is not known" not in done.said


def test_a_type_that_hides_one_of_the_table_is_noted(idle: Idle, tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(OWN.replace("EL99", "EL34").replace("25", "20"), encoding="utf-8")
    done = idle(f"EL34 --plate 400V --types {file} --json")
    assert done.code == 0
    assert "own.toml:1:2: note:" in done.said.replace("\n", "")
    assert done.data["limits"]["plate_watts"] == 20.0


def test_an_unknown_type_with_a_sound_file_of_types(idle: Idle, tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(OWN, encoding="utf-8")
    done = idle(f"EL98 --plate 400V --types {file}")
    assert done.code == 2
    assert "EL99" in done.said
