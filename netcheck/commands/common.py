"""What the commands share: reading circuits, writing to the terminal, the exit codes."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..netlist import Circuit
from ..source import Source
from ..terminal import CAUTION, CLEAN, FINDINGS, NO_ANSWER, UNUSABLE, complain, emit
from ..valves import ValveType

__all__ = [
    "CAUTION",
    "CLEAN",
    "FINDINGS",
    "NO_ANSWER",
    "OWN_TYPES",
    "SHEET",
    "UNUSABLE",
    "as_json",
    "complain",
    "emit",
    "emit_listing",
    "is_sheet",
    "load",
    "located",
    "own_types",
]

OWN_TYPES = "valves.toml"
"""Name of the file of the user's own valve types, beside the circuit."""


SHEET = ".readings"
"""What the name of a sheet of readings ends in."""


def load(name: str, source: Source | None = None) -> Circuit:
    """Read the circuit in a file ("-" for standard input).

    A name without folder and ending that is no file is looked for among the example circuits.

    Parameters
    ----------
    name : str
        The file, as the user gave it.
    source : Source or None
        Its text, where it has been read already.

    Raises
    ------
    InputError
        With every error of the file.
    """
    from ..files import read_source  # noqa: PLC0415 - keeps --help quick
    from ..parse import parse_circuit  # noqa: PLC0415

    place = located(name)
    circuit, findings = parse_circuit(source or read_source(place), own_types(place))
    if circuit is None:
        raise InputError(f"{name} cannot be used", findings)
    return circuit


def is_sheet(source: Source) -> bool:
    """Whether a text is a sheet of readings: by the name of its file, or by its first line."""
    if source.name.endswith(SHEET):
        return True
    lines = (line.split() for line in source.lines if not line.lstrip().startswith("#"))
    return next((words[0].lower() for words in lines if words), "") == "readings"


def own_types(place: str) -> list[ValveType]:
    """The valve types in a file `valves.toml` beside a circuit, none where there is no such file.

    Raises
    ------
    InputError
        With every error of that file.
    """
    beside = Path(place).parent / OWN_TYPES
    try:
        if place == "-" or not beside.is_file():
            return []
    except (OSError, ValueError):  # the circuit's name is no path
        return []
    from ..files import read_source  # noqa: PLC0415
    from ..finding import Severity  # noqa: PLC0415
    from ..valves import read_types  # noqa: PLC0415

    types, findings = read_types(read_source(str(beside)))
    if any(finding.severity is Severity.ERROR for finding in findings):
        raise InputError(f"{beside} cannot be used", findings)
    return types


def located(name: str, ending: str = ".bias") -> str:
    """The file that is meant: the name itself, or the example of that name.

    Parameters
    ----------
    name : str
        As the user gave it.
    ending : str
        What the names of such files end in.
    """
    if name == "-" or os.path.exists(name):  # noqa: PTH110 - odd names must not raise
        return name
    if name.endswith(SHEET):
        ending = SHEET
    bare = name.removesuffix(ending)
    if bare and not set(bare) & set("/\\\0"):
        from ..resources import folder  # noqa: PLC0415

        example = folder("circuits") / f"{bare}{ending}"
        with contextlib.suppress(OSError, ValueError):
            if example.is_file():
                return str(example)
    return name


def emit_listing(text: str, *, sheet: bool = False) -> None:
    """Print a circuit, or a sheet of readings, coloured where somebody watches a terminal."""

    def paint(text: str) -> str:
        from pygments import highlight  # noqa: PLC0415 - slow to load, and seldom wanted
        from pygments.formatters import TerminalFormatter  # noqa: PLC0415

        from ..highlight import CircuitLexer, ReadingsLexer  # noqa: PLC0415

        lexer = (ReadingsLexer if sheet else CircuitLexer)(stripnl=False)
        return str(highlight(text, lexer, TerminalFormatter()))

    emit(text, paint)


def as_json(data: Any) -> str:
    """Data as JSON, the same bytes for the same data."""
    import json  # noqa: PLC0415

    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
