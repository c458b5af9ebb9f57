"""The worker process: it answers one job after another, and forks others that do the same.

A simulator may crash, hang or eat all memory; here it takes nothing else with it.
Shooting runs on this side: a steady state costs one message instead of one for each of its
periods (0.3 ms beside 1 ms for the period itself), and only the last waveforms travel.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import queue
import signal
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import IO, cast

from ..errors import EngineMissing
from .jobs import Failure, Job, Ready, receive, send


def main(memory: int, *pipes: int) -> None:
    """Answer jobs from standard input until it ends.

    Parameters
    ----------
    memory : int
        Memory that may be taken on top of what the loaded libraries take. [byte]
    *pipes : int
        For each process that shall be forked the file descriptors of its pipes: where to read
        jobs, where to answer.
    """
    try:
        _serve(memory, list(zip(pipes[::2], pipes[1::2], strict=True)))
    finally:
        # No orderly end: it would wait for the thread that listens.
        os._exit(1)


def _serve(memory: int, twins: Sequence[tuple[int, int]]) -> None:
    # Ctrl-C reaches the whole process group; what becomes of this one the parent decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    out = _take_standard_output()
    try:
        # Only now, so that nothing an import prints gets between the answers.
        from .solver import Solver  # noqa: PLC0415

        solver = Solver()
    except EngineMissing as error:
        _refuse(out, str(error))
        return
    except ImportError as error:
        _refuse(out, f"PySpice cannot be loaded: {error}")
        return
    # Before there is a second thread, which no fork would take along.
    with _forked(out, twins) as answers:
        jobs: queue.SimpleQueue[Job] = queue.SimpleQueue()
        threading.Thread(target=_listen, args=(sys.stdin.buffer, jobs), daemon=True).start()
        _bound_memory(memory)  # what the thread has reserved is no run's
        send(answers, Ready(solver.version, os.getpid()))
        lost = False
        while not lost:
            answer = solver.answer(jobs.get())
            send(answers, answer)
            lost = isinstance(answer, Failure) and answer.lost


def _take_standard_output() -> int:
    """Keep the pipe for answers alone: ngspice prints where it likes."""
    out = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return out


def _refuse(out: int, why: str) -> None:
    with os.fdopen(out, "wb") as answers:
        send(answers, Failure(why, missing=True, lost=True))


def _forked(out: int, twins: Sequence[tuple[int, int]]) -> IO[bytes]:
    """Fork one process for each pair of pipes; where to answer, in this one and in those."""
    mine = out
    for jobs_in, answers_out in twins:
        # Where the system has no process left to give, this one is alone.
        with contextlib.suppress(OSError):
            if mine == out and os.fork() == 0:
                os.dup2(jobs_in, 0)
                mine = answers_out
    # A pipe is closed when the last who holds it is gone: each holds its own only.
    for held in (out, *itertools.chain.from_iterable(twins)):
        if held != mine:
            os.close(held)
    return os.fdopen(mine, "wb")


def _listen(stream: IO[bytes], jobs: queue.SimpleQueue[Job]) -> None:
    """Pass jobs on; when the parent is gone, end even in the middle of a run."""
    while (job := receive(stream)) is not None:
        jobs.put(cast(Job, job))
    os._exit(0)


def _bound_memory(more: int) -> None:
    """Bound the address space to what is used now and so much more. [byte]"""
    # Not from the start: some builds of OpenBLAS reserve gigabytes while they load.
    try:
        import resource  # noqa: PLC0415 - not on Windows

        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    except (ImportError, OSError):
        return
    bound = pages * resource.getpagesize() + more
    _, most = resource.getrlimit(resource.RLIMIT_AS)
    if most == resource.RLIM_INFINITY or bound < most:
        resource.setrlimit(resource.RLIMIT_AS, (bound, most))
