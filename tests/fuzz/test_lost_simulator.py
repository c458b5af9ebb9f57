"""Commands whose simulator is killed, hangs or is another one: one sentence, and exit code 3.

What the service itself makes of a lost worker is in tests/engine/test_service.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path
from typing import IO

import pytest

import netcheck
from netcheck.engine import service as services
from netcheck.engine.elements import GROUND, Capacitance, Element, Resistance, SineSource
from netcheck.engine.jobs import SteadyJob, send
from netcheck.engine.service import MOST_OVERDUE, Service
from netcheck.engine.twin import Twin
from netcheck.errors import EngineError, EngineOverdue

from .judged import Called, called

pytestmark = [
    pytest.mark.usefixtures("service"),
    pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals"),
]

ROOT = Path(netcheck.__file__).parent.parent
CIRCUIT = "two-6v6gt-foot"
COMMANDS = {
    "check": ["check", CIRCUIT],
    "predict": ["predict", CIRCUIT],
    "compare": ["compare", CIRCUIT, f"{CIRCUIT}.readings"],
    "diagnose": ["diagnose", CIRCUIT, f"{CIRCUIT}.readings"],
    "export": ["export", CIRCUIT],
    "remedy": ["remedy", CIRCUIT],
}
ELEMENTS: list[Element] = [
    SineSource("W", "a", GROUND, 10.0),
    Resistance("R", "a", "b", 1e3),
    Capacitance("C", "b", GROUND, 1e-6),
]


def strike(monkeypatch: pytest.MonkeyPatch, number: int, which: Callable[[int], bool]) -> list[int]:
    """Let a signal hit the worker right after some of the jobs that are sent to it.

    Parameters
    ----------
    monkeypatch : MonkeyPatch
        Undoes it.
    number : int
        The signal.
    which : callable
        Whether it hits after a job, by its number.

    Returns
    -------
    list of int
        The processes that were hit.
    """
    hit: list[int] = []
    sent = 0

    def sending(stream: IO[bytes], message: object) -> None:
        nonlocal sent
        send(stream, message)
        if which(sent):
            pid = pid_of(stream)
            os.kill(pid, number)
            hit.append(pid)
        sent += 1

    def pid_of(stream: IO[bytes]) -> int:
        return next(one.pid for one in started if one.stdin is stream and one.pid is not None)

    started: list[subprocess.Popen[bytes] | Twin] = []
    popen = subprocess.Popen

    def starting(*arguments: object, **named: object) -> subprocess.Popen[bytes]:
        process = popen(*arguments, **named)  # type: ignore[call-overload]
        started.append(process)
        return process  # type: ignore[no-any-return]

    class Noted(Twin):
        def __init__(self) -> None:
            super().__init__()
            started.append(self)

    monkeypatch.setattr(services, "send", sending)
    monkeypatch.setattr(subprocess, "Popen", starting)
    monkeypatch.setattr(services, "Twin", Noted)
    return hit


def one_sentence(call: Called) -> None:
    """No answer, and why, on one line."""
    assert not call.wrong
    assert call.code == 3
    assert call.out == ""
    assert call.err.startswith("no prediction: ")
    assert call.err.count("\n") == 1


@pytest.mark.parametrize("command", [c for c in COMMANDS if c != "check"])
@pytest.mark.parametrize("at", [0, 5])
def test_a_simulator_killed_in_the_middle(
    command: str, at: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    hit = strike(monkeypatch, signal.SIGKILL, lambda job: job >= at)
    call = called(COMMANDS[command], limit=100)
    if hit:
        one_sentence(call)
        # Of one that another has forked nobody here knows the code.
        assert "the simulation process ended unexpectedly" in call.err
        assert call.err.rstrip().endswith(("unexpectedly", "(exit code -9)"))
    else:  # it asks for fewer jobs than that
        assert (command, at, call.code) == ("export", 5, 0)


def test_a_check_without_simulator_shows_what_the_drawing_tells(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    hit = strike(monkeypatch, signal.SIGKILL, lambda _: True)
    call = called(COMMANDS["check"], limit=100)
    assert hit
    assert (call.code, call.wrong, call.err) == (3, [], "")
    assert "ended unexpectedly" in " ".join(call.out.split())
    assert "half-wave" in call.out


def test_one_kill_among_many_states_costs_that_state_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The diagnosis simulates faults; what is too odd to be simulated it leaves out."""
    hit = strike(monkeypatch, signal.SIGKILL, lambda job: job == 60)
    call = called(COMMANDS["diagnose"], limit=100)
    assert len(hit) == 1
    assert (call.code, call.wrong) == (1, [])
    assert "R3" in call.out


