"""`netcheck compare`: readings beside what the section should give."""

from __future__ import annotations

import datetime
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from ..errors import InputError
from .common import CLEAN, FINDINGS, as_json, complain, emit, load, load_sheet
from .progress import ProgressLine

if TYPE_CHECKING:
    from ..finding import Finding
    from ..readings import Sheet, Stage
    from ..report.comparison import StageComparison


@click.command("compare")
@click.argument("circuit")
@click.argument("readings")
@click.option("--stage", type=click.Choice(["found", "left"]),
              help="Only the readings as found, or as left; else all.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema compare.")
@click.option("--svg", type=click.Path(dir_okay=False),
              help="Write the curve with the readings on it to this file too.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Let --svg replace a file.")
@click.option("--no-plot", is_flag=True, help="Tables only.")
def command(circuit: str, readings: str, *, stage: str | None, json_: bool, svg: str | None,
            replace: bool, no_plot: bool) -> int:  # fmt: skip
    """Hold the READINGS taken on a CIRCUIT against what it should give as drawn.

    Each reading beside the prediction, with the band of sound chassis and how far off it is;
    then whether all of them together agree with the drawing. CIRCUIT is a circuit file or the
    name of an example, READINGS a sheet of readings; one of them may be "-" for standard input.
    Readings as found and as left are shown one after the other. Exits with 0 if the last of
    them are consistent with the drawing, with 1 if not.
    """
    is_drawn = svg is not None or json_ or not no_plot
    stages, findings = _compared(circuit, readings, stage, is_drawn)
    if svg is not None:
        _write_picture(Path(svg), stages, replace)
    if json_:
        from ..report.comparisondata import comparison_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(comparison_data(stages, findings)))
    else:
        from ..report.comparison import render_comparison  # noqa: PLC0415

        _complain_of(findings)
        following = shlex.join(["netcheck", "diagnose", circuit, readings])
        emit(render_comparison(stages, readings, following, plotted=not no_plot))
    from ..compare import Verdict  # noqa: PLC0415

    last = stages[-1].comparison.verdict
    return FINDINGS if last is Verdict.NOT_CONSISTENT else CLEAN


def _compared(circuit: str, readings: str, stage: str | None, is_drawn: bool
              ) -> tuple[list[StageComparison], list[Finding]]:  # fmt: skip
    """Read both files, simulate and compare."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    if circuit == readings == "-":
        raise InputError("only one of the two files can be standard input")
    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        from ..compare import compare, curves  # noqa: PLC0415
        from ..graph import Section  # noqa: PLC0415
        from ..predictor import Predictor  # noqa: PLC0415
        from ..readout.model import SectionModel  # noqa: PLC0415
        from ..report.comparison import StageComparison  # noqa: PLC0415

        section = Section(load(circuit))
        sheet, findings = load_sheet(readings, section)
        picked = _stages(sheet, readings, stage)
        model = SectionModel(Predictor(section, service), progress)
        progress("comparing", 0, 0)
        year, found = datetime.date.today().year, []
        for one in picked:
            own = list(sheet.at(one))
            lines = tuple(curves(model, own, year)) if is_drawn else ()
            found.append(StageComparison(one, compare(model, own, year), lines))
    return found, findings


def _stages(sheet: Sheet, name: str, asked: str | None) -> tuple[Stage, ...]:
    """The stages that hold a reading, or the one that was asked for.

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


def _write_picture(path: Path, stages: list[StageComparison], replace: bool) -> None:
    from ..files import write_whole  # noqa: PLC0415
    from ..report.comparisonpicture import comparison_svg  # noqa: PLC0415

    if not any(one.curves for one in stages):
        raise InputError("--svg: there is nothing to draw: no voltage of a grid was read with its "
                         "pot at a known position")  # fmt: skip
    write_whole(path, comparison_svg(stages), replace=replace)


def _complain_of(findings: list[Finding]) -> None:
    """Show what is doubtful about the sheet, notes left out."""
    from ..finding import Severity  # noqa: PLC0415
    from ..report.findings import render  # noqa: PLC0415

    doubtful = [finding for finding in findings if finding.severity is not Severity.NOTE]
    if doubtful:
        complain(f"{render(doubtful)}\n")
