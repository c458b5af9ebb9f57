"""Studies that several tests look at, each made once."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.engine.service import Service
from netcheck.failures import Failure, Judged, Study

from ..ngspice_here import service
from .sections import studied

__all__ = ["service"]

Of = Callable[[str], Study]


@pytest.fixture(scope="session")
def study_of(service: Service) -> Of:
    """All failures of a section with its pots in the middle, studied once for all tests."""
    known: dict[str, Study] = {}

    def look(text: str) -> Study:
        if text not in known:
            known[text] = studied(text, service)
        return known[text]

    return look


@pytest.fixture(scope="session")
def failing(study_of: Of) -> Callable[[str, str], Judged]:
    """One failure of a section, called as a report does: "R3 open"."""

    def look(text: str, words: str) -> Judged:
        found = [one for one in study_of(text).failures if one.failure.words == words]
        assert len(found) == 1, [one.failure.words for one in study_of(text).failures]
        assert isinstance(found[0].failure, Failure)
        return found[0]

    return look
