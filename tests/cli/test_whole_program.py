"""The program as a process: exit codes, pipes, a missing simulator, start-up habits."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.cli import run


def netcheck(*arguments: str, **extra: str) -> subprocess.CompletedProcess[str]:
    """Run the program in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "netcheck", *arguments],
        capture_output=True, text=True, check=False, env=os.environ | extra, timeout=60,
    )  # fmt: skip


def test_help_names_every_command_and_the_caution() -> None:
    done = netcheck("--help")
    assert done.returncode == 0
    for word in ("check", "predict", "new", "circuits", "rules", "export", "lethal", "Exit codes"):
        assert word in done.stdout


@pytest.mark.parametrize(
    "command",
    ["check", "circuits", "export", "format", "idle", "new", "predict", "rules", "schema"],
)
def test_every_command_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([command, "--help"]) == 0
    assert "Usage: netcheck" in capsys.readouterr().out


def test_an_unknown_command_is_met_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["predcit"]) == 2
    assert 'did you mean "predict"?' in capsys.readouterr().err


def test_no_command_shows_the_help_and_is_an_error() -> None:
    done = netcheck()
    assert done.returncode == 2
    assert "Usage" in done.stderr


@pytest.mark.usefixtures("service")
def test_version_says_which_simulator_was_found() -> None:
    done = netcheck("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("netcheck ")
    assert "ngspice" in done.stdout


def test_without_ngspice_there_is_a_sentence_and_exit_code_3(tmp_path: Path) -> None:
    nowhere = str(tmp_path / "libngspice.so")
    done = netcheck("predict", "two-6v6gt-foot", NGSPICE_LIBRARY_PATH=nowhere)
    assert done.returncode == 3
    assert "ngspice" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_version_without_ngspice_says_why(tmp_path: Path) -> None:
    done = netcheck("--version", NGSPICE_LIBRARY_PATH=str(tmp_path / "none.so"))
    assert done.returncode == 0
    assert "cannot be loaded as ngspice" in done.stdout


def test_a_closed_pipe_is_no_error() -> None:
    program = f'"{sys.executable}" -m netcheck rules'
    script = f'{program} | head -c 1 >/dev/null; echo "${{PIPESTATUS[0]}}"'
    done = subprocess.run(["bash", "-c", script], capture_output=True, text=True, check=False)
    assert done.stderr == ""
    assert done.stdout.strip() == "0"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a full disk is played by /dev/full")
def test_a_full_disk_is_said_in_a_sentence() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", "rules"],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False, timeout=60,
        )  # fmt: skip
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_closed_output_is_no_traceback() -> None:
    script = f'"{sys.executable}" -m netcheck rules >&-'
    done = subprocess.run(["bash", "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stderr == ""


def test_a_plain_check_loads_no_heavy_library() -> None:
    """PySpice, matplotlib and scipy cost a second; a check of the drawing needs none."""
    code = (
        "import sys; from netcheck.cli import run; "
        "run(['check', '--no-simulation', '--quiet', 'two-6v6gt-foot']); "
        "print([m for m in ('PySpice', 'scipy', 'matplotlib') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip().endswith("[]")


def test_output_to_a_terminal_of_few_characters(tmp_path: Path) -> None:
    circuit = tmp_path / "odd.bias"
    text = 'circuit "\u03a9\u00e9\u4e2d"\nresistor R1 from a to ground 1k\n'
    circuit.write_text(text, encoding="utf-8")
    done = netcheck("check", str(circuit), PYTHONIOENCODING="ascii")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
