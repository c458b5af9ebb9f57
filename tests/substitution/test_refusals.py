"""Calls of `sweep` that cannot be carried out."""

from __future__ import annotations

import pytest

from netcheck.resources import folder

from .calls import DIRECT, Drawn, Sweep
from .sections import DIVIDER


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "Missing argument 'CIRCUIT'"),
        ([DIRECT], "Missing argument 'PART [PART]'"),
        ([DIRECT, "R1", "R2", "RV1"], "one part, or two for a chart"),
        ([DIRECT, "R2", "R2"], "R2 is named twice"),
        ([DIRECT, "R2", "--show", "grid"], "--show is for the chart of two parts"),
        ([DIRECT, "R1", "R2", "--show", "all"], "'all' is not one of 'idle', 'grid', 'window'"),
        ([DIRECT, "R77"], 'there is no part "R77"'),
        ([DIRECT, "R2", "V1"], "V1 is a valve"),
        ([DIRECT, "R2", "--across", "--in-place"], "--across and --in-place exclude each other"),
        ([DIRECT, "R2", "--series", "E12", "--steps", "3"], "--series and --steps exclude each"),
        ([DIRECT, "R2", "--series", "E7"], "'E7' is not one of"),
        ([DIRECT, "R2", "--steps", "many"], "'many' is not a valid integer"),
        ([DIRECT, "R2", "--steps", "0"], "--steps: from 1 to"),
        ([DIRECT, "R2", "--from", "1k", "--from", "2k"], "--from is given 2 times for 1 part"),
        ([DIRECT, "R1", "R2", *["--to", "1M"] * 3], "--to is given 3 times for 2 parts"),
        ([DIRECT, "R2", "C1", "--from", "10k"], "C1, --from \"10k\""),
        ([DIRECT, "R2", "--from", "100k", "--to", "10k"], "R2, --from 100k lies above --to 10k"),
        ([DIRECT, "R2", "--from=-5"], "is no believable resistance"),
        ([DIRECT, "R2", "--window", "70"], "is not a window"),
        ([DIRECT, "R2", "--window", "70-60%"], "does not rise"),
        ([DIRECT, "R2", "--set", "R9=1k"], 'there is no part "R9"'),
        ([DIRECT, "R2", "--mains", "240"], "the circuit has no mains line"),
        ([DIRECT, "R1", "R2", "--steps", "100"], "101 by 101 values are too many"),
        (["two-el84-fixed", "R2", "--mains", "5"], "is no believable mains voltage"),
        (["no-such-circuit", "R2"], "there is no such file"),
        (["", "R2"], "this is a folder, not a file"),
        ([DIRECT, ""], 'there is no part ""'),
        ([DIRECT, "R2" * 500], 'there is no part "R2R2'),
        ([str(folder("circuits")), "R2"], "this is a folder"),
    ],
)  # fmt: skip
def test_calls_that_are_refused(words: list[str], said: str, sweep: Sweep) -> None:
    done = sweep(*words)
    assert done.code == 2
    assert said in " ".join(done.err.split())
    assert not done.out


def test_a_circuit_with_errors(sweep: Sweep, drawn: Drawn) -> None:
    done = sweep(drawn(DIVIDER.replace("27k", "lots")), "R2")
    assert (done.code, done.out) == (2, "")
    assert "mine.bias:5" in done.err


def test_a_circuit_that_cannot_be_simulated(sweep: Sweep) -> None:
    done = sweep(str(folder("circuits") / "faulty" / "floating-node.bias"), "R1", "--steps", "2")
    assert (done.code, done.out) == (3, "")
    assert "no prediction" in done.err
