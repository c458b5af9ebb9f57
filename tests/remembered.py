"""Answers that the processes of one run of the tests share.

Each process writes what it was answered behind each other into a file of its own, and reads in
those of the others. Only where an answer stands is kept in memory.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import struct
import tempfile
import threading
from pathlib import Path

_FOLDER = "NETCHECK_TESTS_ANSWERS"
"""Environment variable that tells the processes of a run the folder of the answers."""

_HEAD = struct.Struct("32sQ")
"""Digest of the question, and length of the answer that follows. [byte]"""


class Remembered:
    """What was asked and answered in this run; threads may share it."""

    def __init__(self) -> None:
        self._folder = _folder()
        self._begin()
        os.register_at_fork(after_in_child=self._begin)

    def _begin(self) -> None:
        self._lock = threading.Lock()
        self._places: dict[bytes, tuple[int, int, int]] = {}
        self._others: dict[str, _Other] = {}
        self._own: int | None = None
        self._end = 0

    def get(self, asked: bytes) -> bytes | None:
        """The answer, if there was one."""
        digest = hashlib.sha256(asked).digest()
        with self._lock:
            if digest not in self._places:
                self._catch_up()
            place = self._places.get(digest)
        if place is None:
            return None
        file, start, size = place
        return os.pread(file, size, start)

    def add(self, asked: bytes, answer: bytes) -> None:
        """Keep an answer."""
        digest = hashlib.sha256(asked).digest()
        with self._lock:
            if self._own is None:
                name = self._folder / f"{os.getpid()}"
                self._own = os.open(name, os.O_RDWR | os.O_CREAT | os.O_APPEND)
            # In one piece: what another process sees of it is then whole, or lacks its end.
            whole = _HEAD.pack(digest, len(answer)) + answer
            if os.write(self._own, whole) < len(whole):
                raise OSError("no room for the answers that tests share")
            self._places[digest] = self._own, self._end + _HEAD.size, len(answer)
            self._end += len(whole)

    def _catch_up(self) -> None:
        """Read in what others were answered meanwhile."""
        for path in self._folder.iterdir():
            if path.name != str(os.getpid()):
                if path.name not in self._others:
                    self._others[path.name] = _Other(path)
                self._places.update(self._others[path.name].more())


class _Other:
    """The file of another process, read up to some place."""

    def __init__(self, path: Path) -> None:
        self._file = os.open(path, os.O_RDONLY)
        self._end = 0

    def more(self) -> dict[bytes, tuple[int, int, int]]:
        """Where answers stand that were written since."""
        found = {}
        size = os.fstat(self._file).st_size
        while self._end + _HEAD.size <= size:
            digest, length = _HEAD.unpack(os.pread(self._file, _HEAD.size, self._end))
            if self._end + _HEAD.size + length > size:
                break
            found[digest] = self._file, self._end + _HEAD.size, length
            self._end += _HEAD.size + length
        return found


def _folder() -> Path:
    """The folder of this run: the process that made it takes it away."""
    if _FOLDER not in os.environ:
        made = os.environ[_FOLDER] = tempfile.mkdtemp(prefix="netcheck-tests-")
        atexit.register(shutil.rmtree, made, ignore_errors=True)
    return Path(os.environ[_FOLDER])
