"""The sheet of a session on disk: written whole after each answer, never over others' work."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ..crosscheck import cross_check
from ..errors import InputError
from ..files import SIZE_LIMIT, read_source, write_whole
from ..finding import Finding, Severity, in_reading_order
from ..graph import Section
from ..parse.sheet import SheetText, read_sheet
from ..readings import Sheet
from ..source import Source

OTHER_CIRCUIT = "other-circuit"
"""Slug of the finding that a sheet belongs to another circuit."""


class ChangedMeanwhile(Exception):
    """Another program wrote to the file; what it wrote has been read, nothing was written."""


class BrokenMeanwhile(InputError):
    """Another program left errors in the file; nothing was written."""


@dataclass(frozen=True, slots=True)
class Version:
    """A text of the sheet, read and held against the circuit.

    Parameters
    ----------
    text : str
        The text.
    content : SheetText
        Its lines, and the conditions at its end.
    sheet : Sheet
        Its readings, with their nodes known.
    findings : tuple of Finding
        What is to be said about it.
    """

    text: str
    content: SheetText
    sheet: Sheet
    findings: tuple[Finding, ...]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """What makes the text unusable."""
        return tuple(f for f in self.findings if f.severity is Severity.ERROR)


def version(name: str, text: str, section: Section) -> Version:
    """Read a text of the sheet.

    Parameters
    ----------
    name : str
        Of the file, for messages.
    text : str
        The text.
    section : Section
        The circuit.
    """
    content = read_sheet(Source(name, text))
    sheet, found = cross_check(content.sheet, section)
    return Version(text, content, sheet, tuple(in_reading_order([*content.findings, *found])))


class SheetFile:
    """A sheet of readings on disk.

    Parameters
    ----------
    path : Path
        The file.
    section : Section
        The circuit that the readings are taken on.
    now : Version
        What the file holds.
    """

    def __init__(self, path: Path, section: Section, now: Version) -> None:
        self.path = path
        self.section = section
        self.now = now

    @classmethod
    def opened(cls, path: Path, section: Section) -> SheetFile:
        """A file that exists.

        Raises
        ------
        InputError
            If it cannot be read or written, with every error in it, or if it belongs to another
            circuit. The file is left as it is.
        """
        now = _read(path, section)
        strange = [f for f in now.findings if f.slug == OTHER_CIRCUIT]
        if now.errors or strange:
            raise InputError(f"{path} cannot be gone on with", [*now.errors, *strange])
        if not os.access(path, os.W_OK):
            raise InputError(f"{path} is write-protected: no reading could be kept in it")
        return cls(path, section, now)

    @classmethod
    def created(cls, path: Path, section: Section, text: str) -> SheetFile:
        """A new file.

        Raises
        ------
        InputError
            If there is such a file by now, or it cannot be written.
        """
        write_whole(path, text)
        return cls(path, section, version(str(path), text, section))

    def draft(self, text: str) -> Version:
        """A text that the file may get."""
        return version(str(self.path), text, self.section)

    def write(self, new: Version) -> bool:
        """Give the file a new text; when this returns it is on the disk.

        Parameters
        ----------
        new : Version
            Without an error.

        Returns
        -------
        bool
            Whether the file had vanished, and is there again.

        Raises
        ------
        ChangedMeanwhile
            If the file holds something else than was read last; `now` is what it holds.
        BrokenMeanwhile
            If it holds errors by now.
        InputError
            If it cannot be written.
        """
        if len(new.text.encode()) > SIZE_LIMIT:
            raise InputError(f"a sheet takes at most {SIZE_LIMIT // 1000} kB: begin another one")
        with _alone(self.path) as folder:
            vanished = not self.path.exists()
            if not vanished:
                self._check_unchanged()
            write_whole(self.path, new.text, replace=True)
            if folder is not None:
                os.fsync(folder)  # the name as well, not the text alone
        self.now = new
        return vanished

    def _check_unchanged(self) -> None:
        found = read_source(str(self.path))
        if found.text == self.now.text:
            return
        there = version(str(self.path), found.text, self.section)
        if there.errors:
            raise BrokenMeanwhile(f"{self.path} has errors in it by now", there.errors)
        self.now = there
        raise ChangedMeanwhile


def _read(path: Path, section: Section) -> Version:
    if path.exists() and not path.is_dir() and not path.is_file():
        raise InputError(f"{path} is no file that readings can be kept in")
    return version(str(path), read_source(str(path)).text, section)


@contextlib.contextmanager
def _alone(path: Path) -> Iterator[int | None]:
    """Keep other sessions from writing into the same folder, where the system can do that."""
    try:
        import fcntl  # noqa: PLC0415 - not on Windows

        folder = os.open(path.resolve().parent, os.O_RDONLY)
    except (ImportError, OSError):
        yield None
        return
    try:
        with contextlib.suppress(OSError):  # a network's file system may know no locks
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield folder
    finally:
        os.close(folder)
