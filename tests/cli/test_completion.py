"""What a shell is told when the user presses the tabulator."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.cli import run


def offered(*words: str, folder: Path | None = None) -> list[str]:
    """What bash would show, the last word being incomplete."""
    asked = {
        "_NETCHECK_COMPLETE": "bash_complete",
        "COMP_WORDS": " ".join(("netcheck", *words)),
        "COMP_CWORD": str(len(words)),
    }
    done = subprocess.run([sys.executable, "-m", "netcheck"], env=os.environ | asked, cwd=folder,
                          capture_output=True, text=True, check=True, timeout=60)  # fmt: skip
    assert not done.stderr
    return [line.partition(",")[2] for line in done.stdout.splitlines() if line]


def test_commands_and_options() -> None:
    assert offered("re") == ["remedy", "report"]
    assert "--window" in offered("predict", "--w")


def test_circuits_are_files_and_examples(tmp_path: Path) -> None:
    (tmp_path / "mine.bias").write_text("")
    (tmp_path / "mine.txt").write_text("")
    (tmp_path / "mine-all").mkdir()
    (tmp_path / "mine-all" / "one.bias").write_text("")
    assert offered("check", "mi", folder=tmp_path) == ["mine-all/", "mine.bias"]
    assert offered("check", "mine-all/", folder=tmp_path) == ["mine-all/one.bias"]
    assert offered("predict", "two-el84-d", folder=tmp_path) == ["two-el84-doubler"]
    assert offered("predict", "no-such-folder/x", folder=tmp_path) == []


def test_sheets_are_files_and_examples(tmp_path: Path) -> None:
    (tmp_path / "two-days.readings").write_text("")
    found = offered("diagnose", "two-6v6gt-foot", "two-", folder=tmp_path)
    assert found[0] == "two-days.readings"
    assert "two-el34-balance" in found
    assert "two-el84-doubler" not in found  # a circuit without a sheet


def test_parts_are_those_of_the_circuit() -> None:
    assert offered("sweep", "two-6v6gt-foot", "r") == ["R1", "R2", "RV1", "R3", "R6", "R4", "R5"]
    assert offered("sweep", "no-such-circuit", "r") == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_script_calls_the_program(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["completion", shell]) == 0
    assert "_NETCHECK_COMPLETE" in capsys.readouterr().out


def test_a_shell_that_is_not_known(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["completion", "csh"]) == 2
    assert "bash" in capsys.readouterr().err
