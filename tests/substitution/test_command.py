"""The command `sweep` with one part: what it says, in text and as JSON."""

from __future__ import annotations

import re

import pytest

from netcheck.terminal import CAUTION

from .calls import DIRECT, Drawn, Sweep
from .sections import DIVIDER, FIXED


def test_the_verdict_comes_first_and_the_caution_last(sweep: Sweep) -> None:
    done = sweep(DIRECT, "R2", "--series", "E6")
    assert done.code == 0
    head, verdict, table, plot, *_ = done.out.split("\n\n")
    assert head.startswith("Two 6V6GTA, negative supply from elsewhere\nMean voltages")
    assert re.match(
        r"R2 \(27k, foot\)\. The smaller the resistor across it: grids less negative, more "
        r"current\. V1, V2: the window of 60 to 70 % of 1\d W can be set with nothing or \S+ and "
        r"more across; its middle is nearest to mid-travel \S.*: at \d\d %\. V1, V2: the pot can "
        r"over-run the valve ",
        " ".join(verdict.split()),
    )
    lines = table.split("\n")
    assert lines[1].split() == ["at", "0", "%", "at", "50", "%", "at", "100", "%"]
    assert lines[2].split() == ["across", "acts", "as", *["grid", "V", "mA", "%"] * 3, "window"]
    assert lines[3].split()[:2] == ["nothing", "27.0k"]
    assert [line.split()[0] for line in lines[4:6]] == ["680k", "470k"]
    assert lines[-2].split()[:2] == ["15k", "9.64k"]
    assert "! the pot can over-run the valve" in lines[-1]
    assert plot.startswith("grid1, grid2: V against ground\na anticlockwise   m middle   c clock")
    axis, names, below = plot.split("\n")[-3:]
    assert below == " " * 10 + "across R2"
    assert axis.strip()[1:].count("+") == len(names.split()) == 6
    for name in names.split():  # each below its mark, the last one set to the right
        assert name == "15k" or axis[names.index(name)] == "+"
    assert axis.endswith("+")
    assert len(axis) == len(names)
    assert done.said.endswith(CAUTION)


def test_what_the_table_shows_is_what_the_data_has(sweep: Sweep) -> None:
    words = (DIRECT, "R1", "--in-place", "--from", "12k", "--to", "18k")
    rows = [line.split() for line in sweep(*words, "--no-plot").out.split("\n")]
    data = sweep(*words, "--json").data
    assert data["knobs"] == [{"part": "R1", "way": "in place", "unit": "ohms", "fitted": 15e3,
                              "values": [12e3, 15e3, 18e3]}]  # fmt: skip
    assert data["swept"] == ["RV1"]
    for one, name in zip(data["settings"], ("12k", "15k", "18k"), strict=True):
        row = next(row for row in rows if row and row[0] == name)
        figures = [text for text in row[1:] if text != "="]
        assert ("=" in row) == (name == "15k")
        valve = one["valves"]["V1"]
        for n, k in enumerate((0, 5, 10)):
            assert float(figures[3 * n]) == pytest.approx(one["grids"]["grid1"][k], abs=0.051)
            milliamperes = 1e3 * valve["cathode_amperes"][k]
            assert float(figures[3 * n + 1]) == pytest.approx(milliamperes, abs=0.51)
            assert float(figures[3 * n + 2]) == pytest.approx(100 * valve["of_limit"][k], abs=0.51)
        if valve["window_travel"]:
            ends = "-".join(f"{at * 100:.0f}" for at in valve["window_travel"])
            assert figures[9].rstrip("!") == ends
        assert figures[9].endswith("!") == (valve["beyond_limit_travel"] is not None)


def test_what_the_command_changes_is_said(sweep: Sweep) -> None:
    done = sweep("two-el84-fixed", "R3", "--mains", "240", "--set", "R2=27k", "--set",
                 "C1.leak=1M", "--set", "C1=47u", "--steps", "3", "--no-plot")  # fmt: skip
    assert done.code == 0
    assert "Mains 240 V, 50 Hz. With R2 at 27k, C1.leak at 1M, C1 at 47 uF." in done.said
    data = sweep("two-el84-fixed", "R3", "--set", "R3=18k", "--mains", "240", "--steps", "2",
                 "--json").data  # fmt: skip
    assert data["mains"] == {"volts": 240.0, "hertz": 50.0}
    assert data["changes"] == {"R3": 18e3}
    assert data["knobs"][0]["fitted"] == 18e3
    assert sweep(DIRECT, "R1", "--set", "R1=18k", "--steps", "2").said.count("R1 (18k, series)")


def test_what_is_hardly_better_is_not_recommended(sweep: Sweep) -> None:
    """Megohms across the foot bring the window half a percent of the travel nearer to its middle."""
    words = (DIRECT, "R2", "--from", "2M2", "--to", "4M7", "--series", "E3")
    nothing, *straps = (one["valves"]["V1"]["window_middle_travel"]
                        for one in sweep(*words, "--json").data["settings"])  # fmt: skip
    assert len(straps) == 2
    assert all(0.5 < at < nothing for at in straps)
    assert "its middle is nearest to mid-travel as it is: at" in sweep(*words, "--no-plot").said


def test_without_a_pot(sweep: Sweep, drawn: Drawn) -> None:
    done = sweep(drawn(FIXED), "R2", "--in-place", "--series", "E3")
    assert done.code == 0
    assert re.search(r"the window of .* is met (with|at no)", done.said)
    assert "the valve is beyond its limit with 4k7 to " in done.said
    assert "travel" not in done.said.partition("Caution")[0]
    assert "! beyond the limit = as fitted" in done.said


def test_without_valves(sweep: Sweep, drawn: Drawn) -> None:
    """The wiper is watched then."""
    text = "\n".join(line for line in DIVIDER.split("\n") if not line.startswith("valve"))
    bare = "\n".join(line for line in text.split("\n") if " from sweep " not in line)
    done = sweep(drawn(bare + "elsewhere sweep\n"), "R2", "--steps", "3")
    assert done.code == 0
    assert "sweep: V against ground, over the travel of RV1" in done.said
    assert "%: " not in done.said
    data = sweep(drawn(bare + "elsewhere sweep\n"), "R2", "--steps", "3", "--json").data
    assert data["settings"][0]["valves"] == {}
    assert list(data["settings"][0]["grids"]) == ["sweep"]


def test_a_valve_that_cannot_be_modelled(sweep: Sweep, drawn: Drawn) -> None:
    text = DIVIDER.replace("V2 6V6GTA grid grid2 plate 345 V screen 310 V", "V2 EL34 grid grid2")
    done = sweep(drawn(text), "R2", "--steps", "3")
    assert done.code == 0
    assert "V2: no idle current, its plate volts are not given." in done.said
    assert "grid2: V against ground, over the travel of RV1" in done.said


def test_a_window_that_no_value_reaches(sweep: Sweep, drawn: Drawn) -> None:
    cold = sweep(drawn(FIXED), "S1", "--from", "55V", "--to", "60V", "--set", "R2=100k")
    assert "is met at no value: the valve stays too cold." in cold.said
    hot = sweep(drawn(FIXED), "S1", "--from", "20V", "--to", "25V", "--set", "S1=30V")
    assert "is met at no value: the valve stays too hot." in hot.said
    stepped = sweep(drawn(FIXED), "R2", "--in-place", "--from", "1k", "--to", "680k",
                    "--steps", "2", "--window", "66-66.1%")  # fmt: skip
    assert re.search(r"at no value: it is stepped over from \S+ to \S+\.", stepped.said)
