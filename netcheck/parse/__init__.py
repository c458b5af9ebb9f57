"""Text to circuit: what could be read, and everything that is wrong with the rest."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

from ..finding import Finding, Severity, in_reading_order
from ..netlist import Circuit, HighTension, Mains, Part
from ..source import Source
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


def parse_lines(source: Source) -> tuple[list[Line], list[Finding]]:
    """Read a circuit file line by line, comments kept.

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
        entry, problems = build_entry(source, line)
        findings += problems
        lines.append(Line(entry, line.comment))
        if len(findings) > ENOUGH:
            break
    else:
        told = {finding.span for finding in findings}
        findings += islice(check_whole(source, parsed, told), ENOUGH)
    return lines, in_reading_order(findings)


def circuit_of(source: Source, lines: list[Line]) -> Circuit:
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
    )


def parse_circuit(source: Source) -> tuple[Circuit | None, list[Finding]]:
    """Read a circuit.

    Returns
    -------
    Circuit or None
        None when there is an error in the text.
    list of Finding
        Every error of the text, in the order of reading; with more than `ENOUGH` of them the
        text is read no further.
    """
    lines, findings = parse_lines(source)
    if any(finding.severity is Severity.ERROR for finding in findings):
        return None, findings
    return circuit_of(source, lines), findings
