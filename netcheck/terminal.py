"""The user's terminal: writing to it, the exit codes, the caution that stands everywhere."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
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

_STAND_IN = "\N{REPLACEMENT CHARACTER}"


def steady_output() -> None:
    """Make output survive a terminal that lacks a character."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def emit(text: str, paint: Callable[[str], str] | None = None) -> None:
    """Write to standard output; a reader who has gone away is no error.

    On a terminal, what is no printable sign is replaced: a note in somebody's file may hold
    what moves the cursor or turns the writing round. Into a file or a pipe goes what it is.

    Parameters
    ----------
    text : str
        The text.
    paint : callable, optional
        Adds colours, on a terminal whose user has not set `NO_COLOR` (https://no-color.org).

    Raises
    ------
    InputError
        If it leads to where nothing can be written, such as a full disk.
    """
    error = _write(sys.stdout, text, paint)
    if error is not None:
        raise InputError(f"the output cannot be written: {error.strerror}")


def complain(text: str) -> None:
    """Write to standard error, as far as that can be written to."""
    _write(sys.stderr, text)


def _write(stream: TextIO | None, text: str, paint: Callable[[str], str] | None = None
           ) -> OSError | None:  # fmt: skip
    """Write a text; what went wrong is returned, unless only the reader has gone away."""
    if stream is None:  # closed by whoever started the program
        return None
    try:
        shown = _tamed(text) if stream.isatty() else text
        if paint is not None and stream.isatty() and _is_coloured():
            shown = paint(shown)
        stream.write(shown if shown.endswith("\n") else shown + "\n")
        stream.flush()
    except OSError as error:
        # Python flushes once more at exit and would complain then: give it a place to do so.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        return None if isinstance(error, BrokenPipeError) else error
    return None


def _is_coloured() -> bool:
    return not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _tamed(text: str) -> str:
    """The text without what commands a terminal: controls, and marks that are not seen."""
    if text.replace("\n", "").isprintable():
        return text
    import unicodedata  # noqa: PLC0415 - hardly ever needed

    def shown(c: str) -> str:
        if c.isprintable() or c in "\n\t":
            return c
        return " " if unicodedata.category(c) == "Zs" else _STAND_IN

    return "".join(map(shown, text))
