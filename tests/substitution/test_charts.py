"""The command `sweep` with two parts: a chart."""

from __future__ import annotations

import re

import pytest

from .calls import DIRECT, Drawn, Sweep
from .sections import FIXED


def test_a_chart(sweep: Sweep) -> None:
    words = (DIRECT, "R1", "RV1", "--from", "10k", "--to", "47k")
    done = sweep(*words)
    assert done.code == 0
    assert (
        "R1 (15k, series), a resistor across it, against RV1 (10k, bias pot), another in its"
        in (done.said)
    )
    assert "cathode current, mA at mid-travel of RV1" in done.said
    rows = [line.split() for line in done.out.split("\n")]
    start = next(n for n, row in enumerate(rows) if row[:3] == ["R1", "\\", "RV1"])
    assert rows[start][3:] == ["10k", "=", "22k", "47k"]
    assert [row[0] for row in rows[start + 1 : start + 7]] == ["nothing", "47k", "33k", "22k",
                                                               "15k", "10k"]  # fmt: skip
    data = sweep(*words, "--json").data
    assert [one["part"] for one in data["knobs"]] == ["R1", "RV1"]
    assert len(data["settings"]) == 18
    assert data["settings"][1]["values"] == [None, 22e3]
    middle = data["travel"].index(0.5)
    for row, first in ((start + 1, 0), (start + 6, 15)):
        shown = [float(text.rstrip("*!")) for text in rows[row][1:] if text not in "!*"]
        wanted = [1e3 * one["valves"]["V1"]["cathode_amperes"][middle]
                  for one in data["settings"][first : first + 3]]  # fmt: skip
        assert shown == pytest.approx(wanted, abs=0.051)


def test_a_chart_of_grid_volts_and_of_the_window(sweep: Sweep) -> None:
    """Each part with a range of its own."""
    words = (DIRECT, "R1", "R2", "--series", "E3", "--from", "22k", "--from", "220k",
             "--to", "100k", "--to", "470k")  # fmt: skip
    grid, window = sweep(*words, "--show", "grid"), sweep(*words, "--show", "window")
    assert "grid, V against ground at mid-travel of RV1" in grid.said
    assert "R1 \\ R2 nothing 470k 220k nothing -" in grid.said
    assert "where in the travel the middle of the window falls, %" in window.said
    data = sweep(*words, "--json").data
    assert [knob["values"] for knob in data["knobs"]] == [[None, 100e3, 47e3, 22e3],
                                                          [None, 470e3, 220e3]]  # fmt: skip
    cells = [line.split() for line in window.out.split("\n") if line.startswith("47k")]
    middle = data["settings"][6]["valves"]["V1"]["window_middle_travel"]
    assert cells[0][1].rstrip("*!") == f"{middle * 100:.0f}"


def test_of_pairs_as_good_the_one_that_changes_least(sweep: Sweep) -> None:
    done = sweep(DIRECT, "R2", "R1", "--from", "2M2", "--from", "10M", "--to", "4M7", "--to",
                 "22M", "--series", "E3")  # fmt: skip
    assert done.code == 0
    assert "nearest to mid-travel with nothing across R2 and nothing across R1: at" in done.said


def test_a_chart_too_wide_for_the_terminal(sweep: Sweep, drawn: Drawn) -> None:
    """It is cut into two, each with the values of the first part."""
    done = sweep(drawn(FIXED), "R1", "S1", "--steps", "10", "--from", "100k", "--from", "40V",
                 "--to", "200k", "--to", "44V")  # fmt: skip
    assert done.code == 0
    lines = done.out.split("\n")
    assert sum(line.startswith("R1 \\ S1") for line in lines) == 2
    assert sum(line.startswith("nothing") for line in lines) == 2
    assert sum(line.startswith("200k") for line in lines) == 2


def test_a_chart_without_a_pot(sweep: Sweep, drawn: Drawn) -> None:
    done = sweep(drawn(FIXED), "R1", "R2", "--series", "E3", "--show", "window")
    assert done.code == 0
    assert re.search(r"is met in \d+ of \d+ cells; nearest to its middle with", done.said)
    assert "* the window is met ! beyond the limit" in done.said
