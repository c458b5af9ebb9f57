"""The dialog of `netcheck new` on a pseudo-terminal of 80 columns, as a user has it."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import pytest

import netcheck

pexpect = pytest.importorskip("pexpect", reason="there are no pseudo-terminals here")

PROGRAM = "from netcheck.entry.command import new; new()"
ROOT = Path(netcheck.__file__).parent.parent
PROMPT = r"(?:\]|Number of the arrangement|to change): "


class Terminal:
    """A dialog that runs.

    Parameters
    ----------
    folder : Path
        Where it runs.
    arguments : str
        What follows the program's name.
    term : str
        What the terminal says it is.
    """

    def __init__(self, folder: Path, *arguments: str, term: str = "dumb") -> None:
        environment = dict(os.environ, PYTHONPATH=str(ROOT), TERM=term, PYTHONUTF8="1")
        self.child = pexpect.spawn(
            sys.executable,
            ["-c", PROGRAM, *arguments],
            cwd=str(folder),
            env=environment,
            encoding="utf-8",
            timeout=20,
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
        """Answer the next prompts; what was shown before the last answer went off."""
        shown = ""
        for answer in answers:
            shown = self.asked()
            self.child.sendline(answer)
        return shown

    def choose(self, key: str) -> None:
        """Choose an arrangement."""
        self.type(key, "")

    def enter_until(self, wanted: str) -> str:
        """Press Enter until a prompt with `wanted` in it; that prompt, not yet answered."""
        for _ in range(60):
            shown = self.asked()
            if wanted in shown:
                return shown
            self.child.sendline("")
        raise AssertionError(f"{wanted!r} was never asked:\n{self.text}")

    def ended(self) -> tuple[int, str]:
        """Wait for the end: the exit code, and what was shown last."""
        self.child.expect(pexpect.EOF)
        self.text += str(self.child.before)
        self.child.close()
        assert self.child.signalstatus is None, "the program was killed, it did not end"
        return int(self.child.exitstatus or 0), str(self.child.before)


def longest_line(text: str) -> int:
    """The columns that the longest line takes."""
    plain = re.sub(r"\x1b\[[?0-9;]*[a-zA-Z]", "", text)
    return max(len(line) for line in plain.replace("\r", "").split("\n"))
