"""Settings for all tests: timings belong in benchmarks, and every run tries the same examples."""

from __future__ import annotations

import atexit
import os
from collections.abc import Iterator
from typing import Any

# As the command line does: matrices are small, and the processors are busy with other tests.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from hypothesis import settings

from netcheck.engine import service as engine

settings.register_profile("suite", deadline=None, derandomize=True)
settings.load_profile("suite")

_Worker = engine._Worker
_idle: dict[tuple[object, ...], list[_Worker]] = {}


@pytest.fixture(autouse=True)
def lent_simulators(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
                    ) -> Iterator[None]:  # fmt: skip
    """A command starts a simulator and ends it; here it is lent one that goes on running.

    To load ngspice takes longer than most of what is asked of it. The tests of the engine and
    those of what kills it have their own.
    """
    if {"engine", "fuzz"} & set(request.path.parts):
        yield
        return
    monkeypatch.setattr(engine, "_Worker", _lent)
    monkeypatch.setattr(engine.Service, "__exit__", _given_back)
    yield


def _key(timeout: float, memory: int) -> tuple[object, ...]:
    return timeout, memory, os.environ.get("NGSPICE_LIBRARY_PATH")


def _lent(timeout: float, memory: int) -> _Worker:
    idle = _idle.get(_key(timeout, memory))
    return idle.pop() if idle else _Worker(timeout, memory)


def _given_back(service: engine.Service, kind: type[BaseException] | None, *_: Any) -> None:
    for k, worker in enumerate(service._workers):
        # One that was left in the middle of something is not lent again.
        if kind is None and worker.pid is not None and worker._version is not None:
            _idle.setdefault(_key(worker._timeout, worker._memory), []).append(worker)
            service._workers[k] = _Worker(worker._timeout, worker._memory)
    service.close()


@atexit.register
def _end() -> None:
    for workers in _idle.values():
        for worker in workers:
            worker.kill()
