"""The user's terminal: writing to it, the exit codes, the caution that stands everywhere."""

from __future__ import annotations

import io
import os
import sys
from typing import TextIO

from .errors import InputError

CLEAN, FINDINGS, UNUSABLE, NO_ANSWER, STOPPED = 0, 1, 2, 3, 130
"""Exit codes: nothing found; something found; input or command at fault; no simulation; stopped
by Ctrl-C, as shells have it (128 and the number of the signal)."""

CAUTION = (
    "Caution: valve amplifiers hold lethal voltages, also when switched off and unplugged. "
    "Discharge the reservoir capacitors and check with a meter before you touch anything. "
    "Read the bias of a live chassis with one hand, insulated probes, clips fitted with the "
    "power off. Predictions are an aid for a qualified person; local electrical safety rules "
    "and licensed practice come first. Valves without bias destroy themselves in seconds."
)


def steady_output() -> None:
    """Make output survive a terminal that lacks a character."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def emit(text: str) -> None:
    """Write to standard output; a reader who has gone away is no error.

    Raises
    ------
    InputError
        If it leads to where nothing can be written, such as a full disk.
    """
    error = _write(sys.stdout, text)
    if error is not None:
        raise InputError(f"the output cannot be written: {error.strerror}")


def complain(text: str) -> None:
    """Write to standard error, as far as that can be written to."""
    _write(sys.stderr, text)


def _write(stream: TextIO | None, text: str) -> OSError | None:
    """Write a text; what went wrong is returned, unless only the reader has gone away."""
    if stream is None:  # closed by whoever started the program
        return None
    try:
        stream.write(text if text.endswith("\n") else text + "\n")
        stream.flush()
    except OSError as error:
        # Python flushes once more at exit and would complain then: give it a place to do so.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        return None if isinstance(error, BrokenPipeError) else error
    return None
