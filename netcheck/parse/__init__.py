"""Text to circuit: what could be read, and everything that is wrong with the rest.

A sheet of readings is read by `parse.sheet`, which a circuit by itself need not load.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from ..finding import Finding, Severity, in_reading_order
from ..netlist import Circuit, HighTension, Mains, Part
from ..source import Source
from ..valves import ValveType
from .circuit import Elsewhere, Entry, Title, build_entry
from .lines import ENOUGH, line_parser
from .whole import check_whole

__all__ = [
    "ENOUGH",
    "Elsewhere",
    "Entry",
    "Line",
    "Title",
    "circuit_of",
    "parse_circuit",
    "parse_lines",
]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a circuit file as data: what it says and the comment on it.

    Parameters
    ----------
    entry : Entry or None
        None for an empty line and for a comment alone.
    comment : str or None
        The comment without its mark, None where there is none.
    """

    entry: Entry | None
    comment: str | None = None


def parse_lines(
    source: Source, own_types: Sequence[ValveType] = ()
) -> tuple[list[Line], list[Finding]]:
    """Read a circuit file line by line, comments kept.

    Parameters
    ----------
    source : Source
        The text.
    own_types : sequence of ValveType
        Valve types of the user's own.

    Returns
    -------
    list of Line
        One for each line of the text; a line with an error in it has no entry.
    list of Finding
        Every error of the text, in the order of reading; with more than `ENOUGH` of them the
        text is read no further.
    """
    parsed, findings = line_parser("circuit.lark").parse(source)
    lines = []
    for line in parsed:
        entry, problems = build_entry(source, line, own_types)
        findings += problems
        lines.append(Line(entry, line.comment))
        if len(findings) > ENOUGH:
            break
    else:
        told = {finding.span for finding in findings}
        findings += islice(check_whole(source, parsed, told), ENOUGH)
    return lines, in_reading_order(findings)


def circuit_of(source: Source, lines: list[Line], own_types: Sequence[ValveType] = ()) -> Circuit:
    """The circuit that lines without errors describe."""
    entries = [line.entry for line in lines if line.entry is not None]
    return Circuit(
        title=next((entry.text for entry in entries if isinstance(entry, Title)), ""),
        mains=next((entry for entry in entries if isinstance(entry, Mains)), None),
        high_tension=next((entry for entry in entries if isinstance(entry, HighTension)), None),
        parts=tuple(entry for entry in entries if isinstance(entry, Part)),
        elsewhere=tuple(
            n for entry in entries if isinstance(entry, Elsewhere) for n in entry.nodes
        ),
        source=source,
        own_types=tuple(own_types),
    )


def parse_circuit(
    source: Source, own_types: Sequence[ValveType] = ()
) -> tuple[Circuit | None, list[Finding]]:
    """Read a circuit.

    Parameters
    ----------
    source : Source
        The text.
    own_types : sequence of ValveType
        Valve types of the user's own.

    Returns
    -------
    Circuit or None
        None when there is an error in the text.
    list of Finding
        Every error of the text, in the order of reading; with more than `ENOUGH` of them the
        text is read no further.
    """
    lines, findings = parse_lines(source, own_types)
    if any(finding.severity is Severity.ERROR for finding in findings):
        return None, findings
    return circuit_of(source, lines, own_types), findings
