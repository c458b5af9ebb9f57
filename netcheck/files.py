"""Reading what the user names, and writing files whole or not at all."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
import zlib
from collections.abc import Iterable
from itertools import islice
from pathlib import Path

from .errors import InputError
from .finding import Finding, Severity
from .source import NOWHERE, Source, Span

SIZE_LIMIT = 250_000
"""Larger files are no bias section; a long one has some 5,000 characters. [byte]"""

LEFT_BEHIND = 600.0
"""An unfinished file older than this was left by a program that was killed: no write takes so
long. [s]"""

_MANY = 2000  # names in a folder that are compared


def read_source(name: str) -> Source:
    """Read a text file, "-" for standard input.

    Raises
    ------
    InputError
        If it is missing, a folder, too large, or no UTF-8 text; the message or its finding
        says what to do.
    """
    shown = "(standard input)" if name == "-" else name or '""'
    raw = _read_bytes(name, shown)
    if len(raw) > SIZE_LIMIT:
        raise _unusable(
            shown,
            "too-large",
            f"the file is larger than {SIZE_LIMIT // 1000} kB",
            "a bias section takes a few kilobytes: is this the right file?",
        )
    return Source(shown, decode(shown, raw))


def _read_bytes(name: str, shown: str) -> bytes:
    try:
        if name != "-":
            with Path(name).open("rb") as file:
                return file.read(SIZE_LIMIT + 1)
        if sys.stdin is None:
            raise OSError(0, "there is none")
        return sys.stdin.buffer.read(SIZE_LIMIT + 1)
    except FileNotFoundError:
        raise _unusable(shown, "no-such-file", "there is no such file", _near(name)) from None
    except (OSError, ValueError) as error:
        if name != "-" and _is_folder(name):
            raise _unusable(shown, "not-a-file", "this is a folder, not a file",
                            _file_in(name)) from None  # fmt: skip
        reason = getattr(error, "strerror", None) or str(error)
        raise _unusable(shown, "unreadable-file", f"it cannot be read: {reason}",
                        "look at its name and its permissions") from None  # fmt: skip


def _is_folder(name: str) -> bool:
    try:
        return Path(name).is_dir()
    except (OSError, ValueError):  # a name that no file can have
        return False


def _file_in(folder: str) -> str:
    """A hint at a circuit file in a folder."""
    try:
        inside = sorted(path.name for path in islice(Path(folder).glob("*.bias"), _MANY))
    except OSError:
        inside = []
    first = f', such as "{Path(folder) / inside[0]}"' if inside else ""
    return f"name a file in it{first}"


def _near(name: str) -> str:
    """A hint at a file of a similar name beside the one that is missing, or at an example."""
    path = Path(name)
    near = _nearest(path.name, _files_in(path.parent))
    if near is not None:
        return f'did you mean "{path.parent / near}"?'
    if path.parent == Path() and (example := _nearest(path.stem, _examples())) is not None:
        return f'did you mean the example "{example}"?'
    return "look at its name and folder"


def _nearest(name: str, known: Iterable[str]) -> str | None:
    import difflib  # noqa: PLC0415 - only on the way to an error

    return next(iter(difflib.get_close_matches(name, list(islice(known, _MANY)), n=1)), None)


def _files_in(folder: Path) -> list[str]:
    try:
        return [entry.name for entry in islice(folder.iterdir(), _MANY) if entry.is_file()]
    except (OSError, ValueError):
        return []


def _examples() -> list[str]:
    from .resources import folder  # noqa: PLC0415 - only on the way to an error

    try:
        return [path.stem for path in folder("circuits").glob("*.bias")]
    except OSError:
        return []


def decode(name: str, raw: bytes) -> str:
    r"""Bytes to text: UTF-8, with or without a byte order mark, each line end as "\n".

    Raises
    ------
    InputError
        With the place of the first byte that is no UTF-8, or that is no text at all.
    """
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in raw[:2]:
        raise _unusable(name, "not-utf-8", "the file is no UTF-8 text, but UTF-16 perhaps",
                        'save it again as "UTF-8" in the editor')  # fmt: skip
    body = raw.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        source = Source(name, body.decode("utf-8", "replace"))
        at = _place(body[: error.start].decode("utf-8"))
        raise _not_utf_8(source, at, body[error.start : error.start + 1]) from None
    if "\0" in text:
        raise _unusable(name, "not-text", "there is a zero byte here: this is no text file",
                        "name a text file", Source(name, text),
                        _place(text[: text.index("\0")]))  # fmt: skip
    return text


def _not_utf_8(source: Source, span: Span, byte: bytes) -> InputError:
    typed = byte.decode("cp1252", "ignore")
    guess = f': a "{typed}" of Windows, perhaps' if typed.isprintable() and typed else ""
    return _unusable(source.name, "not-utf-8", f"the byte 0x{byte.hex()} is no UTF-8 text{guess}",
                     'save the file again as "UTF-8" in the editor', source, span)  # fmt: skip


def _place(before: str) -> Span:
    """The place of the character behind a stretch of text that begins the file."""
    column = len(before) - (before.rfind("\n") + 1) + 1
    return Span(before.count("\n") + 1, column, column + 1)


def _unusable(
    name: str, slug: str, what: str, fix: str, source: Source | None = None, span: Span = NOWHERE
) -> InputError:
    finding = Finding(slug, Severity.ERROR, source or Source(name, ""), span, what, "", fix)
    return InputError(f"{name}: {what}", [finding])


def write_whole(path: Path, text: str, *, replace: bool = False) -> None:
    """Write a text file so that it is there whole, or not at all.

    A file that is replaced keeps its permissions, and a link to it stays a link. What is no
    file, such as a terminal or a pipe, is written to. Until it is whole it is a hidden file
    beside it, named `.netcheck-...`; one that was left by a program killed at that moment is
    cleared away when the same file is written next.

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
    try:
        target = path.resolve()
        if target.is_dir():
            raise _unusable(str(path), "not-a-file", "this is a folder, not a file",
                            "name a file in it")  # fmt: skip
        if target.exists() and not target.is_file():
            target.write_text(text, encoding="utf-8", newline="\n")
        else:
            _write_file(path, target, text, replace)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _unusable(str(path), "cannot-write", f"the file cannot be written: {reason}",
                        "look at the folder, its permissions and the space "
                        "left") from None  # fmt: skip


