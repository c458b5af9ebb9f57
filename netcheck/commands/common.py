"""What the commands share: reading circuits, writing to the terminal, the exit codes."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..netlist import Circuit
from ..valves import ValveType

CLEAN, FINDINGS, UNUSABLE, NO_ANSWER = 0, 1, 2, 3
"""Exit codes: nothing found; something found; input or command at fault; no simulation."""

OWN_TYPES = "valves.toml"
"""Name of the file of the user's own valve types, beside the circuit."""

CAUTION = (
    "Caution: valve amplifiers hold lethal voltages, also when switched off and unplugged. "
    "Discharge the reservoir capacitors and check with a meter before you touch anything. "
    "Read the bias of a live chassis with one hand, insulated probes, clips fitted with the "
    "power off. Predictions are an aid for a qualified person; local electrical safety rules "
    "and licensed practice come first. Valves without bias destroy themselves in seconds."
)


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


def steady_output() -> None:
    """Make output survive a terminal that lacks a character."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def emit(text: str) -> None:
    """Write to standard output; a reader who has gone away is no error."""
    _write(sys.stdout, text)


def complain(text: str) -> None:
    """Write to standard error."""
    _write(sys.stderr, text)


def _write(stream: Any, text: str) -> None:
    try:
        stream.write(text if text.endswith("\n") else text + "\n")
        stream.flush()
    except BrokenPipeError:
        # Python flushes once more at exit and would complain then: give it a place to do so.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())


def as_json(data: Any) -> str:
    """Data as JSON, the same bytes for the same data."""
    import json  # noqa: PLC0415

    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
