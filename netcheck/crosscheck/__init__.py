"""A sheet of readings held against its circuit: what names mean, and what cannot be right."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import PurePath

from ..finding import Finding, Severity, in_reading_order
from ..graph import Section
from ..readings import Sheet
from ..source import NOWHERE
from .naming import Naming
from .repeats import repeats
from .values import values

__all__ = ["cross_check"]

_ENDING = ".bias"


def cross_check(sheet: Sheet, section: Section) -> tuple[Sheet, list[Finding]]:
    """Hold a sheet against the circuit that it was taken on.

    Parameters
    ----------
    sheet : Sheet
        The sheet, or as much of it as could be read.
    section : Section
        The circuit.

    Returns
    -------
    Sheet
        With the nodes of every reading that is taken between nodes: across a part the red lead
        is on its first terminal as the circuit writes it, on a pot's track at the top; what is
        read at a valve's grid is a reading of that node. Readings that cannot be used are left
        out.
    list of Finding
        In the order of the sheet. An error says that a reading cannot be used; a warning that
        a careful technician would read again.
    """
    naming = Naming(sheet, section)
    resolved = [found for found in map(naming.resolved, sheet.readings) if found is not None]
    checked = replace(sheet, readings=tuple(resolved))
    findings = [
        *_circuit(sheet, section),
        *naming.findings,
        *values(checked, section),
        *repeats(checked, section),
    ]
    return checked, in_reading_order(findings)


def _circuit(sheet: Sheet, section: Section) -> Iterator[Finding]:
    if not sheet.readings:
        yield Finding("no-readings", Severity.NOTE, sheet.source, sheet.span,
                      "the sheet holds no reading yet", "nothing can be compared so far",
                      'head a stage with "as found" and add what you read')  # fmt: skip
    name = section.circuit.source.name
    known = name.endswith(_ENDING) and sheet.circuit
    if known and _stem(sheet.circuit) != _stem(name):
        yield Finding("other-circuit", Severity.WARNING, sheet.source,
                      sheet.span if sheet.span.line else NOWHERE,
                      f'the sheet is for "{sheet.circuit}", and is held against '
                      f'"{PurePath(name).name}"',
                      "readings of one circuit say nothing about another",
                      "name the right circuit, or correct this line")  # fmt: skip


def _stem(name: str) -> str:
    return PurePath(name).name.lower().removesuffix(_ENDING)
