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
from netcheck.resources import folder

settings.register_profile("suite", deadline=None, derandomize=True, max_examples=50)
settings.load_profile("suite")

_WIDE = (
    "chassis/test_chassis.py", "circuits/test_sound.py", "compare/test_chassis_compared.py",
    "diagnose/test_fast_path.py", "jobsheet/test_customer.py", "jobsheet/test_page.py",
    "published/test_fast_path.py", "travel/test_monte_carlo.py",
)  # fmt: skip
"""Tests that simulate much on each of the example circuits."""
_SOME = frozenset({"two-6v6gt-foot", "two-el34-balance", "two-el84-fixed"})
"""Some of the arrangements: all of them only with `--thorough`."""
_LONG = (
    "chassis/test_chassis.py::test_every_fault_can_be_simulated_and_shows",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[compare",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[parts",
    "cli/test_quiet.py::test_the_verdict_is_that_of_the_report[remedy",
    "compare/test_compare_command.py::test_the_picture_has_every_reading_of_a_grid",
    "compare/test_compare_command.py::test_both_stages_are_shown_and_the_last_one_counts",
    "compare/test_repair.py::test_a_repair_that_failed_exits_with_1",
    "compare/test_repair.py::test_deviations_are_those_of_simulated_repairs",
    "diagnose/test_diagnose_command.py::test_standard_input_and_order_of_hashes",
    "language/test_damaged_texts.py::test_a_long_text_is_given_up_soon",
    "rules/test_judgement.py::test_no_rule_breaks_down_whatever_is_drawn",
    "rules/test_rules.py::test_every_finding_says_what_why_and_what_to_do",
    "sheet/test_sheet_damaged.py::test_a_long_sheet_without_errors",
    "sheet/test_sheet_damaged.py::test_a_long_text_is_given_up_soon",
    "travel/test_tracing.py::test_between_the_points[coupled",
    "travel/test_tracing.py::test_between_the_points[doubler",
    "travel/test_tracing.py::test_heavy_and_very_light_loads[coupled",
)
"""Tests that take long beside what others do not find: only with `--thorough`."""


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--thorough", action="store_true",
                     help="The long tests too, on every example circuit.")  # fmt: skip


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what takes long, unless it is asked for."""
    if config.getoption("--thorough"):
        return
    every = {path.stem for path in folder("circuits").glob("*.bias")}
    left_out = {item for item in items if _is_long(item, every)}
    if left_out:
        config.hook.pytest_deselected(items=list(left_out))
        items[:] = [item for item in items if item not in left_out]


def _is_long(item: pytest.Item, every: set[str]) -> bool:
    if any(f"tests/{name}" in item.nodeid for name in _LONG):
        return True
    circuits = _circuits(item) & every
    is_wide = item.nodeid.partition("::")[0].endswith(_WIDE)
    return is_wide and bool(circuits) and not circuits & _SOME


def _circuits(item: pytest.Item) -> set[str]:
    """The words among the parameters of a test."""
    call = getattr(item, "callspec", None)
    return set() if call is None else {v for v in call.params.values() if isinstance(v, str)}


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
