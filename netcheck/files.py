"""Reading what the user names, and writing files whole or not at all."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

from .errors import InputError
from .finding import Finding, Severity
from .source import NOWHERE, Source, Span

SIZE_LIMIT = 1_000_000
"""Larger files are no bias section; a long one has some 5,000 characters. [byte]"""


def read_source(name: str) -> Source:
    """Read a text file, "-" for standard input.

    Raises
    ------
    InputError
        If it is missing, a folder, too large, or no UTF-8 text; the message or its finding
        says what to do.
    """
    raw = _read_bytes(name)
    shown = "(standard input)" if name == "-" else name
    if len(raw) > SIZE_LIMIT:
        raise _unusable(shown, "too-large", f"the file is larger than {SIZE_LIMIT // 1000} kB",
                        "a bias section takes a few kilobytes: is this the right file?")  # fmt: skip
    return Source(shown, decode(shown, raw).replace("\r\n", "\n").replace("\r", "\n"))


def _read_bytes(name: str) -> bytes:
    try:
        if name == "-":
            return sys.stdin.buffer.read(SIZE_LIMIT + 1)
        with Path(name).open("rb") as file:
            return file.read(SIZE_LIMIT + 1)
    except FileNotFoundError:
        raise _unusable(name, "no-such-file", "there is no such file", _near(name)) from None
    except IsADirectoryError:
        raise _unusable(name, "not-a-file", "this is a folder, not a file",
                        "name a file in it") from None  # fmt: skip
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _unusable(name, "unreadable-file", f"the file cannot be read: {reason}",
                        "look at its name and its permissions") from None  # fmt: skip


def _near(name: str) -> str:
    """A hint at a file of a similar name beside the one that is missing."""
    import difflib  # noqa: PLC0415 - only on the way to an error

    path = Path(name)
    try:
        beside = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except (OSError, ValueError):
        return "look at its name and folder"
    near = difflib.get_close_matches(path.name, beside, n=1)
    return f'did you mean "{path.parent / near[0]}"?' if near else "look at its name and folder"


def decode(name: str, raw: bytes) -> str:
    """Bytes to text: UTF-8, with or without a byte order mark.

    Raises
    ------
    InputError
        With the place of the first byte that is no UTF-8, or that is no text at all.
    """
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise _unusable(name, "not-utf-8", "the file is written in UTF-16",
                        'save it again as "UTF-8" in the editor')  # fmt: skip
    body = raw.removeprefix(b"\xef\xbb\xbf")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        before = body[: error.start].decode("utf-8")
        raise _unusable(name, "not-utf-8",
                        f"the byte {body[error.start]:#04x} here is no UTF-8 text",
                        'save the file again as "UTF-8" in the editor',
                        Source(name, body.decode("utf-8", "replace")), before) from None  # fmt: skip
    if "\0" in text:
        raise _unusable(name, "not-text", "the file holds a zero byte: it is no text file",
                        "name a text file", Source(name, text.replace("\0", "\ufffd")),
                        text[: text.index("\0")])  # fmt: skip
    return text


def _unusable(
    name: str, slug: str, what: str, fix: str, source: Source | None = None, before: str = ""
) -> InputError:
    span = NOWHERE
    if source is not None:
        line = before.count("\n") + 1
        column = len(before) - (before.rfind("\n") + 1) + 1
        span = Span(line, column, column + 1)
    finding = Finding(slug, Severity.ERROR, source or Source(name, ""), span, what, "", fix)
    return InputError(f"{name}: {what}", [finding])


def write_whole(path: Path, text: str, *, replace: bool = False) -> None:
    """Write a text file so that it is there whole, or not at all.

    Parameters
    ----------
    path : Path
        Where to.
    text : str
        What.
    replace : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    InputError
        If it exists and may not be replaced, or if it cannot be written.
    """
    if path.exists() and not replace:
        raise _unusable(str(path), "file-exists", "the file exists already and is left as it is",
                        "choose another name, or remove the file first")  # fmt: skip
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent or Path())
        temporary = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        _place(temporary, path, replace)
    except OSError as error:
        raise _unusable(str(path), "cannot-write", f"the file cannot be written: {error.strerror}",
                        "look at the folder, its permissions and the space left") from None  # fmt: skip
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def _place(temporary: Path, path: Path, replace: bool) -> None:
    """Give the finished file its name; a file that appeared meanwhile is not overwritten."""
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
    temporary.chmod(mode)
    if replace:
        temporary.replace(path)
        return
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise _unusable(str(path), "file-exists", "the file exists already and is left as it is",
                        "choose another name, or remove the file first") from None  # fmt: skip
    except OSError:  # a file system without hard links
        temporary.replace(path)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
