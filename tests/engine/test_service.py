"""The worker process: whatever happens to it, the caller gets one sentence and goes on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import textwrap
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from netcheck.engine import service as module
from netcheck.engine.elements import (
    GROUND,
    CurrentSource,
    DcSource,
    Element,
    Junction,
    Resistance,
    SteadyState,
)
from netcheck.engine.jobs import SteadyJob, TransientJob, send
from netcheck.engine.ngspice import _no_start_up_files
from netcheck.engine.service import Service
from netcheck.engine.steady import steady_state, transient
from netcheck.engine.twin import CAN_FORK
from netcheck.engine.worker import _forked
from netcheck.errors import EngineError, EngineMissing

from .circuits import half_wave

ROOT = Path(__file__).resolve().parents[2]
linux = pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs /proc")
posix = pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals")
ELEMENTS, FREQUENCY = half_wave()
MEAN = -67.5
"""About what this supply gives. [V]"""


@pytest.fixture
def own(service: Service) -> Service:
    """A service that a test may ill-treat; asks for the common one to know there is ngspice."""
    return Service()


def works(service: Service) -> None:
    state = steady_state(ELEMENTS, FREQUENCY, service=service)
    assert state.mean("n") == pytest.approx(MEAN, abs=1.0)


def until(condition: Callable[[], bool], seconds: float = 10.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.01)
    return condition()


def gone(pid: int) -> bool:
    """Whether a process has ended, be it that nobody has asked for its exit code yet."""
    try:
        status = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return True
    return status.rsplit(")", 1)[1].split()[0] in ("Z", "X")


def python(code: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a script as a user would, elsewhere, with this package found by PYTHONPATH."""
    return subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code)],
        cwd=cwd,
        env=os.environ | {"PYTHONPATH": str(ROOT)} | environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_version(service: Service) -> None:
    assert service.version().startswith("ngspice ")
    assert service.version().split()[1].isdigit()


def test_starting_does_not_wait(own: Service) -> None:
    begun = time.perf_counter()
    own.start()
    started = time.perf_counter() - begun
    works(own)
    # The worker takes a tenth of a second to load its libraries, starting it a hundredth.
    assert started < 0.5 * (time.perf_counter() - begun)
    own.close()
    assert own.pids == []


def test_starting_twice_starts_one(own: Service) -> None:
    with own:
        own.start()
        works(own)
        assert len(own.pids) == 1


def test_usable_again_after_closing(own: Service) -> None:
    with own:
        works(own)
    with own:
        works(own)


# Two at a time ------------------------------------------------------------------------------


forks = pytest.mark.skipif(not CAN_FORK, reason="forks on Linux only")


@pytest.fixture
def pair(service: Service) -> Iterator[Service]:
    """Two workers, both ready."""
    with Service(workers=2) as two:
        two.version()
        assert until(lambda: all(worker.is_ready for worker in two._workers))
        yield two
    assert two.pids == []


@forks
def test_the_first_worker_forks_the_second(pair: Service) -> None:
    first, second = pair.pids
    status = Path(f"/proc/{second}/stat").read_text(encoding="ascii")
    assert status.rsplit(")", 1)[1].split()[1] == str(first)


@forks
def test_a_worker_that_cannot_fork_is_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """The system has no process left to give: the pipes of the other are closed, its own is not."""

    def refused() -> int:
        raise BlockingIOError

    monkeypatch.setattr(os, "fork", refused)
    shown, out = os.pipe()
    others = os.pipe()
    with _forked(out, [others]) as answers:
        answers.write(b"!")
    with os.fdopen(shown, "rb") as said:
        assert said.read() == b"!"
    for end in others:
        with pytest.raises(OSError, match="Bad file descriptor"):
            os.fstat(end)


