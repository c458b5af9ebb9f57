from __future__ import annotations

import pytest

from .calls import Called, Idle, called


@pytest.fixture
def idle(capsys: pytest.CaptureFixture[str]) -> Idle:
    """Call `netcheck idle` with the words of a command line."""

    def call(line: str) -> Called:
        return called(line, capsys)

    return call
