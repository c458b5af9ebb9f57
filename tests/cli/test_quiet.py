"""`--quiet` prints the verdict of the full report, and nothing else."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from netcheck.cli import run

FOOT = "two-6v6gt-foot"
CALLS = (
    ("predict", FOOT),
    ("compare", FOOT, FOOT),
    ("diagnose", FOOT, FOOT),
    ("remedy", FOOT),
    ("parts", FOOT, "--year", "1998", "--no-remedy"),
    ("sweep", FOOT, "R3", "--steps", "5"),
    ("sweep", FOOT, "R3", "R2", "--from", "10k", "--to", "33k"),
    ("failures", FOOT),
    ("idle", "EL34", "--plate", "440V", "--cathode", "42mA", "--cathode", "50mA"),
)


def printed(words: Sequence[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    code = run(list(words))
    return code, capsys.readouterr().out


@pytest.mark.parametrize("words", CALLS, ids=[" ".join(words[:3]) for words in CALLS])
def test_the_verdict_is_that_of_the_report(words: Sequence[str], capsys: pytest.CaptureFixture[str]
                                           ) -> None:  # fmt: skip
    code, quiet = printed([*words, "--quiet"], capsys)
    code_full, full = printed(words, capsys)
    assert code == code_full
    lines = quiet.splitlines()
    assert lines
    assert set(lines) <= set(full.splitlines())
    assert len(lines) < len(full.splitlines()) / 3
    assert "Caution" not in quiet


def test_without_a_valve_the_volts_are_the_verdict(capsys: pytest.CaptureFixture[str]) -> None:
    code, quiet = printed(["predict", "circuits/faulty/no-valve.bias", "--quiet"], capsys)
    assert code == 0
    assert quiet.startswith("sweep: -")
    assert "over the travel of RV1" in quiet
