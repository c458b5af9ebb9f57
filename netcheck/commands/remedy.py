"""`netcheck remedy`: what to solder in so that the idle current wanted can be set."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .arguments import CIRCUIT, QUIET, READINGS
from .common import CLEAN, FINDINGS, as_json, emit, load
from .progress import ProgressLine
from .sheets import complain_of_doubts, load_sheet, one_standard_input, stages_of, weighed
from .whatif import window_for

if TYPE_CHECKING:
    from ..engine.service import Service
    from ..finding import Finding
    from ..netlist import Circuit
    from ..remedy.start import Start
    from ..remedy.study import Remedies


@click.command("remedy")
@click.argument("circuit", type=CIRCUIT)
@click.argument("readings", type=READINGS, required=False)
@click.option("--window", metavar="PERCENT", help="Plate dissipation wanted, instead of 60-70%.")
@click.option("--grid", metavar="VOLTS", help="A grid voltage wanted instead, such as -36V.")
@click.option("--stage", type=click.Choice(["found", "left"]),
              help="Which readings: as found (if there are any) or as left.")  # fmt: skip
@click.option("--choice", type=click.IntRange(min=1), metavar="N",
              help="Show, or apply, the Nth way instead of the first.")  # fmt: skip
@click.option("--apply", "apply_", type=click.Path(dir_okay=False), metavar="OUT.bias",
              help="Write the circuit with the remedy in it to this file.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Let --apply replace a file.")
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema remedy.")
@QUIET
def command(circuit: str, readings: str | None, *, choice: int | None, apply_: str | None,
            replace: bool, json_: bool, quiet: bool, **asked: Any) -> int:  # fmt: skip
    """Find what to solder into a CIRCUIT so that the idle current wanted can be set.

    Every practical way is tried with every preferred value: straps, other resistors, another
    pot, a resistor in series with it. With READINGS it begins with the circuit as diagnosed
    and with the valves as measured. Exits with 0 if there is a way that cannot over-run a
    valve, or nothing has to be done, else with 1; with 1 also if no position of a pot suits
    all its valves.
    """
    from ..files import refuse_existing  # noqa: PLC0415 - keeps --help quick

    refuse_existing(apply_, replace=replace)
    found, drawn, findings = _found(circuit, readings, **asked)
    chosen = _choice(found, choice)
    if apply_ is not None:
        _apply(found, drawn, chosen, choice is not None, Path(apply_), replace)
    if json_:
        from ..report.remedydata import remedy_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(remedy_data(found, chosen, findings)))
    else:
        from ..report.remedy import outcome, render_remedies  # noqa: PLC0415

        if quiet:
            emit("\n".join(outcome(found, chosen)))
        else:
            complain_of_doubts(findings)
            emit(render_remedies(found, chosen))
    return CLEAN if found.is_solved else FINDINGS


def _found(circuit: str, readings: str | None, *, window: str | None, grid: str | None,
           stage: str | None) -> tuple[Remedies, Circuit, list[Finding]]:  # fmt: skip
    """Read what was named, simulate and search."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    one_standard_input(circuit, readings)
    if stage is not None and readings is None:
        raise InputError("--stage: there are no readings")
    if window is not None and grid is not None:
        raise InputError("--window and --grid: give one of the two")
    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        drawn = load(circuit)
        share, v_grid = window_for(window), _grid(grid)
        start, findings = _start(drawn, readings, stage, service, progress)
        from ..remedy.study import remedies  # noqa: PLC0415

        return remedies(start, service, progress, window=share, v_grid=v_grid), drawn, findings


def _start(drawn: Circuit, readings: str | None, stage: str | None, service: Service,
           progress: ProgressLine) -> tuple[Start, list[Finding]]:  # fmt: skip
    """What to begin with: the drawing, or what the readings make of it."""
    from ..remedy.start import as_diagnosed, as_drawn  # noqa: PLC0415

    if readings is None:
        return as_drawn(drawn), []
    from ..graph import Section  # noqa: PLC0415

    section = Section(drawn)
    sheet, findings = load_sheet(readings, section)
    own = list(sheet.at(stages_of(sheet, readings, stage)[0]))
    found = weighed(section, service, own, progress)
    return as_diagnosed(drawn, service, found, own), findings


def _grid(text: str | None) -> float | None:
    from ..changes import read_single  # noqa: PLC0415
    from ..quantity import Dimension  # noqa: PLC0415

    if text is None:
        return None
    try:
        return read_single(text, Dimension.VOLT, -250.0, -0.5, "grid voltage of an output valve")
    except InputError as error:
        hint = (
            "" if text.lstrip().startswith("-") else "; it is negative against ground: --grid=-36V"
        )
        raise InputError(f"--grid: {error}{hint}") from None


def _choice(found: Remedies, choice: int | None) -> int:
    if choice is None:
        return 1
    if choice > len(found.options):
        count = len(found.options)
        have = f"there {'is' if count == 1 else 'are'} {count or 'none'}"
        raise InputError(f"--choice {choice}: {have}")
    return choice


def _apply(found: Remedies, drawn: Circuit, chosen: int, is_asked: bool, path: Path,
           replace: bool) -> None:  # fmt: skip
    """Write the circuit with the remedy in it; the file it was read from is left alone."""
    from ..files import write_whole  # noqa: PLC0415
    from ..remedy.written import written  # noqa: PLC0415

    if not found.options and found.is_needed:
        raise InputError("--apply: there is no way to write down")
    if not found.is_better and not is_asked:
        hint = "; name a way with --choice to write it" if found.options else ""
        raise InputError("--apply: nothing has to be done" + hint)
    if path.exists() and Path(drawn.source.name).exists() and path.samefile(drawn.source.name):
        raise InputError("--apply: the circuit itself is left as it is; name another file")
    write_whole(path, written(drawn, found.start, found.options[chosen - 1]), replace=replace)
