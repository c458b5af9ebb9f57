"""The page as a PDF, by an extra that is not installed with the rest."""

from __future__ import annotations

import io
import logging
import os
import re
import tempfile
from pathlib import Path
from typing import Any

from ..errors import InputError

EXTRA = "netcheck[pdf]"
"""What has to be installed."""
_VARIABLE = re.compile(r";(?:fill|stroke):var\([^)]*\)")
"""Colours by custom property, which are not known within pictures: plain ones stand before."""


def ready() -> None:
    """See to it that a PDF can be made, before the work begins.

    Raises
    ------
    InputError
        Saying what to install.
    """
    _library()


def render_pdf(page: str) -> bytes:
    """The printed page as a PDF.

    Parameters
    ----------
    page : str
        From `render_page`; nothing that it might name is fetched.

    Raises
    ------
    InputError
        If what makes PDFs is not there.
    """
    library = _library()
    logging.getLogger("weasyprint").setLevel(logging.ERROR)  # it warns of what is for screens only
    out = io.BytesIO()
    page = _VARIABLE.sub("", page)
    library.HTML(string=page, url_fetcher=_refuse).write_pdf(out)
    return out.getvalue()


def _library() -> Any:
    try:
        import weasyprint  # noqa: PLC0415 - an extra, and slow to load
    except (ImportError, OSError) as error:  # OSError: the system's libraries for fonts are missing
        reason = "is not installed" if isinstance(error, ImportError) else f"cannot start ({error})"
        raise InputError(f"--pdf: what makes PDFs {reason}; install it with: pip install "
                         f"'{EXTRA}', or print the page from a browser") from None  # fmt: skip
    return weasyprint


def _refuse(url: str, *_: object, **__: object) -> dict[str, object]:
    """The page holds all that it shows: nothing is fetched."""
    raise ValueError(f"{url} is not fetched")


def write_pdf(path: Path, content: bytes, *, replace: bool = False) -> None:
    """Write a PDF so that it is there whole, or not at all.

    Parameters
    ----------
    path : Path
        Where to.
    content : bytes
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
        if target.exists() and not replace:
            raise InputError(f"{path}: the file exists already and is left as it is; --replace "
                             "lets it be replaced")  # fmt: skip
        mode = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
        handle, name = tempfile.mkstemp(prefix=".netcheck-", dir=target.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(mode)
            Path(name).replace(target)
        finally:
            Path(name).unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{path}: the file cannot be written: {error.strerror}") from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
