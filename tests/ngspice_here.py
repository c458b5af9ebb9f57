"""A running simulator for tests: skips where there is none, but fails in CI."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from netcheck.engine.service import Service
from netcheck.errors import EngineMissing


@pytest.fixture(scope="session")
def service() -> Iterator[Service]:
    """A service that is known to work."""
    with Service() as running:
        try:
            running.version()
        except EngineMissing as error:
            if os.environ.get("CI"):
                pytest.fail(str(error))
            pytest.skip(str(error))
        yield running
