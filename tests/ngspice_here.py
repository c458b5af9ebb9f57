"""A running simulator for tests: skips where there is none, but fails in CI."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from netcheck.engine.service import Service
from netcheck.errors import EngineMissing

from . import lent


@pytest.fixture(scope="session")
def service() -> Iterator[Service]:
    """A service that is known to work."""
    yield from _known(Service())


@pytest.fixture(scope="session", name="service")
def own_service() -> Iterator[Service]:
    """The same that remembers nothing."""
    with lent.none():
        made = Service()
    yield from _known(made)


def _known(made: Service) -> Iterator[Service]:
    with made as running:
        try:
            running.version()
        except EngineMissing as error:
            if os.environ.get("CI"):
                pytest.fail(str(error))
            pytest.skip(str(error))
        yield running
