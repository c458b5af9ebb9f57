"""The parent's side of the worker process: start it, ask it, outlive it.

Whatever a run does, the caller gets an answer or an `EngineError` of one sentence, and the
next call finds a working simulator. Nothing here imports PySpice or ngspice.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import queue
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import IO, cast

from ..errors import EngineError, EngineMissing, EngineOverdue
from .jobs import Answer, Failure, Job, Ready, receive, send
from .twin import CAN_FORK, Twin

START_TIMEOUT = 60.0
"""Longest time for a worker to load its libraries, on a slow and busy machine. [s]"""

WORTH_ANOTHER = 40
"""Jobs for each worker, for which starting it pays: one takes about 10 ms. [count]"""

MOST_OVERDUE = 2
"""Of one list of jobs that take too long: its circuits are alike, the rest is given up. [count]"""

_HOME = str(Path(__file__).resolve().parents[2])
"""The folder that holds this very package: the worker must not find another."""

_BOOT = """
import sys
home = sys.argv[1]
if home not in sys.path:
    sys.path.insert(0, home)
from netcheck.engine.worker import main
main(*map(int, sys.argv[2:]))
"""
"""What the worker process executes; its arguments are the folder, the memory, and the pipes of
the processes that it shall fork."""


class Service:
    """Worker processes that run ngspice; started when first needed, restarted when lost.

    Parameters
    ----------
    timeout : float
        Longest time for one job. [s]
    workers : int
        Most worker processes; more than one only serve lists of several jobs. [count]
    memory : int
        Memory that a worker may take for its runs, where the system can bound it. [byte]
    """

    def __init__(self, *, timeout: float = 20.0, workers: int = 1, memory: int = 2 << 30) -> None:
        self._workers = [_Worker(timeout, memory) for _ in range(max(1, workers))]
        self._lock = threading.Lock()
        self._is_open = False

    def __enter__(self) -> Service:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def start(self) -> None:
        """Set the first worker going and return at once, while it loads its libraries.

        It forks the others when it is ready. Where it cannot, they are started then: the caller
        has work of its own to begin with, and loading more than one at a time would take from
        that.
        """
        with self._lock:
            self._is_open = True
        first, *rest = self._workers
        if CAN_FORK:
            first.start(rest)
        else:
            first.start(when_ready=self._start_rest)

    def _start_rest(self) -> None:
        with self._lock:
            if self._is_open:
                for worker in self._workers[1:]:
                    worker.start()

    def close(self) -> None:
        """End all workers. The service can be used again afterwards."""
        with self._lock:
            self._is_open = False
        for worker in self._workers:
            worker.kill()

    @property
    def pids(self) -> list[int]:
        """Process numbers of the living workers."""
        return [pid for worker in self._workers if (pid := worker.pid) is not None]

    def version(self) -> str:
        """Name and version of the simulator, such as "ngspice 39".

        Raises
        ------
        EngineMissing
            When there is none, saying how to get it.
        EngineError
            When it could not be started.
        """
        return self._workers[0].version()

    def solve(self, jobs: Sequence[Job], *, every: bool = False) -> list[Answer | EngineError]:
        """Run jobs, in several processes when they are many.

        Parameters
        ----------
        jobs : sequence of Job
            What to run; circuits must have passed the preflight.
        every : bool
            Whether the answers are of use together only: after one that failed, which may
            have taken all the time that a job has, the rest is not run and fails alike.

        Returns
        -------
        list of Answer or EngineError
            In the order of the jobs, an error in the place of each that failed, or that was
            not run any more.

        Raises
        ------
        EngineMissing
            When there is no simulator.
        """
        answers: list[Answer | EngineError | None] = [None] * len(jobs)
        waiting = iter(enumerate(jobs))
        crew = self._crew(len(jobs))
        if len(crew) == 1:
            _work_off(crew[0], waiting, threading.Lock(), answers, every)
        else:
            _work_together(crew, waiting, answers, every)
        for answer in answers:
            if isinstance(answer, EngineMissing):
                raise answer
        failed = [answer for answer in answers if isinstance(answer, EngineError)]
        failed.sort(key=lambda error: not isinstance(error, EngineOverdue))
        why = failed[0] if failed else None
        return cast("list[Answer | EngineError]", [answer or why for answer in answers])

    def _crew(self, jobs: int) -> list[_Worker]:
        """The workers for so many jobs: those that are ready, or for many all of them."""
        first, *rest = self._workers
        others = [one for one in rest if jobs >= 2 * WORTH_ANOTHER or one.is_ready]
        return [first, *others][: max(1, jobs)]


def _work_off(
    worker: _Worker,
    waiting: Iterator[tuple[int, Job]],
    lock: threading.Lock,
    answers: list[Answer | EngineError | None],
    every: bool,
) -> None:
    """Take jobs from the list until it is empty, or there is no point in going on."""
    while True:
        with lock:
            index, job = next(waiting, (-1, None))
        if job is None:
            return
        try:
            answers[index] = worker.ask(job)
        except EngineError as error:
            answers[index] = error
            late = sum(isinstance(answer, EngineOverdue) for answer in answers)
            if every or late >= MOST_OVERDUE:
                with lock:
                    _empty(waiting)


def _empty(waiting: Iterator[tuple[int, Job]]) -> None:
    """Take what is left of a list, and forget it."""
    for _ in waiting:
        pass


def _work_together(
    crew: Sequence[_Worker],
    waiting: Iterator[tuple[int, Job]],
    answers: list[Answer | EngineError | None],
    every: bool,
) -> None:
    lock = threading.Lock()
    threads = [
        threading.Thread(
            target=_work_off, args=(worker, waiting, lock, answers, every), daemon=True
        )
        for worker in crew
    ]
    for thread in threads:
        thread.start()
    try:
        for thread in threads:
            thread.join()
    except BaseException:
        # Ctrl-C: empty the list, then cut short what is running.
        with lock:
            _empty(waiting)
        for worker in crew:
            worker.kill()
        raise


class _Worker:
    """One worker process, or none at the moment."""

    def __init__(self, timeout: float, memory: int) -> None:
        self._timeout = timeout
        self._memory = memory
        self._lock = threading.RLock()
        self._process: subprocess.Popen[bytes] | Twin | None = None
        self._answers: queue.SimpleQueue[object | None] = queue.SimpleQueue()
        self._version: str | None = None

    @property
    def pid(self) -> int | None:
        return None if self._process is None or not self._is_alive else self._process.pid

    @property
    def _is_alive(self) -> bool:
        return self._process is not None and self._process.poll() is None

    @property
    def is_ready(self) -> bool:
        """Whether a job would be begun at once."""
        return self._is_alive and (self._version is not None or not self._answers.empty())

    def start(
        self, others: Sequence[_Worker] = (), *, when_ready: Callable[[], None] | None = None
    ) -> None:
        """Start the process if there is none; do not wait for it.

        Parameters
        ----------
        others : sequence of _Worker
            Those without a process are given one that this one forks, where it is started.
        when_ready : callable, optional
            Called once, by another thread, when a process that this started is ready.
        """
        with self._lock:
            # An idle worker has nothing to say but that it is gone.
            died_idle = self._version is not None and not self._answers.empty()
            if self._is_alive and not died_idle:
                return
            self.kill()
            twins = [(other, Twin()) for other in others if not other._is_alive]
            try:
                self._take(_started(self._memory, [twin for _, twin in twins]), when_ready)
            except OSError as error:
                raise EngineError("the simulation process could not be started") from error
            finally:
                for _, twin in twins:
                    twin.hand_over()
            for other, twin in twins:
                with other._lock:
                    other.kill()
                    other._take(twin)

    def _take(
        self,
        process: subprocess.Popen[bytes] | Twin,
        when_ready: Callable[[], None] | None = None,
    ) -> None:
        """Listen to a process from now on."""
        self._process = process
        self._answers = queue.SimpleQueue()
        threading.Thread(
            target=_pass_on, args=(process, self._answers, when_ready), daemon=True
        ).start()

    def version(self) -> str:
        """Wait until the process is ready; what it has loaded."""
        with self._lock:
            self.start()
            if self._version is None:
                overdue = "the simulation process did not start in time"
                ready = cast(Ready, self._exchange(None, START_TIMEOUT, overdue))
                self._version = ready.version
            return self._version

    def ask(self, job: Job) -> Answer:
        """Have one job done."""
        with self._lock:
            self.version()
            overdue = f"the simulation took longer than {self._timeout:g} s and was stopped"
            return cast("Answer", self._exchange(job, self._timeout, overdue))

    def _exchange(self, job: Job | None, timeout: float, overdue: str) -> object:
        """Send a job and take the next answer; any failure but a refusal ends the process."""
        process = self._process
        try:
            # It may be dying just now; what it left to read says so.
            with contextlib.suppress(OSError):
                if job is not None and process is not None and process.stdin is not None:
                    send(process.stdin, job)
            answer = self._answers.get(timeout=timeout)
        except queue.Empty:
            self.kill()
            raise EngineOverdue(overdue) from None
        except BaseException:
            # Ctrl-C: an answer to come would be taken for that of the next job.
            self.kill()
            raise
        if answer is None:
            raise EngineError(self._last_words())
        if isinstance(answer, Failure):
            if answer.lost:
                self.kill()
            raise EngineMissing(answer.sentence) if answer.missing else EngineError(answer.sentence)
        return answer

    def _last_words(self) -> str:
        """Why the process is gone; clears away what is left of it."""
        process = self._process
        if process is None:
            return "the simulation was stopped"
        code: int | None = None
        with contextlib.suppress(subprocess.TimeoutExpired):
            code = process.wait(timeout=5.0)
        what = "could not be started" if self._version is None else "ended unexpectedly"
        self.kill()
        return f"the simulation process {what}{'' if code is None else f' (exit code {code})'}"

    def kill(self) -> None:
        """End the process, whatever it is doing; it holds nothing worth saving."""
        # No lock: this must work while another thread waits for an answer.
        process, self._process, self._version = self._process, None, None
        if process is not None:
            process.kill()
            process.wait()
            # Closing flushes, and nobody is there to read.
            with contextlib.suppress(OSError):
                if process.stdin is not None:
                    process.stdin.close()


def _started(memory: int, twins: Sequence[Twin]) -> subprocess.Popen[bytes]:
    """A new process, which shall fork some more.

    Raises
    ------
    OSError
        When the system has none to give.
    """
    ends = [end for twin in twins for end in twin.ends]
    return subprocess.Popen(
        # -P: the user's folder may hold a file called like one of our imports.
        [sys.executable, "-P", "-W", "ignore", "-c", _BOOT, _HOME, str(memory), *map(str, ends)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=_environment(),
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        pass_fds=ends,
    )


def _pass_on(
    process: subprocess.Popen[bytes] | Twin,
    answers: queue.SimpleQueue[object | None],
    when_ready: Callable[[], None] | None,
) -> None:
    """Read answers until the process is gone or talks nonsense; then say so once."""
    try:
        # Whatever goes wrong here is the end.
        with contextlib.suppress(Exception), cast("IO[bytes]", process.stdout) as stream:
            while (answer := receive(stream)) is not None:
                if isinstance(answer, Ready) and isinstance(process, Twin):
                    process.pid = answer.pid
                answers.put(answer)
                if when_ready is not None and isinstance(answer, Ready):
                    when_ready()
    finally:
        if isinstance(process, Twin):
            process.end()
        answers.put(None)


def _environment() -> dict[str, str]:
    """The parent's, with one thread for the worker's tiny matrices."""
    return os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


_default: tuple[int, Service] | None = None


def default_service() -> Service:
    """The service that is used where none is given; ended with the program."""
    global _default  # noqa: PLW0603 - one per process is the point
    # A forked process must not talk through its parent's pipes.
    if _default is None or _default[0] != os.getpid():
        service = Service(workers=min(2, os.cpu_count() or 1))
        atexit.register(service.close)
        _default = (os.getpid(), service)
    return _default[1]
