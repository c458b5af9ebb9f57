"""`netcheck compare`: readings beside what the section should give."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from ..errors import InputError
from .arguments import CIRCUIT, QUIET, READINGS
from .common import CLEAN, FINDINGS, as_json, emit, load
from .progress import ProgressLine
from .sheets import (
    apart,
    complain_of_doubts,
    load_sheet,
    one_standard_input,
    stages_of,
    this_year,
)
from .whatif import window_for

if TYPE_CHECKING:
    from ..compare import Repair
    from ..finding import Finding
    from ..graph import Section
    from ..readings import Sheet, Stage
    from ..report.comparison import StageComparison


class _Compared(NamedTuple):
    """What the command found."""

    stages: list[StageComparison]
    findings: list[Finding]
    repair: Repair | None = None


@click.command("compare")
@click.argument("circuit", type=CIRCUIT)
@click.argument("readings", type=READINGS)
@click.option("--stage", type=click.Choice(["found", "left"]),
              help="Only the readings as found, or as left; else all.")  # fmt: skip
@click.option("--before", metavar="FILE",
              help="The circuit before a repair: as found is held against it, as left against "
                   "CIRCUIT, and the change of each reading against both.")  # fmt: skip
@click.option("--was", multiple=True, metavar="NAME=VALUE",
              help="Instead of a file, what a part was before the repair: R3=20.2k, "
                   "R6=open.")  # fmt: skip
@click.option("--window", metavar="PERCENT",
              help="Plate dissipation wanted as left, instead of the usual 50-70%.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema compare.")
@click.option("--svg", type=click.Path(dir_okay=False),
              help="Write the curve with the readings on it to this file too.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Let --svg replace a file.")
@click.option("--no-plot", is_flag=True, help="Tables only.")
@QUIET
def command(circuit: str, readings: str, *, json_: bool, svg: str | None, replace: bool,
            no_plot: bool, quiet: bool, **asked: Any) -> int:  # fmt: skip
    """Hold the READINGS taken on a CIRCUIT against what it should give as drawn.

    Each reading beside the prediction, with the band of sound chassis and how far off it is;
    then whether all of them together agree with the drawing. CIRCUIT is a circuit file or the
    name of an example, READINGS a sheet of readings; one of them may be "-" for standard input.
    Readings as found and as left are shown one after the other. Exits with 0 if the last of
    them are consistent with the drawing, with 1 if not.

    With --before or --was the job is closed: did the repair do what was predicted, is there
    anything left to explain, and do the valves idle as wanted? Exits with 0 if so, else with 1.
    """
    from ..files import refuse_existing  # noqa: PLC0415 - keeps --help quick

    refuse_existing(svg, replace=replace)
    is_drawn = svg is not None or json_ or not (no_plot or quiet)
    found = _compared(circuit, readings, is_drawn, **asked)
    if svg is not None:
        _write_picture(Path(svg), found.stages, replace)
    if json_:
        from ..report.comparisondata import comparison_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(comparison_data(*found)))
    elif quiet:
        emit(_outcome(found))
    else:
        complain_of_doubts(found.findings)
        as_found = asked["before"] or circuit
        emit(_text(found, readings, (as_found, circuit), plotted=not no_plot))
    return _exit_code(found)


def _outcome(found: _Compared) -> str:
    from ..report.comparison import verdict  # noqa: PLC0415

    if found.repair is None:
        return "\n\n".join("\n".join(verdict(one)) for one in found.stages)
    from ..report.repair import closing  # noqa: PLC0415

    return "\n".join(closing(found.repair))


def _text(found: _Compared, readings: str, circuits: tuple[str, str], plotted: bool) -> str:
    from ..report.comparison import render_comparison  # noqa: PLC0415

    name = [shlex.join(["netcheck", "diagnose", circuit, readings]) for circuit in circuits]
    following: dict[Stage, str] = {"as found": name[0], "as left": f"{name[1]} --stage left"}
    if found.repair is None:
        return render_comparison(found.stages, readings, following, plotted)
    from ..report.repair import change_table, closing, remarks  # noqa: PLC0415
    from ..report.tables import paragraph  # noqa: PLC0415

    told = [line for text in remarks(found.repair) for line in paragraph(text, "  ", "")]
    return render_comparison(found.stages, readings, following, plotted, closing(found.repair),
                             [change_table(found.repair), told])  # fmt: skip


def _exit_code(found: _Compared) -> int:
    from ..compare import Outcome, Verdict  # noqa: PLC0415

    if found.repair is not None:
        return CLEAN if found.repair.outcome is Outcome.CLOSED else FINDINGS
    last = found.stages[-1].comparison.verdict
    return FINDINGS if last is Verdict.NOT_CONSISTENT else CLEAN


def _compared(circuit: str, readings: str, is_drawn: bool, *, stage: str | None,
              before: str | None, was: tuple[str, ...], window: str | None
              ) -> _Compared:  # fmt: skip
    """Read the files, simulate and compare."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    is_repair = before is not None or bool(was)
    one_standard_input(circuit, readings, before)
    if is_repair and stage is not None:
        raise InputError("--stage: a repair is seen from the readings as found and as left")
    if window is not None and not is_repair:
        raise InputError("--window: what is wanted counts with --before or --was only")
    wanted = None if window is None else window_for(window)
    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        from ..compare import compare, curves, repair  # noqa: PLC0415
        from ..compare.earlier import earlier  # noqa: PLC0415
        from ..graph import Section  # noqa: PLC0415
        from ..predictor import Predictor  # noqa: PLC0415
        from ..readout.model import SectionModel  # noqa: PLC0415
        from ..report.comparison import StageComparison  # noqa: PLC0415

        drawn = load(circuit)
        section = Section(drawn)
        if is_repair:
            first = Section(earlier(drawn if before is None else load(before), was))
            sheets, findings = apart(readings, first, section)
            taken = [_of_stage(readings, "as found", first, sheets),
                     _of_stage(readings, "as left", section, sheets)]  # fmt: skip
        else:
            sheet, findings = load_sheet(readings, section)
            taken = [(section, one, sheet) for one in stages_of(sheet, readings, stage)]
        year, found, models = this_year(), [], []
        for place, one, sheet in taken:
            model = SectionModel(Predictor(place, service), progress)
            models.append(model)
            progress("comparing", 0, 0)
            own = list(sheet.at(one))
            lines = tuple(curves(model, own, year)) if is_drawn else ()
            found.append(StageComparison(one, compare(model, own, year), lines))
        if not is_repair:
            return _Compared(found, findings)
        as_found, as_left = (list(sheet.at(one)) for _, one, sheet in taken)
        done = repair(models[0], models[1], as_found, as_left, found[1].comparison, year, wanted)
        return _Compared(found, findings, done)


def _of_stage(name: str, stage: Stage, section: Section, sheets: Mapping[Stage, Sheet]
              ) -> tuple[Section, Stage, Sheet]:  # fmt: skip
    """The readings of a stage with the circuit that they are held against.

    Raises
    ------
    InputError
        If there are none.
    """
    if stage not in sheets:
        raise InputError(f"{name}: it holds no reading {stage}")
    return section, stage, sheets[stage]


def _write_picture(path: Path, stages: list[StageComparison], replace: bool) -> None:
    from ..files import write_whole  # noqa: PLC0415
    from ..report.comparisonpicture import comparison_svg  # noqa: PLC0415

    if not any(one.curves for one in stages):
        raise InputError("--svg: there is nothing to draw: no voltage of a grid was read with its "
                         "pot at a known position")  # fmt: skip
    write_whole(path, comparison_svg(stages), replace=replace)
