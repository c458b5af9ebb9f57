"""Simulators that are lent to the tests, and answers that are remembered.

A command starts a simulator and ends it. To load ngspice takes longer than most of what is asked
of it, and more than half of what the tests ask has been asked before, to the last digit: the
examples as they are drawn, and with a part or two a little off. Every answer is one that ngspice
has given in this run of the tests (`tests/remembered`).
"""

from __future__ import annotations

import atexit
import contextlib
import os
import pickle
from collections.abc import Iterator
from typing import Any
from unittest import mock

from netcheck.engine import service as engine
from netcheck.engine.service import _Worker

from .remembered import Remembered

_end = engine.Service.__exit__
_idle: dict[tuple[object, ...], list[_Lent]] = {}
_remembered = Remembered()


class _Lent(_Worker):
    """A simulator that goes on running, for whoever wants the same kind next."""

    def __init__(self, timeout: float, memory: int) -> None:
        super().__init__(timeout, memory)
        self.key = _key(timeout, memory)

    def ask(self, job: Any) -> Any:
        """An answer, one that was given before if there is one."""
        asked = pickle.dumps((self.key, job))
        if (known := _remembered.get(asked)) is not None:
            return pickle.loads(known)
        answer = super().ask(job)
        _remembered.add(asked, pickle.dumps(answer))
        return answer


def to_all() -> None:
    """From now on every service is lent its simulators."""
    engine._Worker = _lent  # type: ignore[assignment,misc]
    engine.Service.__exit__ = _given_back  # type: ignore[method-assign,assignment]


@contextlib.contextmanager
def none() -> Iterator[None]:
    """Meanwhile every service starts simulators of its own."""
    with (
        mock.patch.object(engine, "_Worker", _Worker),
        mock.patch.object(engine.Service, "__exit__", _end),
    ):
        yield


def _key(timeout: float, memory: int) -> tuple[object, ...]:
    return timeout, memory, os.environ.get("NGSPICE_LIBRARY_PATH")


def _lent(timeout: float, memory: int) -> _Lent:
    idle = _idle.get(_key(timeout, memory))
    return idle.pop() if idle else _Lent(timeout, memory)


def _given_back(service: engine.Service, kind: type[BaseException] | None, *_: Any) -> None:
    for k, worker in enumerate(service._workers):
        # One that was left in the middle of something is not lent again.
        alive = kind is None and worker.pid is not None and worker._version is not None
        if alive and isinstance(worker, _Lent):
            _idle.setdefault(worker.key, []).append(worker)
            service._workers[k] = _Lent(worker._timeout, worker._memory)
    service.close()


@atexit.register
def _kill_all() -> None:
    for workers in _idle.values():
        for worker in workers:
            worker.kill()