@pytest.fixture
def never_forks(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """As on other systems."""
    monkeypatch.setattr(module, "CAN_FORK", False)


@pytest.mark.usefixtures("never_forks")
def test_the_second_worker_starts_when_the_first_is_ready() -> None:
    with Service(workers=2) as pair:
        assert len(pair.pids) == 1
        pair.version()
        assert until(lambda: len(pair.pids) == 2)
        assert until(lambda: all(worker.is_ready for worker in pair._workers))
    assert pair.pids == []


@pytest.mark.usefixtures("never_forks")
def test_a_closed_service_starts_no_second_worker() -> None:
    pair = Service(workers=2)
    pair.start()
    pair.close()
    assert not until(lambda: bool(pair.pids), 0.5)


def test_a_list_is_shared_once_both_are_ready(pair: Service) -> None:
    job = SteadyJob(tuple(ELEMENTS), FREQUENCY, {}, 200)
    assert len(pair._crew(2)) == 2
    assert len(pair._crew(1)) == 1
    states = pair.solve([job] * 9)
    assert all(isinstance(state, SteadyState) for state in states)
    assert len({state.mean("n") for state in states if isinstance(state, SteadyState)}) == 1
    assert len(states) == 9


@posix
@pytest.mark.parametrize("victim", [0, 1])
def test_one_of_two_that_hangs_is_ended(pair: Service, victim: int) -> None:
    pid = pair.pids[victim]
    os.kill(pid, signal.SIGSTOP)
    pair._workers[victim]._timeout = 0.3
    with pytest.raises(EngineError, match=r"longer than 0\.3 s"):
        pair._workers[victim].ask(SteadyJob(tuple(ELEMENTS), FREQUENCY, {}, 200))
    assert until(lambda: gone(pid))


def test_closing_ends_both_before_they_are_ready(service: Service) -> None:
    pair = Service(workers=2)
    pair.start()
    processes = [worker._process for worker in pair._workers]
    pair.close()
    assert until(lambda: all(one is None or one.poll() is not None for one in processes))


@posix
@pytest.mark.parametrize("victim", [0, 1])
def test_one_of_two_is_killed_in_the_middle_of_a_run(pair: Service, victim: int) -> None:
    long = TransientJob(tuple(ELEMENTS), FREQUENCY, {}, {}, 1000.0, 2e-4, 999.0)
    short = SteadyJob(tuple(ELEMENTS), FREQUENCY, {}, 200)
    pid = pair.pids[victim]
    threading.Timer(0.2, os.kill, (pid, signal.SIGKILL)).start()
    with pytest.raises(EngineError, match="ended unexpectedly"):
        pair._workers[victim].ask(long)
    assert until(lambda: gone(pid))
    assert all(isinstance(state, SteadyState) for state in pair.solve([short] * 4))
    assert isinstance(pair._workers[victim].ask(short), SteadyState)


@forks
@pytest.mark.parametrize("workers", [2, 3])
def test_a_worker_that_was_forked_does_not_outlive_its_parent(
    service: Service, tmp_path: Path, workers: int
) -> None:
    """Nor does it hold the pipes of another."""
    code = f"""
        import time
        from netcheck.engine.service import Service
        crew = Service(workers={workers})
        crew.start()
        while len(crew.pids) < {workers}:
            time.sleep(0.01)
        print(*crew.pids, flush=True)
        input()
        """
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(code)],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as parent:
        assert parent.stdout is not None
        pids = [int(word) for word in parent.stdout.readline().split()]
        os.kill(pids[0], signal.SIGKILL)
        assert until(lambda: gone(pids[0]))
        assert not any(gone(pid) for pid in pids[1:])
        parent.kill()
    assert len(pids) == workers
    assert until(lambda: all(gone(pid) for pid in pids))


# Runs that go wrong -----------------------------------------------------------------------


def test_run_that_takes_too_long_is_stopped(service: Service) -> None:
    with Service(timeout=0.3) as impatient:
        works(impatient)
        (pid,) = impatient.pids
        begun = time.perf_counter()
        with pytest.raises(EngineError, match=r"longer than 0\.3 s"):
            transient(ELEMENTS, FREQUENCY, 1000.0, service=impatient, record="last")
        assert time.perf_counter() - begun < 5.0
        assert gone(pid)
        works(impatient)


@posix
def test_worker_killed_in_the_middle_of_a_run(own: Service) -> None:
    with own:
        works(own)
        (pid,) = own.pids
        threading.Timer(0.2, os.kill, (pid, signal.SIGKILL)).start()
        with pytest.raises(EngineError, match="ended unexpectedly"):
            transient(ELEMENTS, FREQUENCY, 1000.0, service=own, record="last")
        works(own)


@posix
def test_worker_killed_while_idle_is_replaced_unnoticed(own: Service) -> None:
    with own:
        works(own)
        (pid,) = own.pids
        os.kill(pid, signal.SIGKILL)
        # Its main thread is gone first, its pipes a moment later.
        assert until(lambda: own.pids == [])
        works(own)
        assert own.pids != [pid]


def test_closing_cuts_a_run_short(own: Service) -> None:
    works(own)
    threading.Timer(0.2, own.close).start()
    with pytest.raises(EngineError, match="stopped"):
        transient(ELEMENTS, FREQUENCY, 1000.0, service=own, record="last")


