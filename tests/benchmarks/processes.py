"""Whole processes: what the user waits for, and the memory that it takes."""

from __future__ import annotations

import functools
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from netcheck.resources import folder

from .clock import median_beside

_STARTER = """
import os, sys
nowhere = os.open(os.devnull, os.O_WRONLY)
actions = [(os.POSIX_SPAWN_DUP2, nowhere, 1), (os.POSIX_SPAWN_DUP2, nowhere, 2)]
pid = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ, file_actions=actions)
print(os.wait4(pid, 0)[2].ru_maxrss)
"""

SHEET = "two-6v6gt-foot"
"""The sheet of readings that comes with a circuit of the same name; a dozen readings and more."""


def measure(circuit: str, runs: int) -> None:
    """Time the commands beside a bare interpreter.

    Parameters
    ----------
    circuit : str
        A file, or the name of an example.
    runs : int
        Of which the median counts. [count]
    """
    sheet = circuit if (folder("circuits") / f"{circuit}.readings").is_file() else SHEET
    read_on = circuit if sheet == circuit else SHEET
    with tempfile.TemporaryDirectory() as place:
        page = str(Path(place) / "job.html")
        rows = [
            ("bare interpreter", ["-c", "pass"]),
            ("import lark, networkx", ["-c", "import lark, networkx"]),
            *((name, ["-m", "netcheck", *words]) for name, words in (
                ("check --no-simulation", ["check", "--no-simulation", circuit]),
                ("check", ["check", circuit]),
                ("predict", ["predict", circuit]),
                ("compare", ["compare", read_on, sheet]),
                ("diagnose", ["diagnose", read_on, sheet]),
                ("remedy", ["remedy", circuit]),
                ("remedy, with readings", ["remedy", read_on, sheet]),
                ("sweep", ["sweep", circuit, "R3"]),
                ("failures", ["failures", circuit]),
                ("parts, with readings", ["parts", read_on, sheet]),
                ("report", ["report", read_on, sheet, "-o", page, "--replace"]),
            )),
        ]  # fmt: skip
        print(f"{'whole process':<24}{'median':>10}{'to bare':>9}{'to imports':>12}{'memory':>10}")
        bare, imports = (functools.partial(_run, words) for _, words in rows[:2])
        _, imports_to_bare = median_beside(imports, bare, runs)
        for name, words in rows:
            taken, ratio = median_beside(functools.partial(_run, words), imports, runs)
            print(f"{name:<24}{taken * 1e3:>7.0f} ms{ratio * imports_to_bare:>9.1f}{ratio:>12.2f}"
                  f"{_memory(words) / 1e6:>7.0f} MB")  # fmt: skip


def _run(words: Sequence[str]) -> None:
    done = subprocess.run([sys.executable, *words], capture_output=True, check=False)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(words)}: {done.stderr.decode()}")


def _memory(words: Sequence[str]) -> float:
    """The most that the process had in memory, or a simulator of it, whichever is more. [byte]"""
    # Started by a small interpreter: a process is charged with what its parent had as well.
    done = subprocess.run([sys.executable, "-S", "-c", _STARTER, sys.executable, *words],
                          stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=True)  # fmt: skip
    return float(done.stdout) * 1024.0
