"""One line that says how far a long task has come, for somebody who watches a terminal."""

from __future__ import annotations

import contextlib
import sys
from types import TracebackType
from typing import TextIO

_WIDTH = 78


class ProgressLine:
    """A line on standard error that is erased at the end; nothing where that is no terminal.

    Parameters
    ----------
    stream : file, optional
        Where it is written; standard error if not given.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        out = sys.stderr if stream is None else stream
        self._stream = out if out is not None and out.isatty() else None
        self._width = 0

    def __enter__(self) -> ProgressLine:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:  # fmt: skip
        self._show("")
        self._write("\r")

    def __call__(self, what: str, done: int, total: int) -> None:
        """Say how much of a task is done.

        Parameters
        ----------
        what : str
            The task.
        done, total : int
            Steps; a total of 0 for a task without. [count]
        """
        self._show(f"{what}: {done} of {total}" if total else what)

    def _show(self, text: str) -> None:
        text = text[:_WIDTH]
        self._write(f"\r{text.ljust(self._width)}")
        self._width = len(text)

    def _write(self, text: str) -> None:
        if self._stream is not None:
            with contextlib.suppress(OSError, ValueError):  # it is a courtesy, no more
                self._stream.write(text)
                self._stream.flush()
