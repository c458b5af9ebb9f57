"""`netcheck check`: what is wrong with a bias section, on paper and at its worst corner.

A sheet of readings is held against its circuit, and against itself.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .arguments import CIRCUIT
from .common import (
    CLEAN,
    FINDINGS,
    NO_ANSWER,
    UNUSABLE,
    as_json,
    complain,
    emit,
    is_sheet,
    load,
    located,
)
from .sheets import cross_checked

if TYPE_CHECKING:
    from ..engine.service import Service
    from ..report.sheet import SheetCheck
    from ..survey import Survey


@click.command("check")
@click.argument("files", type=CIRCUIT, nargs=-1, required=True, metavar="FILE...")
@click.option("--no-simulation", is_flag=True,
              help="Only what the drawing tells: no ratings, no effects.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema check.")
@click.option("--quiet", is_flag=True, help="Findings only.")
def command(files: tuple[str, ...], no_simulation: bool, json_: bool, quiet: bool) -> int:
    """Check the bias sections, or the sheets of readings, in the FILEs.

    Exits with 1 if there is an error or a warning; notes alone are clean. Rules are listed
    by "netcheck rules". Each FILE is a circuit file, the name of an example circuit, a sheet
    of readings (NAME.readings), or "-". A sheet finds its circuit beside it.
    """
    with _simulator(not no_simulation) as service:
        checked, broken = _checked(files, service)
    if json_:
        emit(as_json([_data(one) for one in checked]))
    elif checked:
        emit("\n\n".join(_text(one, quiet) for one in checked))
    return _exit_code(checked, broken)


def _data(one: Survey | SheetCheck) -> Any:
    from ..report.data import check_data  # noqa: PLC0415 - keeps a plain check quick
    from ..report.sheet import SheetCheck, sheet_check_data  # noqa: PLC0415

    return sheet_check_data(one) if isinstance(one, SheetCheck) else check_data([one])[0]


def _text(one: Survey | SheetCheck, brief: bool) -> str:
    from ..survey import Survey  # noqa: PLC0415

    if isinstance(one, Survey):
        from ..report.survey import render_survey  # noqa: PLC0415

        return render_survey(one, brief=brief)
    from ..report.sheet import render_sheet_check  # noqa: PLC0415

    return render_sheet_check(one, brief=brief)


def _exit_code(checked: list[Survey | SheetCheck], broken: bool) -> int:
    if broken:
        return UNUSABLE
    if any(one.matters for one in checked):
        return FINDINGS
    return NO_ANSWER if any(one.unanswered for one in checked) else CLEAN


@contextlib.contextmanager
def _simulator(wanted: bool) -> Iterator[Service | None]:
    """A simulator that loads while the circuit is read; None if it is not wanted."""
    if not wanted:
        yield None
        return
    from ..engine.service import Service  # noqa: PLC0415

    with Service(workers=2) as service:
        yield service


def _checked(files: tuple[str, ...], service: Any) -> tuple[list[Survey | SheetCheck], bool]:
    """Look at each file; a file that cannot be read is complained about and left out."""
    from ..report.findings import render, tally  # noqa: PLC0415

    done, broken = [], False
    for name in files:
        try:
            done.append(_look_at(name, service))
        except InputError as error:
            broken = True
            complain(f"{render(error.findings)}\n\n{name}: {tally(error.findings)}")
    return done, broken


def _look_at(name: str, service: Any) -> Survey | SheetCheck:
    from ..files import read_source  # noqa: PLC0415
    from ..survey import survey  # noqa: PLC0415

    source = read_source(located(name))
    if not is_sheet(source):
        return survey(load(name, source), name, service)
    from ..report.sheet import SheetCheck  # noqa: PLC0415

    sheet, findings = cross_checked(name, source)
    return SheetCheck(name, sheet, tuple(findings))
