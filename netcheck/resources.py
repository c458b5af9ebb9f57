"""Where the grammars and the example circuits are: in a wheel, or beside the package."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path


def folder(kind: str) -> Path:
    """The folder `kind` ("grammars" or "circuits") that came with this package.

    Raises
    ------
    FileNotFoundError
        If the installation is incomplete.
    """
    package = Path(str(files("netcheck")))
    for candidate in (package / kind, package.parent / kind):
        if candidate.is_dir():
            return candidate
    raise FileNotFoundError(f"netcheck was installed without its {kind}: install it again")