def refuse_existing(name: str | None, *, replace: bool) -> None:
    """Say before a simulation what `write_whole` would say after it.

    Parameters
    ----------
    name : str or None
        Where something will be written; None or "-" for nowhere.
    replace : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    InputError
        If there is a file that may not be replaced.
    """
    if name is not None and name != "-" and not replace and os.path.isfile(name):  # noqa: PTH113 - odd names
        raise _exists(Path(name), "choose another name, or replace it with --replace")


def _write_file(path: Path, target: Path, text: str, replace: bool) -> None:
    mode = 0o666 & ~_umask()
    if target.exists():
        if not replace:
            raise _exists(path)
        if not os.access(target, os.W_OK):
            raise PermissionError(0, "it is write-protected")
        mode = target.stat().st_mode & 0o777
    prefix = _unfinished(target)
    handle, name = tempfile.mkstemp(prefix=prefix, dir=target.parent)
    temporary = Path(name)
    try:
        _clear_away(temporary, prefix)
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(mode)
        _name(temporary, target, replace, path)
    finally:
        temporary.unlink(missing_ok=True)


def _unfinished(target: Path) -> str:
    """What the names of the unfinished versions of a file begin with; its own may be too long."""
    return f".netcheck-{zlib.crc32(os.fsencode(target.name)):08x}-"


def _clear_away(temporary: Path, prefix: str) -> None:
    """Remove unfinished versions that are much older than this one, by the same clock."""
    # It is a courtesy, no more: what cannot be looked at or removed stays.
    with contextlib.suppress(OSError), os.scandir(temporary.parent) as entries:
        begun = temporary.stat().st_mtime
        for entry in entries:
            if entry.name.startswith(prefix) and entry.is_file(follow_symlinks=False):
                age = begun - entry.stat(follow_symlinks=False).st_mtime
                if age > LEFT_BEHIND:
                    Path(entry.path).unlink()


def _name(temporary: Path, target: Path, replace: bool, path: Path) -> None:
    """Give the finished file its name; a file that appeared meanwhile is not overwritten."""
    if not replace:
        try:
            os.link(temporary, target)
        except FileExistsError:
            raise _exists(path) from None
        except OSError:  # a file system without hard links
            if target.exists():
                raise _exists(path) from None
        else:
            return
    temporary.replace(target)


def _exists(path: Path, fix: str = "choose another name, or remove the file first") -> InputError:
    what = "the file exists already and is left as it is"
    return _unusable(str(path), "file-exists", what, fix)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
