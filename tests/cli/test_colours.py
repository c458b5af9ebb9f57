"""Listings are coloured on a terminal, and nowhere else."""

from __future__ import annotations

import os
import sys

import pytest

from netcheck.cli import run
from netcheck.resources import folder

pexpect = pytest.importorskip("pexpect")

NAME = "two-6v6gt-foot"


def listed(**environment: str) -> str:
    """What a terminal shows of an example."""
    env = {k: v for k, v in os.environ.items() if k != "NO_COLOR"} | {"TERM": "xterm"} | environment
    child = pexpect.spawn(sys.executable, ["-m", "netcheck", "circuits", "--show", NAME],
                          env=env, encoding="utf-8", timeout=60)  # fmt: skip
    shown: str = child.read()
    child.close()
    assert child.exitstatus == 0
    return shown


def test_a_terminal_shows_colours() -> None:
    assert "\x1b[" in listed()


@pytest.mark.parametrize("environment", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_unless_they_are_not_wanted(environment: dict[str, str]) -> None:
    shown = listed(**environment)
    assert "\x1b[" not in shown
    assert "winding" in shown


def test_a_pipe_gets_the_text_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:

    assert run(["circuits", "--show", NAME]) == 0
    assert capsys.readouterr().out == (folder("circuits") / f"{NAME}.bias").read_text()
