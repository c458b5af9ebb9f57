"""Text to circuit: what could be read, and everything that is wrong with the rest."""

from __future__ import annotations

from dataclasses import dataclass

from ..finding import Finding, Severity, in_reading_order
from ..netlist import Circuit
from ..source import Source
from .circuit import Elsewhere, Entry, Title, build_entry
from .lines import line_parser
from .whole import check_whole, first_of, parts_of

__all__ = ["Elsewhere", "Entry", "Line", "Title", "parse_circuit", "parse_lines"]


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
        Every error of the text, in the order of reading.
    """
    parsed, findings = line_parser("circuit.lark").parse(source)
    lines = []
    for line in parsed:
        entry, problems = build_entry(source, line)
        findings += problems
        lines.append(Line(entry, line.comment))
    findings += check_whole(source, parsed, (li.entry for li in lines if li.entry is not None))
    return lines, in_reading_order(findings)


def circuit_of(source: Source, lines: list[Line]) -> Circuit:
    """The circuit that lines without errors describe."""
    entries = [line.entry for line in lines if line.entry is not None]
    title, mains, elsewhere = first_of(entries)
    return Circuit(title, mains, parts_of(entries), elsewhere, source)


def parse_circuit(source: Source) -> tuple[Circuit | None, list[Finding]]:
    """Read a circuit.

    Returns
    -------
    Circuit or None
        None when there is an error in the text.
    list of Finding
        Every error of the text, in the order of reading.
    """
    lines, findings = parse_lines(source)
    if any(finding.severity is Severity.ERROR for finding in findings):
        return None, findings
    return circuit_of(source, lines), findings