def test_answer_of_an_interrupted_job_is_not_taken_for_the_next(
    own: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C right after a job was sent."""

    def interrupted(*_: object) -> None:
        send(*_)  # type: ignore[arg-type]
        raise KeyboardInterrupt

    with own:
        works(own)
        monkeypatch.setattr("netcheck.engine.service.send", interrupted)
        with pytest.raises(KeyboardInterrupt):
            transient(ELEMENTS, FREQUENCY, 0.1, service=own, record="last")
        monkeypatch.undo()
        works(own)


@linux
def test_memory_is_bounded(service: Service) -> None:
    with Service(memory=100 << 20, timeout=60.0) as small:
        works(small)
        # Five million points of a dozen vectors would take half a gigabyte.
        job = TransientJob(tuple(ELEMENTS), FREQUENCY, {}, {}, 1000.0, 2e-4)
        (answer,) = small.solve([job])
        assert isinstance(answer, EngineError)
        assert "\n" not in str(answer)
        works(small)


def nonsense() -> dict[str, list[Element]]:
    """Circuits that pass no preflight, given to the worker all the same."""
    resistor = Resistance("R", "a", GROUND, 1e3)
    return {
        "value that is no number": [Resistance("R", "a", GROUND, float("nan"))],
        "sources in parallel": [DcSource("S", "a", GROUND, 1.0), DcSource("T", "a", GROUND, 2.0)],
        "nowhere to go": [
            CurrentSource("I", GROUND, "a", 1.0), Junction("D", GROUND, "a", 1e-9, 1.0, 0.0),
        ],
        "floating node": [resistor, Resistance("R2", "b", "c", 1e3)],
        "no element at all": [],
        "object that is no element": [object(), resistor],  # type: ignore[list-item]
    }  # fmt: skip


@pytest.mark.parametrize("case", nonsense())
def test_garbage_is_refused_and_spoils_nothing(service: Service, case: str) -> None:
    job = SteadyJob(tuple(nonsense()[case]), None, {}, 200)
    (answer,) = service.solve([job])
    assert isinstance(answer, EngineError)
    assert "\n" not in str(answer)
    works(service)


def test_failure_in_a_batch_leaves_the_others(own: Service) -> None:
    good = SteadyJob(tuple(ELEMENTS), FREQUENCY, {}, 200)
    bad = SteadyJob((object(),), FREQUENCY, {}, 200)  # type: ignore[arg-type]
    with own:
        answers = own.solve([good, bad, good, bad, good])
    assert [isinstance(answer, EngineError) for answer in answers] == [0, 1, 0, 1, 0]


def test_threads_may_share_a_service(own: Service) -> None:
    means: list[float] = []

    def run() -> None:
        means.append(steady_state(ELEMENTS, FREQUENCY, service=own).mean("n"))

    threads = [threading.Thread(target=run) for _ in range(4)]
    with own:
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert len(set(means)) == 1
    assert len(means) == 4


@linux
def test_nothing_leaks(own: Service) -> None:
    """Some 900 runs; PySpice's own way of running leaves 30 KiB behind each."""

    def resident() -> int:
        (pid,) = own.pids
        pages = Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1]
        return int(pages) * os.sysconf("SC_PAGE_SIZE")

    with own:
        for _ in range(20):
            works(own)
        before = resident()
        for _ in range(100):
            works(own)
        assert resident() - before < 4 << 20


# The library and start-up files -------------------------------------------------------------


def test_library_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/nowhere/libngspice.so")
    with Service() as lost:
        for _ in range(2):
            with pytest.raises(EngineMissing, match=r"/nowhere/libngspice\.so"):
                lost.version()
            with pytest.raises(EngineMissing, match="NGSPICE_LIBRARY_PATH"):
                steady_state(ELEMENTS, FREQUENCY, service=lost)
        assert lost.pids == []


@posix
def test_library_that_is_another_one(
    monkeypatch: pytest.MonkeyPatch, service: Service, tmp_path: Path
) -> None:
    text = tmp_path / "libngspice.so"
    text.write_text("not a library", encoding="ascii")
    for path in (str(text), "libm.so.6", str(tmp_path)):
        monkeypatch.setenv("NGSPICE_LIBRARY_PATH", path)
        with Service() as lost, pytest.raises(EngineMissing, match="cannot be loaded"):
            lost.version()


def test_start_up_files_are_not_executed(service: Service, tmp_path: Path) -> None:
    """Neither in the working directory, nor at home, nor where ngspice looks for its own."""
    command = f"shell touch {tmp_path / 'executed'}\n"
    scripts = tmp_path / "scripts"
    scripts.mkdir()
    (tmp_path / ".spiceinit").write_text(command, encoding="ascii")
    (scripts / "spinit").write_text(command, encoding="ascii")
    done = python(
        """
        from netcheck.engine.elements import GROUND, DcSource, Resistance
        from netcheck.engine.steady import steady_state
        circuit = [DcSource("S", "a", GROUND, 5.0), Resistance("R", "a", GROUND, 1.0)]
        print(steady_state(circuit, None).mean("a"))
        """,
        tmp_path,
        HOME=str(tmp_path),
        USERPROFILE=str(tmp_path),
        SPICE_LIB_DIR=str(tmp_path),
        SPICE_SCRIPTS=str(scripts),
    )
    assert done.stdout.strip() == "5.0", done.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == [".spiceinit", "scripts"]


