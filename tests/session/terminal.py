"""`netcheck bench` on a pseudo-terminal of 80 columns, as a user has it."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

import netcheck

pexpect = pytest.importorskip("pexpect", reason="there are no pseudo-terminals here")

PROGRAM = "from netcheck.cli import main; main()"
ROOT = Path(netcheck.__file__).parent.parent
PROMPT = r"(?:\]|meter|conditions|to end): $"


class Terminal:
    """A session that runs.

    Parameters
    ----------
    folder : Path
        Where it runs.
    arguments : str
        What follows "netcheck bench".
    """

    def __init__(self, folder: Path, *arguments: str) -> None:
        environment = dict(os.environ, PYTHONPATH=str(ROOT), TERM="dumb", PYTHONUTF8="1")
        self.child = pexpect.spawn(
            sys.executable,
            ["-c", PROGRAM, "bench", *arguments],
            cwd=str(folder),
            env=environment,
            encoding="utf-8",
            timeout=60,
            dimensions=(24, 80),
        )
        self.child.delaybeforesend = None  # nothing here turns the echo off
        self.text = ""

    def asked(self) -> str:
        """Wait for the next prompt; what was shown since the one before."""
        self.child.expect(PROMPT)
        shown = str(self.child.before) + str(self.child.after)
        self.text += shown
        return shown

    def type(self, *answers: str) -> str:
        """Answer the next prompts; what was shown after the last answer, up to the next one."""
        for answer in answers:
            self.child.sendline(answer)
            shown = self.asked()
        return shown

    def ended(self) -> tuple[int | None, int | None]:
        """Wait for the end: the exit code, or the signal that ended it."""
        self.child.expect(pexpect.EOF)
        self.text += str(self.child.before)
        self.child.close()
        return self.child.exitstatus, self.child.signalstatus
