"""What the commands share: reading circuits, writing to the terminal, the exit codes."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..netlist import Circuit
from ..terminal import CAUTION, CLEAN, FINDINGS, NO_ANSWER, UNUSABLE, complain, emit
from ..valves import ValveType

__all__ = [
    "CAUTION",
    "CLEAN",
    "FINDINGS",
    "NO_ANSWER",
    "OWN_TYPES",
    "UNUSABLE",
    "as_json",
    "complain",
    "emit",
    "load",
    "located",
    "own_types",
]

OWN_TYPES = "valves.toml"
"""Name of the file of the user's own valve types, beside the circuit."""


def load(name: str) -> Circuit:
    """Read the circuit in a file ("-" for standard input).

    A name without folder and ending that is no file is looked for among the example circuits.

    Raises
    ------
    InputError
        With every error of the file.
    """
    from ..files import read_source  # noqa: PLC0415 - keeps --help quick
    from ..parse import parse_circuit  # noqa: PLC0415

    place = located(name)
    source = read_source(place)
    circuit, findings = parse_circuit(source, own_types(place))
    if circuit is None:
        raise InputError(f"{name} cannot be used", findings)
    return circuit


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


def located(name: str) -> str:
    """The file that is meant: the name itself, or the example circuit of that name."""
    if name == "-" or os.path.exists(name):  # noqa: PTH110 - odd names must not raise
        return name
    bare = name.removesuffix(".bias")
    if bare and not set(bare) & set("/\\\0"):
        from ..resources import folder  # noqa: PLC0415

        example = folder("circuits") / f"{bare}.bias"
        with contextlib.suppress(OSError, ValueError):
            if example.is_file():
                return str(example)
    return name


def as_json(data: Any) -> str:
    """Data as JSON, the same bytes for the same data."""
    import json  # noqa: PLC0415

    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
