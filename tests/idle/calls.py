"""Calls of the command, and what they answer."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from netcheck.cli import run
from netcheck.valves import ValveType, lookup


@dataclass(frozen=True)
class Called:
    """Exit code and output of a call."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """The JSON."""
        return json.loads(self.out)

    @property
    def rules(self) -> list[tuple[str, str, str]]:
        """About what, rule and severity of the findings in the JSON."""
        return [(f["about"], f["rule"], f["severity"]) for f in self.data["findings"]]

    @property
    def said(self) -> str:
        """The output with its lines joined."""
        return " ".join((self.out + " " + self.err).split())


Idle = Callable[[str], Called]


def called(line: str, capsys: pytest.CaptureFixture[str]) -> Called:
    """Call the command."""
    code = run(["idle", *shlex.split(line)])
    text = capsys.readouterr()
    return Called(code, text.out, text.err)


def known(name: str) -> ValveType:
    """A type of the built-in table."""
    valve = lookup(name)
    assert valve is not None, name
    return valve