@pytest.mark.parametrize("command", ["predict", "export"])
def test_a_simulator_that_hangs(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(Service.__init__.__kwdefaults__ or {}, "timeout", 0.5)
    hit = strike(monkeypatch, signal.SIGSTOP, lambda _: True)
    began = time.monotonic()
    one_sentence(called(COMMANDS[command], limit=30))
    assert time.monotonic() - began < 15.0
    assert len(hit) == 1, "the others would hang as long, and were not asked"
    assert all(gone(pid) for pid in hit), "what does not answer is ended"


def test_a_simulator_that_hangs_while_it_starts(monkeypatch: pytest.MonkeyPatch) -> None:
    with Service() as own:
        own.start()
        (pid,) = own.pids
        os.kill(pid, signal.SIGSTOP)
        monkeypatch.setattr(services, "START_TIMEOUT", 0.5)
        with pytest.raises(EngineError, match="did not start in time"):
            own.version()
        assert gone(pid)
        monkeypatch.undo()
        assert own.version().startswith("ngspice")


def test_a_list_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else a hundred states of a circuit that does not settle would take half an hour."""
    job = SteadyJob(tuple(ELEMENTS), 50.0, {}, 200)
    hit = strike(monkeypatch, signal.SIGSTOP, lambda number: number >= 1)
    with Service(timeout=0.3) as own:
        answers = own.solve([job] * 30)
        assert len(hit) == MOST_OVERDUE
        assert not isinstance(answers[0], EngineError)
        assert all(isinstance(answer, EngineOverdue) for answer in answers[1:])


def test_a_list_of_which_each_is_needed_ends_at_the_first_failure(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job = SteadyJob(tuple(ELEMENTS), 50.0, {}, 200)
    hit = strike(monkeypatch, signal.SIGKILL, lambda number: number == 3)
    with Service() as own:
        answers = own.solve([job] * 30, every=True)
    assert len(hit) == 1
    assert [isinstance(answer, EngineError) for answer in answers] == [False] * 3 + [True] * 27


@pytest.mark.parametrize("said", ["ngspice-44.2", "ngspice-100", "ngspice-dev", "something"])
def test_a_simulator_of_another_version(said: str, tmp_path: Path) -> None:
    """What it calls itself changes nothing; only its library's entries have to be there."""
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(RENAMED), said], cwd=tmp_path, timeout=60,
        capture_output=True, text=True, check=False, env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    version, mean = done.stdout.splitlines()
    number = said.partition("-")[2].partition(".")[0]
    assert version == f"ngspice {number if number.isdigit() else 'of unknown version'}"
    assert float(mean) == pytest.approx(0.0, abs=1e-3), "theory: no diode, no mean"


RENAMED = """
    import sys
    from PySpice.Spice.NgSpice.Shared import NgSpiceShared
    plain = NgSpiceShared.exec_command
    def renamed(self, command, join_lines=True):
        out = plain(self, command, join_lines)
        return out.replace("ngspice-", "").replace("** ", "** " + sys.argv[1] + " ", 1) \\
            if command.startswith("version") else out
    NgSpiceShared.exec_command = renamed
    from netcheck.engine.elements import GROUND, Capacitance, Resistance, SineSource
    from netcheck.engine.jobs import SteadyJob
    from netcheck.engine.solver import Solver
    circuit = (SineSource("W", "a", GROUND, 10.0), Resistance("R", "a", "b", 1e3),
               Capacitance("C", "b", GROUND, 1e-6))
    solver = Solver()
    print(solver.version)
    print(solver.answer(SteadyJob(circuit, 50.0, {}, 200)).mean("b"))
    """


def gone(pid: int) -> bool:
    """Whether a process of ours has ended."""
    for _ in range(500):
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.01)
    return False
