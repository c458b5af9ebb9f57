"""The worker process: it answers one job after another, and nothing more.

A simulator may crash, hang or eat all memory; here it takes nothing else with it.
Shooting runs on this side: a steady state costs one message instead of one for each of its
periods (0.3 ms beside 1 ms for the period itself), and only the last waveforms travel.
"""

from __future__ import annotations

import os
import queue
import signal
import sys
import threading
from pathlib import Path
from typing import IO, cast

from ..errors import EngineMissing
from .jobs import Failure, Job, Ready, receive, send


def main(memory: int) -> None:
    """Answer jobs from standard input until it ends.

    Parameters
    ----------
    memory : int
        Memory that may be taken on top of what the loaded libraries take. [byte]
    """
    try:
        _serve(memory)
    finally:
        # No orderly end: it would wait for the thread that listens.
        os._exit(1)


def _serve(memory: int) -> None:
    # Ctrl-C reaches the whole process group; what becomes of this one the parent decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = _take_standard_output()
    jobs: queue.SimpleQueue[Job] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(sys.stdin.buffer, jobs), daemon=True).start()
    try:
        # Only now, so that nothing an import prints gets between the answers.
        from .solver import Solver  # noqa: PLC0415

        solver = Solver()
    except EngineMissing as error:
        send(answers, Failure(str(error), missing=True, lost=True))
        return
    except ImportError as error:
        send(answers, Failure(f"PySpice cannot be loaded: {error}", missing=True, lost=True))
        return
    _bound_memory(memory)
    send(answers, Ready(solver.version))
    lost = False
    while not lost:
        answer = solver.answer(jobs.get())
        send(answers, answer)
        lost = isinstance(answer, Failure) and answer.lost


def _take_standard_output() -> IO[bytes]:
    """Keep the pipe for answers alone: ngspice prints where it likes."""
    answers = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return answers


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
