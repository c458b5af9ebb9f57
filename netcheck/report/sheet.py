"""A checked sheet of readings, as text and as data."""

from __future__ import annotations

from typing import Any, NamedTuple

from ..finding import Finding, Severity
from ..readings import Sheet
from .data import finding_data
from .findings import render, tally
from .tables import paragraph


class SheetCheck(NamedTuple):
    """A sheet of readings, held against its circuit.

    Parameters
    ----------
    name : str
        Of the file, as the user gave it.
    sheet : Sheet
        The sheet.
    findings : tuple of Finding
        In the order of the text.
    """

    name: str
    sheet: Sheet
    findings: tuple[Finding, ...]

    @property
    def matters(self) -> bool:
        """Whether there is more than notes."""
        return any(finding.severity is not Severity.NOTE for finding in self.findings)

    @property
    def unanswered(self) -> str:
        """Nothing in it waits for a simulation."""
        return ""


def render_sheet_check(check: SheetCheck, brief: bool = False) -> str:
    """The whole report.

    Parameters
    ----------
    check : SheetCheck
        What was found.
    brief : bool
        Findings only.
    """
    blocks = [render(check.findings)] if check.findings else []
    blocks.append(f"{check.name}: {tally(check.findings)}")
    if not brief:
        blocks.append("\n".join(paragraph(_description(check.sheet))))
    return "\n\n".join(blocks)


def _description(sheet: Sheet) -> str:
    counts = [f"{count} {stage}" for stage, count in _counts(sheet).items()]
    read = " and ".join(counts) or "none yet"
    meters = ", ".join(meter.name for meter in sheet.meters)
    stated = any(meter.accuracy for meter in sheet.meters)
    accuracy = "" if stated else "; its accuracy is not stated, and that of a usual one taken"
    return f"Readings for {sheet.circuit}: {read}. Meter: {meters}{accuracy}."


def _counts(sheet: Sheet) -> dict[str, int]:
    return {str(stage): sum(1 for _ in sheet.at(stage)) for stage in sheet.stages}


def sheet_check_data(check: SheetCheck) -> dict[str, Any]:
    """The same for JSON."""
    return {
        "file": check.name,
        "circuit": check.sheet.circuit,
        "meters": [meter.name for meter in check.sheet.meters],
        "readings": _counts(check.sheet),
        "findings": [finding_data(finding) for finding in check.findings],
    }
