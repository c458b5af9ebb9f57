"""Sessions killed at random moments: nothing that was acknowledged may be missing afterwards.

    python -m tests.session.kills --kills 200 --seed 1

The circuit is simulated once; each session is then a process of its own on a pseudo-terminal,
which is killed while it reads, writes or thinks. Then the file is read as any program would.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import pty
import random
import re
import signal
import sys
import tempfile
import time
from pathlib import Path
from typing import TypeAlias

from pexpect import EOF, fdpexpect

from netcheck.commands.common import load
from netcheck.crosscheck import cross_check
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse.sheet import read_sheet
from netcheck.predictor import Predictor
from netcheck.quantity import read
from netcheck.readout.model import SectionModel
from netcheck.session.dialog import Dialog
from netcheck.session.edits import USUAL_METER, new_sheet
from netcheck.session.notebook import Notebook
from netcheck.session.session import Session
from netcheck.session.sheetfile import SheetFile
from netcheck.source import Source

FOOT = "two-6v6gt-foot"
SESSIONS = 200
Spawned: TypeAlias = "fdpexpect.fdspawn[str]"
_FOR_ONE = 8  # sessions on one sheet before another is begun [count]
_PROMPT = re.compile(r"\[([^\]]+)\]: $|to end: $")


class Killer:
    """Holds sessions and kills them.

    Parameters
    ----------
    folder : Path
        Where the sheets are.
    seed : int
        Of what is typed, and when it is killed.
    """

    def __init__(self, folder: Path, seed: int) -> None:
        self.random = random.Random(seed)
        self.folder = folder
        self.section = Section(load(FOOT))
        self.service = Service()
        self.model = SectionModel(Predictor(self.section, self.service))
        self.service.close()  # a session starts its own, so that none dies with another
        self.sheets = self.acknowledged = self.in_flight = 0
        self.begin()

    def begin(self) -> None:
        """Another sheet."""
        self.sheets += 1
        self.path = self.folder / f"{self.sheets}.readings"
        SheetFile.created(self.path, self.section, new_sheet(f"{FOOT}.bias", USUAL_METER))
        self.values: list[str] = []
        self.on_sheet = 0

    def session(self) -> None:
        """One session that is killed; then look at the file."""
        if self.on_sheet == _FOR_ONE:
            self.begin()
        self.on_sheet += 1
        sys.stdout.flush()
        pid, terminal = pty.fork()
        if pid == 0:
            os._exit(self._child())
        child = fdpexpect.fdspawn(terminal, encoding="utf-8", timeout=60)
        try:
            self._drive(child)
        finally:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
        self._settle(_rest(child))
        os.close(terminal)
        self._check()

    def _child(self) -> int:
        notebook = Notebook(SheetFile.opened(self.path, self.section))
        return Dialog(Session(self.model, notebook, 2026), FOOT).run()

    def _drive(self, child: Spawned) -> None:
        """Type some answers; return at the moment at which it is to be killed."""
        child.expect(_PROMPT)
        assert not self.values or f"{len(self.values)} reading" in str(child.before)
        for _ in range(self.random.randrange(4)):
            child.sendline(self._typed(_unit(child)))
            child.expect(_PROMPT)
            self._settle(str(child.before))
        child.sendline(self._typed(_unit(child)))
        # What is written is written within the first milliseconds, and then weighed.
        longest = self.random.choice((0.01, 0.03, 0.3))
        time.sleep(self.random.uniform(0.0, longest))

    def _typed(self, unit: str | None) -> str:
        """An answer, and what it makes of the values if it is acknowledged."""
        if self.values and self.random.random() < 0.15:
            self.pending = self.values[:-1]
            return "undo"
        number = self.random.randrange(1000, 9999)
        if unit is None:  # the end is reached: what is never asked for, perhaps once more
            typed = f"D1 lifted {number / 100:.2f}k"
            self.pending = [v for v in self.values if not v.startswith("D1")] + [typed]
            return typed
        typed = {
            "V": f"-{number / 100:.2f} V",
            "ohm": f"{number / 100:.2f}k",
            "Vac": f"{number / 1000:.3f} Vac",
            "mA": f"{number / 100:.2f} mA",
            "uF": f"{number / 100:.2f} uF",
        }[unit.split(",")[0]]
        self.pending = [*self.values, typed]
        return typed

    def _settle(self, shown: str) -> None:
        """Take over what was acknowledged."""
        if re.search(r"^  (noted|taken back): ", shown.replace("\r", ""), re.MULTILINE):
            self.acknowledged += 1
            self.values = self.pending
        self.pending, self.alternative = self.values, self.pending

    def _check(self) -> None:
        """The file: whole, without an error, and with what was acknowledged in it."""
        text = read_sheet(Source(self.path.name, self.path.read_text("utf-8")))
        sheet, _ = cross_check(text.sheet, self.section)
        assert not text.findings
        found = [f"{abs(r.nominal):.6g}" for r in sheet.readings]
        for values in (self.values, self.alternative):
            if found == [f"{abs(_number(v)):.6g}" for v in values]:
                self.in_flight += values is not self.values
                self.values = list(values)
                return
        raise AssertionError(f"{self.path}: {found}, acknowledged {self.values}")


def _number(typed: str) -> float:
    return read(typed.rpartition("lifted ")[2]).nominal


def _unit(child: Spawned) -> str | None:
    """The unit that the prompt wants, None at the end of a session."""
    assert isinstance(child.match, re.Match)
    unit: str | None = child.match[1]
    return unit


def _rest(child: Spawned) -> str:
    with contextlib.suppress(OSError):
        child.expect(EOF)
    return str(child.before or "")


def main() -> None:
    """Kill as many sessions as asked for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--kills", type=int, default=SESSIONS)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        killer = Killer(Path(folder), asked.seed)
        for _ in range(asked.kills):
            killer.session()
        begun = len(list(Path(folder).glob(".netcheck-*")))
    print(f"{asked.kills} sessions killed on {killer.sheets} sheets: {killer.acknowledged} answers "
          f"acknowledged, none lost; {killer.in_flight} were written and not yet acknowledged, "
          f"{begun} were being written")  # fmt: skip


if __name__ == "__main__":
    main()
