"""What the commands share that take a sheet of readings."""

from __future__ import annotations

import contextlib
import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

from ..errors import InputError
from ..source import Source
from .common import SHEET, complain, load, located

if TYPE_CHECKING:
    from ..diagnose.diagnosis import Diagnosis
    from ..engine.service import Service
    from ..finding import Finding
    from ..graph import Section
    from ..readings import Reading, Sheet, Stage
    from .progress import ProgressLine

_OTHER = "other-circuit"  # the finding that a sheet is for another circuit


def this_year() -> int:
    """The year that parts are as old in. [year]"""
    return datetime.date.today().year


def one_standard_input(*names: str | None) -> None:
    """See to it that standard input is named once at most.

    Raises
    ------
    InputError
        If it is not.
    """
    if names.count("-") > 1:
        raise InputError("only one of the files can be standard input")


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
    from ..parse.sheet import read_sheet  # noqa: PLC0415

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


def stages_of(sheet: Sheet, name: str, asked: str | None) -> tuple[Stage, ...]:
    """The stages that hold a reading, or the one that was asked for.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    name : str
        Its name, for the complaint.
    asked : str or None
        "found" or "left".

    Raises
    ------
    InputError
        If there is none.
    """
    if not sheet.stages:
        raise InputError(f"{name}: it holds no reading")
    if asked is None:
        return sheet.stages
    stage = cast("Stage", f"as {asked}")
    if stage not in sheet.stages:
        raise InputError(f"{name}: it holds no reading {stage}")
    return (stage,)


def apart(name: str, found: Section, left: Section) -> tuple[dict[Stage, Sheet], list[Finding]]:
    """The readings as found held against one circuit, those as left against another.

    Parameters
    ----------
    name : str
        The sheet's file, as the user gave it.
    found, left : Section
        The circuits.

    Returns
    -------
    dict of Stage to Sheet
        Of the stages that hold a reading.
    list of Finding
        What is doubtful about them.

    Raises
    ------
    InputError
        With every error of the sheet.
    """
    from ..files import read_source  # noqa: PLC0415

    source = read_source(located(name, SHEET))
    sheets: dict[Stage, Sheet] = {}
    each: list[list[Finding]] = []
    pairs: tuple[tuple[Stage, Section], ...] = (("as found", found), ("as left", left))
    for stage, section in pairs:
        sheet, findings = cross_checked(name, source, section, stage)
        each.append(findings)
        if stage in sheet.stages:
            sheets[stage] = sheet
    doubts = list(dict.fromkeys(finding for findings in each for finding in findings))
    if any(all(f.slug != _OTHER for f in findings) for findings in each):
        # The sheet is for one of the two circuits, as it should be.
        doubts = [finding for finding in doubts if finding.slug != _OTHER]
    return sheets, doubts


def weighed(section: Section, service: Service, readings: Sequence[Reading],
            progress: ProgressLine) -> Diagnosis:  # fmt: skip
    """What readings of one stage say of a section.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    from ..diagnose.diagnosis import diagnose  # noqa: PLC0415 - keeps --help quick
    from ..predictor import Predictor  # noqa: PLC0415
    from ..readout.model import SectionModel  # noqa: PLC0415

    model = SectionModel(Predictor(section, service), progress)
    progress("weighing what may be wrong", 0, 0)
    return diagnose(model, readings, this_year())


def complain_of_doubts(findings: Sequence[Finding]) -> None:
    """Show what is doubtful about a sheet, notes left out."""
    from ..finding import Severity  # noqa: PLC0415
    from ..report.findings import render  # noqa: PLC0415

    doubtful = [finding for finding in findings if finding.severity is not Severity.NOTE]
    if doubtful:
        complain(f"{render(doubtful)}\n")
