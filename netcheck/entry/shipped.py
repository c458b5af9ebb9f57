"""The circuits that come with the program."""

from __future__ import annotations

import re
from itertools import takewhile
from pathlib import Path
from typing import NamedTuple

from ..files import read_source
from ..resources import folder

_TITLE = re.compile(r'\s*circuit\s+"([^"]*)"', re.IGNORECASE)


class Shipped(NamedTuple):
    """A circuit that comes with the program.

    Parameters
    ----------
    name : str
        Its name, which works wherever a file is wanted.
    path : Path
        Its file.
    title : str
        Its title.
    shows : str
        The first sentence of the comment that it begins with.
    """

    name: str
    path: Path
    title: str
    shows: str


def shipped() -> list[Shipped]:
    """The circuits that come with the program, by name.

    Raises
    ------
    FileNotFoundError
        If the installation is incomplete.
    """
    return [_look_at(path) for path in sorted(folder("circuits").glob("*.bias"))]


def _look_at(path: Path) -> Shipped:
    lines = read_source(str(path)).lines
    title = next((match[1] for line in lines if (match := _TITLE.match(line))), "")
    head = takewhile(lambda line: line.startswith("#"), lines)
    comment = " ".join(line.lstrip("# ").rstrip() for line in head)
    sentence = re.match(r".*?[.!?](?=\s|$)", comment)
    return Shipped(path.stem, path, title, sentence[0] if sentence else comment)