def test_to_start_needs_no_folder_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed in the middle of it, it would leave one behind."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with _no_start_up_files():
        assert not list(tmp_path.iterdir())
        assert not Path(os.environ["HOME"]).exists()
        assert not list(Path.cwd().glob(".spice*"))
    assert not list(tmp_path.iterdir())


def test_files_beside_the_user_are_not_imported(service: Service, tmp_path: Path) -> None:
    """A file of the user's that is called like a module of ours or of Python."""
    for name in ("numpy", "queue", "netcheck", "PySpice", "signal"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit(9)\n", encoding="ascii")
    code = f"""
        import sys
        sys.path = [p for p in sys.path if p not in ("", {str(tmp_path)!r})]
        from netcheck.engine.service import default_service
        print(default_service().version())
        """
    done = python(code, tmp_path)
    assert done.stdout.startswith("ngspice"), done.stderr


def test_environment_that_makes_warnings_errors(service: Service, tmp_path: Path) -> None:
    code = """
        from netcheck.engine.service import default_service
        print(default_service().version())
        """
    done = python(code, tmp_path, PYTHONWARNINGS="error")
    assert done.stdout.startswith("ngspice"), done.stderr


# The other process --------------------------------------------------------------------------


def test_parent_imports_nothing_heavy(service: Service, tmp_path: Path) -> None:
    done = python(
        """
        import sys
        from netcheck.engine.service import default_service
        assert "numpy" not in sys.modules
        default_service().start()
        from netcheck.engine.elements import GROUND, DcSource, Resistance
        from netcheck.engine.steady import steady_state
        circuit = [DcSource("S", "a", GROUND, 5.0), Resistance("R", "a", GROUND, 1.0)]
        steady_state(circuit, None)
        heavy = {"PySpice", "scipy", "matplotlib", "cffi", "multiprocessing", "networkx"}
        print(sorted(heavy & {name.split(".")[0] for name in sys.modules}))
        """,
        tmp_path,
    )
    assert done.stdout.strip() == "[]", done.stderr


BUSY = """
    from netcheck.engine.service import default_service
    from netcheck.engine.steady import transient
    from netcheck.engine.elements import GROUND, Capacitance, Resistance, SineSource
    circuit = [SineSource("W", "a", GROUND, 5.0), Resistance("R", "a", "b", 1e3),
               Capacitance("C", "b", GROUND, 1e-6)]
    service = default_service()
    service.version()
    print(service.pids[0], flush=True)
    transient(circuit, 50.0, 5000.0, record="last")
    """


@linux
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_worker_does_not_outlive_its_parent(
    service: Service, tmp_path: Path, number: signal.Signals
) -> None:
    """Ctrl-C goes to the whole group, as a terminal sends it; the others to the parent alone."""
    parent = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(BUSY)],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        start_new_session=True,
    )
    with parent:
        assert parent.stdout is not None
        pid = int(parent.stdout.readline())
        assert not gone(pid)
        time.sleep(0.1)
        if number == signal.SIGINT:
            os.killpg(parent.pid, number)
        else:
            parent.send_signal(number)
        assert parent.wait(timeout=10) != 0
        # It is in the middle of a run that would take minutes.
        assert until(lambda: gone(pid))


@linux
def test_program_that_just_ends_leaves_no_worker(service: Service, tmp_path: Path) -> None:
    done = python(
        """
        from netcheck.engine.service import default_service
        default_service().version()
        print(default_service().pids[0])
        """,
        tmp_path,
    )
    assert until(lambda: gone(int(done.stdout)))
    assert done.stderr == ""


@posix
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_forked_process_has_a_worker_of_its_own(service: Service, tmp_path: Path) -> None:
    done = python(
        """
        import os
        from netcheck.engine.elements import GROUND, DcSource, Resistance
        from netcheck.engine.service import default_service
        from netcheck.engine.steady import steady_state
        circuit = [DcSource("S", "a", GROUND, 5.0), Resistance("R", "a", GROUND, 1.0)]
        steady_state(circuit, None)
        mine = default_service().pids
        child = os.fork()
        if child == 0:
            ok = steady_state(circuit, None).mean("a") == 5.0 and default_service().pids != mine
            default_service().close()
            os._exit(0 if ok else 1)
        print(os.waitpid(child, 0)[1], steady_state(circuit, None).mean("a"))
        """,
        tmp_path,
    )
    assert done.stdout.split() == ["0", "5.0"], done.stderr
