"""`netcheck check`: what is wrong with a bias section, on paper and at its worst corner."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .common import CLEAN, FINDINGS, NO_ANSWER, UNUSABLE, as_json, complain, emit, load

if TYPE_CHECKING:
    from ..engine.service import Service
    from ..survey import Survey


@click.command("check")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--no-simulation", is_flag=True,
              help="Only what the drawing tells: no ratings, no effects.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema check.")
@click.option("--quiet", is_flag=True, help="Findings only.")
def command(files: tuple[str, ...], no_simulation: bool, json_: bool, quiet: bool) -> int:
    """Check the bias sections in the FILEs.

    Exits with 1 if there is an error or a warning; notes alone are clean. Rules are listed
    by "netcheck rules". Each FILE is a circuit file, the name of an example circuit, or "-".
    """
    with _simulator(not no_simulation) as service:
        surveys, broken = _surveys(files, service)
    if json_:
        from ..report.data import check_data  # noqa: PLC0415 - keeps a plain check quick

        emit(as_json(check_data(surveys)))
    else:
        from ..report.survey import render_survey  # noqa: PLC0415

        if surveys:
            emit("\n\n".join(render_survey(survey, brief=quiet) for survey in surveys))
    return _exit_code(surveys, broken)


def _exit_code(surveys: list[Survey], broken: bool) -> int:
    if broken:
        return UNUSABLE
    if any(survey.matters for survey in surveys):
        return FINDINGS
    return NO_ANSWER if any(survey.unanswered for survey in surveys) else CLEAN


@contextlib.contextmanager
def _simulator(wanted: bool) -> Iterator[Service | None]:
    """A simulator that loads while the circuit is read; None if it is not wanted."""
    if not wanted:
        yield None
        return
    from ..engine.service import Service  # noqa: PLC0415

    with Service() as service:
        yield service


def _surveys(files: tuple[str, ...], service: Any) -> tuple[list[Survey], bool]:
    """Look at each file; a file that cannot be read is complained about and left out."""
    from ..report.findings import render, tally  # noqa: PLC0415
    from ..survey import survey  # noqa: PLC0415

    done, broken = [], False
    for name in files:
        try:
            done.append(survey(load(name), name, service))
        except InputError as error:
            broken = True
            complain(f"{render(error.findings)}\n\n{name}: {tally(error.findings)}")
    return done, broken
