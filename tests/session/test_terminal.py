"""`netcheck bench` on a pseudo-terminal: the whole program."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.commands.common import load
from netcheck.graph import Section
from netcheck.readings import Kind
from netcheck.session.sheetfile import SheetFile

from .terminal import ROOT, Terminal

pytestmark = pytest.mark.usefixtures("service")

FOOT = "two-6v6gt-foot"


def columns(text: str) -> int:
    """The columns that the longest line takes, of what was left standing."""
    lines = re.sub(r"[^\n]*\r(?!\n)", "", text).replace("\r", "").split("\n")
    return max(map(len, lines))


def test_a_session_that_is_killed_goes_on_where_it_stood(tmp_path: Path) -> None:
    one = Terminal(tmp_path, FOOT)
    one.asked()
    one.type("junk", "11 Mohm dcv 0.5% + 2 digits", "RV1 at anticlockwise", "grid1 -38.0 V",
             "grid2 -38.1 V", "undo", "raw -61.9 V")  # fmt: skip
    one.child.kill(signal.SIGKILL)
    assert one.ended() == (None, signal.SIGKILL)
    assert "is not understood here" in one.text
    assert columns(one.text) <= 80

    two = Terminal(tmp_path, FOOT)
    assert "2 readings so far" in two.asked()
    two.child.sendeof()
    assert two.ended() == (1, None)
    assert f"netcheck bench {FOOT}" in two.text
    assert f"netcheck diagnose {FOOT} {FOOT}.readings" in two.text

    path = tmp_path / f"{FOOT}.readings"
    sheet = SheetFile.opened(path, Section(load(FOOT))).now.sheet
    assert [(r.kind, r.plus, r.nominal) for r in sheet.readings] == [
        (Kind.DC, "grid1", -38.0), (Kind.DC, "raw", -61.9),
    ]  # fmt: skip
    assert sheet.circuit == f"{FOOT}.bias"
    assert sheet.meters[0].r_input == 11e6
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_interrupt_says_how_to_go_on(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    text = Path(load(FOOT).source.name).read_text("utf-8")
    (tmp_path / "my amp.bias").write_text(text, "utf-8")
    session = Terminal(tmp_path, "my amp.bias", "sub/job.readings")
    session.asked()
    session.type("", "list")
    session.child.sendintr()
    assert session.ended()[0] not in (0, 1)
    assert "netcheck bench 'my amp.bias' sub/job.readings" in session.text
    assert "Traceback" not in session.text
    written = (tmp_path / "sub" / "job.readings").read_text("utf-8")
    assert written.startswith('readings for "../my amp.bias"\n')


def test_kill_at_any_moment_loses_nothing() -> None:
    """A handful; `python -m tests.session.kills --kills 200` does more."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.session.kills", "--kills", "3", "--seed", "7"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "none lost" in done.stdout
