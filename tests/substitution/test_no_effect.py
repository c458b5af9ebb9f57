"""Parts, and values, that do nothing to the grids."""

from __future__ import annotations

import re
from pathlib import Path

from netcheck.terminal import CAUTION

from .calls import DIRECT, Sweep


def test_a_part_that_does_not_act(sweep: Sweep) -> None:
    done = sweep(DIRECT, "R3")
    assert done.code == 1
    assert (
        "R3 does not act on the grids: it is a grid leak; no direct current flows in it, so there "
        "are no volts across it. No value across it from 39k to 1M8 moves a grid by more than "
        "10 mV." in done.said
    )
    assert done.said.endswith(CAUTION)
    data = sweep(DIRECT, "R3", "--json").data
    assert data["without_effect"]["R3"].startswith("R3 does not act on the grids: it is a grid")


def test_a_chart_with_parts_that_do_not_act(sweep: Sweep) -> None:
    one = sweep(DIRECT, "R3", "R2", "--steps", "2")
    assert one.code == 1
    assert "R3 does not act on the grids: " in one.said
    assert "nothing across R3 and" in one.said  # of values as good the one that is fitted
    assert "R3 \\ R2" in one.out
    none = sweep(DIRECT, "R3", "C1", "--steps", "2")
    assert none.code == 1
    assert none.said.count("does not act on the grids") == 2
    assert "\\" not in none.out


def test_values_that_do_nothing_on_a_part_that_acts(sweep: Sweep) -> None:
    done = sweep(DIRECT, "R2", "--from", "100M", "--to", "1G")
    assert done.code == 1
    assert re.search(r"R2 does not act on the grids with these values: it takes others, such as "
                     r"2k7 across it, which moves one by \d\d\.\d V\.", done.said)  # fmt: skip


def test_nothing_is_drawn_where_nothing_moves(sweep: Sweep, tmp_path: Path) -> None:
    picture = tmp_path / "nothing.svg"
    done = sweep(DIRECT, "R3", "--steps", "3", "--svg", str(picture))
    assert done.code == 1
    assert "R3 does not act" in done.said
    assert done.err == f"--svg: {picture} is not written: no grid is moved\n"
    assert not picture.exists()
