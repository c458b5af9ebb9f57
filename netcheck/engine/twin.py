"""A worker process that another one has forked, as its parent's parent sees it.

To load numpy, PySpice and ngspice takes a worker two tenths of a second; a copy of one that has
loaded them is ready at once. It is no child of ours, so that nothing but its pipes tells whether
it lives.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading

CAN_FORK = sys.platform == "linux"
"""Whether a process that has loaded libraries may fork. On macOS those of the system object."""

_END_TIMEOUT = 5.0  # for a process that was killed to close its pipes [s]


class Twin:
    """As much of a `subprocess.Popen` as is asked of a worker's process."""

    def __init__(self) -> None:
        theirs_in, ours_out = os.pipe()
        ours_in, theirs_out = os.pipe()
        self.stdin = os.fdopen(ours_out, "wb")
        self.stdout = os.fdopen(ours_in, "rb")
        self.ends = (theirs_in, theirs_out)
        """What the worker that forks has to inherit: where to read jobs, where to answer."""
        self.pid: int | None = None
        """Its number, from its own first word."""
        self._ended = threading.Event()

    def hand_over(self) -> None:
        """Close the worker's ends on this side: only then does its death close the pipes."""
        for end in self.ends:
            os.close(end)

    def end(self) -> None:
        """Note that its pipes are closed."""
        self._ended.set()

    def poll(self) -> int | None:
        """None as long as it lives."""
        return 1 if self._ended.is_set() else None

    def kill(self) -> None:
        """End it; one that is not there yet will find its pipes closed."""
        # As long as its pipes are open the number is its own.
        if self.pid is not None and self.poll() is None:
            with contextlib.suppress(OSError):
                os.kill(self.pid, signal.SIGKILL)

    def wait(self, timeout: float = _END_TIMEOUT) -> None:
        """Wait until its pipes are closed. Its exit code is for another process to know."""
        if self.pid is not None:
            self._ended.wait(timeout)
