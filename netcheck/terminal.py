"""The user's terminal: writing to it, the exit codes, the caution that stands everywhere."""

from __future__ import annotations

import io
import os
import sys
from typing import Any

CLEAN, FINDINGS, UNUSABLE, NO_ANSWER = 0, 1, 2, 3
"""Exit codes: nothing found; something found; input or command at fault; no simulation."""

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
    """Write to standard output; a reader who has gone away is no error."""
    _write(sys.stdout, text)


def complain(text: str) -> None:
    """Write to standard error."""
    _write(sys.stderr, text)


def _write(stream: Any, text: str) -> None:
    try:
        stream.write(text if text.endswith("\n") else text + "\n")
        stream.flush()
    except BrokenPipeError:
        # Python flushes once more at exit and would complain then: give it a place to do so.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
