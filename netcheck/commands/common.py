"""What the commands share: reading circuits, writing to the terminal, the exit codes."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError
from ..netlist import Circuit
from ..source import Source
from ..terminal import CAUTION, CLEAN, FINDINGS, NO_ANSWER, UNUSABLE, complain, emit
from ..valves import ValveType

if TYPE_CHECKING:
    from ..finding import Finding
    from ..graph import Section
    from ..readings import Sheet, Stage

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
    "cross_checked",
    "emit",
    "is_sheet",
    "load",
    "load_sheet",
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


def load_sheet(name: str, section: Section) -> tuple[Sheet, list[Finding]]:
    """Read the sheet of readings in a file ("-" for standard input), for a circuit.

    A name without folder that is no file is looked for among the example sheets.

    Parameters
    ----------
    name : str
        The file, as the user gave it.
    section : Section
        The circuit that the readings were taken on.

    Returns
    -------
    Sheet
        With the nodes of its readings known.
    list of Finding
        Warnings and notes, in the order of the sheet.

    Raises
    ------
    InputError
        With every error of the file, those that only the circuit shows among them.
    """
    from ..files import read_source  # noqa: PLC0415 - keeps --help quick

    return cross_checked(name, read_source(located(name, SHEET)), section)


def cross_checked(
    name: str, source: Source, section: Section | None = None, stage: Stage | None = None
) -> tuple[Sheet, list[Finding]]:
    """The same for a text that has been read; its circuit is looked for if none is given.

    With a stage only the readings of that are held against the circuit, and returned.
    """
    from dataclasses import replace  # noqa: PLC0415

    from ..crosscheck import cross_check  # noqa: PLC0415
    from ..finding import Severity, in_reading_order  # noqa: PLC0415
    from ..parse import read_sheet  # noqa: PLC0415

    text = read_sheet(source)
    broken = {finding.span.line for finding in text.findings}
    if section is None:
        section = _section_of(text.sheet, text.findings)
    taken = text.sheet
    if stage is not None:
        taken = replace(taken, readings=tuple(taken.at(stage)))
    sheet, found = cross_check(taken, section)
    if broken:
        # Of a sheet that is read in part only what is surely wrong is said: the line that turned
        # a pot between two readings may be one of those that could not be read.
        found = [f for f in found if f.severity is not Severity.NOTE
                 and f.slug != "contradicts-itself" and f.span.line not in broken]  # fmt: skip
    found = in_reading_order([*text.findings, *found])
    if any(finding.severity is Severity.ERROR for finding in found):
        raise InputError(f"{name} cannot be used", found)
    return sheet, found


def _section_of(sheet: Sheet, findings: tuple[Finding, ...]) -> Section:
    """The circuit that a sheet names: a file beside it, or an example.

    Raises
    ------
    InputError
        With the findings so far, if there is no such file or the sheet names none.
    """
    from ..finding import Finding, Severity  # noqa: PLC0415
    from ..graph import Section  # noqa: PLC0415

    if not sheet.circuit:
        raise InputError("the sheet names no circuit", findings)
    file = sheet.circuit if sheet.circuit.endswith(".bias") else f"{sheet.circuit}.bias"
    beside = Path(sheet.source.name).parent / file
    with contextlib.suppress(OSError, ValueError):  # the circuit's name is no path
        if beside.is_file():
            return Section(load(str(beside)))
    example = located(file)
    if example != file:
        return Section(load(example))
    missing = Finding("no-such-circuit", Severity.ERROR, sheet.source, sheet.span,
                      f'there is no circuit file "{file}" beside the sheet',
                      "what a name in the sheet is, node or part, is known from the circuit",
                      "correct the name, or put the circuit into the same folder")  # fmt: skip
    raise InputError("the circuit is missing", [*findings, missing])


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


def as_json(data: Any) -> str:
    """Data as JSON, the same bytes for the same data."""
    import json  # noqa: PLC0415

    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
