"""`netcheck report`: the whole job on one page."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from ..errors import InputError
from .arguments import CIRCUIT, READINGS
from .common import CLEAN, FINDINGS, NO_ANSWER, as_json, emit, load
from .progress import ProgressLine
from .sheets import apart, complain_of_doubts, load_sheet, one_standard_input
from .whatif import window_for

if TYPE_CHECKING:
    from ..finding import Finding
    from ..jobsheet.gather import Job
    from ..jobsheet.request import Request
    from ..netlist import Circuit
    from ..readings import Sheet, Stage

_FIRST_YEAR = 1920
_LONGEST = 2000  # characters of what the user says [count]


class Asked(NamedTuple):
    """The options."""

    before: str | None = None
    was: tuple[str, ...] = ()
    window: str | None = None
    year: int | None = None
    date: str | None = None
    job: str = ""
    amplifier: str | None = None
    workshop: str = ""


@click.command("report")
@click.argument("circuit", type=CIRCUIT)
@click.argument("readings", type=READINGS, required=False)
@click.option("-o", "--output", metavar="FILE",
              help='The HTML file to write ("-" for the terminal); else one screen.')  # fmt: skip
@click.option("--pdf", type=click.Path(dir_okay=False), metavar="FILE",
              help="Write it as a PDF too; needs the extra netcheck[pdf].")  # fmt: skip
@click.option("--replace", is_flag=True, help="Replace files that exist.")
@click.option("--before", metavar="FILE",
              help="The circuit before a repair; CIRCUIT is then as it was left.")  # fmt: skip
@click.option("--was", multiple=True, metavar="NAME=VALUE",
              help="Instead of a file, what a part was before the repair: R3=20.2k, "
                   "R6=open.")  # fmt: skip
@click.option("--window", metavar="PERCENT", help="Plate dissipation wanted, instead of 60-70%.")
@click.option("--year", type=int, metavar="YEAR",
              help="The amplifier's year, for parts without a year of their own.")  # fmt: skip
@click.option("--amplifier", metavar="TEXT", help="What it is; the circuit's title by default.")
@click.option("--job", default="", metavar="TEXT", help="What was asked for.")
@click.option("--workshop", default="", metavar="TEXT", help="Who does it.")
@click.option("--date", metavar="YYYY-MM-DD", help="Of the sheet; today by default.")
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema report.")
def command(circuit: str, readings: str | None, *, output: str | None, pdf: str | None,
            replace: bool, json_: bool, **asked: Any) -> int:  # fmt: skip
    """Write up the job on a CIRCUIT: on one screen, or as a page for customer and bench.

    The page holds all that the other commands tell of the circuit and of the READINGS: as found
    and as left, the schematic, the curve, the valves, the diagnosis, the remedy, the parts. It
    needs no network and prints on A4 and Letter. On it the pot and a substitution box can be
    turned, among values that are simulated now.

    With --before or --was CIRCUIT is the circuit as it was left: what is said of the readings as
    found is said of the circuit before. Exits with 0 if nothing is found wrong, with 1 if
    something is, with 3 if a part of the sheet is missing for want of an answer.
    """
    options = Asked(**asked)
    one_standard_input(circuit, readings, options.before)
    if json_ and output == "-":
        raise InputError("--json and -o -: one of the two can go to standard output")
    _see_that_it_can_be_written(output, pdf, replace)
    job, findings = gathered(circuit, readings, options, panel=output is not None)
    if json_:
        from ..jobsheet.jobdata import job_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(job_data(job)))
    else:
        complain_of_doubts(findings)
    write_job(job, output, pdf, replace, shown=not json_)
    return exit_code(job)


def exit_code(job: Job) -> int:
    """What the shell is told of a job."""
    if job.is_wrong:
        return FINDINGS
    return NO_ANSWER if job.is_unanswered else CLEAN


def _see_that_it_can_be_written(output: str | None, pdf: str | None, replace: bool) -> None:
    """What would fail in the end fails before the work.

    Raises
    ------
    InputError
        If a file is there already, or no PDF can be made.
    """
    if pdf is not None:
        from ..jobsheet.pdf import ready  # noqa: PLC0415 - keeps --help quick

        ready()
        if output not in (None, "-") and Path(pdf).absolute() == Path(str(output)).absolute():
            raise InputError("--pdf: the page and the PDF need a file each")
    from ..files import refuse_existing  # noqa: PLC0415 - keeps --help quick

    for name in (output, pdf):
        if name is None or name == "-":
            continue
        refuse_existing(name, replace=replace)
        if not Path(name).absolute().parent.is_dir():
            raise InputError(f"{name}: there is no such folder to write it to")


def gathered(circuit: str, readings: str | None, asked: Asked, *, panel: bool
             ) -> tuple[Job, list[Finding]]:  # fmt: skip
    """Read what was named, and find out the rest.

    Parameters
    ----------
    circuit, readings : str
        Files, or names of examples; readings may be None.
    asked : Asked
        The options.
    panel : bool
        Whether the page with its panel is wanted.

    Raises
    ------
    InputError
        For a file or an option that cannot be used.
    """
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    date, window = _date(asked.date), None if asked.window is None else window_for(asked.window)
    if asked.year is not None and not _FIRST_YEAR <= asked.year <= date.year:
        raise InputError(f"--year {asked.year}: it lies between {_FIRST_YEAR} and {date.year}")
    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        from ..jobsheet.gather import gather  # noqa: PLC0415
        from ..jobsheet.request import Request, Words  # noqa: PLC0415

        left, first = _circuits(circuit, asked)
        sheets, findings = _sheets(readings, left, first)
        amplifier = left.title if asked.amplifier is None else asked.amplifier
        words = Words(_words(amplifier), _words(asked.job), _words(asked.workshop),
                      date.isoformat())  # fmt: skip
        request: Request = Request(
            name=circuit, circuit=left, words=words, year=date.year, before=first,
            readings=readings or "", sheets=sheets, doubts=tuple(findings), window=window,
        )  # fmt: skip
        return gather(request, service, progress, panel=panel), findings


def _circuits(name: str, asked: Asked) -> tuple[Circuit, Circuit | None]:
    """The circuit as it is, and as it was before a repair; None where none was stated."""
    drawn = load(name)
    from ..compare.earlier import earlier  # noqa: PLC0415
    from ..order.needs import dated  # noqa: PLC0415

    first = None
    if asked.before is not None or asked.was:
        first = earlier(drawn if asked.before is None else load(asked.before), asked.was)
    if asked.year is None:
        return drawn, first
    return dated(drawn, asked.year), None if first is None else dated(first, asked.year)


def _sheets(name: str | None, left: Circuit, first: Circuit | None
            ) -> tuple[dict[Stage, Sheet], list[Finding]]:  # fmt: skip
    """The readings by stage, those as found held against the circuit before a repair.

    Raises
    ------
    InputError
        With every error of the sheet, and if it holds no reading.
    """
    if name is None:
        return {}, []
    from ..graph import Section  # noqa: PLC0415

    if first is None:
        sheet, findings = load_sheet(name, Section(left))
        found = dict.fromkeys(sheet.stages, sheet)
    else:
        found, findings = apart(name, Section(first), Section(left))
    if not found:
        raise InputError(f"{name}: it holds no reading")
    return found, findings


def _date(text: str | None) -> datetime.date:
    if text is None:
        return datetime.date.today()
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise InputError(f'--date "{text}": write it as year-month-day, such as '
                         "2026-05-31") from None  # fmt: skip


def _words(text: str) -> str:
    """What the user says, on one line and not without end."""
    return " ".join(text.split())[:_LONGEST]


def write_job(job: Job, output: str | None, pdf: str | None, replace: bool, *,
              shown: bool = True) -> None:  # fmt: skip
    """Write a job into files, and show it on the screen or say where it was written."""
    from ..files import write_whole  # noqa: PLC0415 - keeps --help quick
    from ..jobsheet.page import render_page  # noqa: PLC0415
    from ..jobsheet.screen import render_job  # noqa: PLC0415

    page = "" if output is None and pdf is None else render_page(job)
    if pdf is not None:
        from ..jobsheet.pdf import render_pdf, write_pdf  # noqa: PLC0415

        write_pdf(Path(pdf), render_pdf(page), replace=replace)
    if output == "-":
        emit(page)
        return
    if output is not None:
        write_whole(Path(output), page, replace=replace)
    elif shown:
        emit(render_job(job))
    written = " and ".join(name for name in (output, pdf) if name is not None)
    if written and shown:
        emit(f"Written: {written}")
