"""`netcheck draw`: the bias section as a schematic with its voltages."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from ..errors import EngineError, InputError
from .arguments import CIRCUIT, READINGS
from .common import CAUTION, CLEAN, emit, load
from .progress import ProgressLine
from .sheets import complain_of_doubts, load_sheet, one_standard_input, stages_of, weighed

if TYPE_CHECKING:
    from ..diagnose.account import Account
    from ..engine.service import Service
    from ..finding import Finding
    from ..graph import Section
    from ..readings import Reading, Stage
    from ..report.schematic import Theme
    from ..report.schematicnotes import Volts


@click.command("draw")
@click.argument("circuit", type=CIRCUIT)
@click.argument("readings", type=READINGS, required=False)
@click.option("-o", "--output", required=True, metavar="FILE",
              help='The SVG file to write, "-" for standard output.')  # fmt: skip
@click.option("--replace", is_flag=True, help="Replace the file if there is one.")
@click.option("--at", multiple=True, metavar="POSITION",
              help="With the pot here, such as 30%; RV2=30% sets another pot.")  # fmt: skip
@click.option("--stage", type=click.Choice(["found", "left"]),
              help="Which readings: as found (if there are any) or as left.")  # fmt: skip
@click.option("--theme", type=click.Choice(["auto", "light", "dark"]), default="auto",
              help="Light or dark; auto follows the reader's system.")  # fmt: skip
@click.option("--no-check", is_flag=True, help="Do not mark what the check finds.")
def command(
    circuit: str,
    readings: str | None,
    *,
    output: str,
    replace: bool,
    at: tuple[str, ...],
    stage: str | None,
    theme: Theme,
    no_check: bool,
) -> int:
    """Draw the bias section of a CIRCUIT as a schematic, with the voltage at every node.

    A range is what the pot makes of a voltage over its travel. With READINGS what was read
    stands below what should be there, and the part that explains the readings is marked. Marked
    too are parts that "netcheck check" complains of. CIRCUIT is a circuit file or the name of
    an example, READINGS a sheet of readings; one of them may be "-" for standard input.
    """
    one_standard_input(circuit, readings)
    if readings is None and stage is not None:
        raise InputError("--stage: there are no readings without a sheet")
    from ..files import refuse_existing, write_whole  # noqa: PLC0415 - keeps --help quick

    refuse_existing(output, replace=replace)
    picture = _drawn(circuit, readings, at, stage, theme, not no_check)
    if output == "-":
        emit(picture)
    else:
        write_whole(Path(output), picture, replace=replace)
    return CLEAN


class _Taken(NamedTuple):
    """The readings of one stage, and what they say; without a simulator the readings alone."""

    stage: Stage
    readings: list[Reading]


def _drawn(circuit: str, readings: str | None, at: tuple[str, ...], stage: str | None,
           theme: Theme, is_checked: bool) -> str:  # fmt: skip
    """Read the files, simulate as far as that is possible, and draw."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        from ..changes import read_positions  # noqa: PLC0415
        from ..graph import Section  # noqa: PLC0415
        from ..report.schematic import schematic_svg  # noqa: PLC0415
        from ..report.schematicnotes import marked, noted, written  # noqa: PLC0415

        section = Section(load(circuit))
        position, fixed = read_positions(section.circuit, at)
        taken = None if readings is None else _taken(section, readings, stage)
        remarks: list[str] = []
        progress("simulating", 0, 0)
        volts = _volts(section, service, position, fixed, remarks)
        findings = _findings(section, service) if is_checked else []
        account = None
        if taken is not None:
            account = _account(section, service, taken, progress, remarks)
        shown = written(section, taken.readings if taken else (), volts.moved)
        marks = marked(section, findings, account)
        notes = noted(volts, shown, marks, [*remarks, CAUTION], taken.stage if taken else None)
        return schematic_svg(section, notes, theme=theme)


def _taken(section: Section, name: str, asked: str | None) -> _Taken:
    """The readings of one stage of a sheet."""
    sheet, findings = load_sheet(name, section)
    stage = stages_of(sheet, name, asked)[0]
    complain_of_doubts(findings)
    return _Taken(stage, list(sheet.at(stage)))


def _volts(section: Section, service: Service, at: float | None, fixed: dict[str, float],
           remarks: list[str]) -> Volts:  # fmt: skip
    """The voltages; none, with the reason as a remark, where they cannot be simulated."""
    from ..predictor import Predictor  # noqa: PLC0415
    from ..report.schematicnotes import Volts, predicted  # noqa: PLC0415

    if not section.sources:
        remarks.append("Without voltages: there is no source in the section.")
        return Volts()
    try:
        return predicted(Predictor(section, service), at, fixed)
    except EngineError as error:
        remarks.append(f"Without voltages: {error}.")
        return Volts()


def _findings(section: Section, service: Service) -> list[Finding]:
    """What the check finds, ratings included where they can be simulated."""
    from ..finding import in_reading_order  # noqa: PLC0415
    from ..predictor import Predictor  # noqa: PLC0415
    from ..rules import check  # noqa: PLC0415
    from ..worstcase import stresses  # noqa: PLC0415

    found = None
    if section.sources:
        try:
            found = stresses(Predictor(section, service))
        except EngineError:
            found = None
    return in_reading_order(check(section, found))


def _account(section: Section, service: Service, taken: _Taken, progress: ProgressLine,
             remarks: list[str]) -> Account | None:  # fmt: skip
    """The diagnosis; none, with the reason as a remark, where it cannot be made."""
    from ..diagnose.account import Account  # noqa: PLC0415

    try:
        found = weighed(section, service, taken.readings, progress)
    except EngineError as error:
        remarks.append(f"Without a diagnosis: {error}.")
        return None
    leading = next((suspect for suspect in found.suspects if suspect.parts), None)
    return Account(section, taken.stage, found, leading, (), (), (), None)
