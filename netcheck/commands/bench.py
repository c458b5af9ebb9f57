"""`netcheck bench`: a session at the bench, readings asked for one at a time."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import InputError
from .arguments import CIRCUIT, READINGS
from .common import FINDINGS, SHEET, emit, load, located
from .progress import ProgressLine
from .sheets import this_year

if TYPE_CHECKING:
    from ..graph import Section
    from ..session.sheetfile import SheetFile


@click.command("bench")
@click.argument("circuit", type=CIRCUIT)
@click.argument("readings", type=READINGS, required=False)
def command(circuit: str, readings: str | None) -> int:
    """Ask for readings on the bench, the most telling first, until the part is named.

    CIRCUIT is a circuit file, or the name of an example circuit. What is read is written to
    the sheet READINGS, by default NAME.readings beside the circuit; a sheet that exists is
    gone on with. Each reading is on the disk before the next is asked for.

    Exits with 0 if the section proved sound, with 1 if something is wrong or was left open.
    """
    if circuit == "-" or readings == "-":
        raise click.UsageError("standard input is for the answers: name a file")
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    with Service(workers=2) as service:
        service.start()  # it loads its libraries while the circuit is read
        drawn = load(circuit)
        from ..graph import Section  # noqa: PLC0415
        from ..predictor import Predictor  # noqa: PLC0415
        from ..session.dialog import Dialog, EndOfInput, steady_input  # noqa: PLC0415
        from ..session.notebook import Notebook  # noqa: PLC0415
        from ..session.session import Session  # noqa: PLC0415

        steady_input()
        path = Path(readings) if readings is not None else _beside(circuit)
        section = Section(drawn)
        try:
            file = _sheet(path, circuit, section)
        except EndOfInput:
            emit("\n  Nothing was written.")
            return FINDINGS
        with ProgressLine() as tell:
            from ..readout.model import SectionModel  # noqa: PLC0415

            model = SectionModel(Predictor(section, service), tell)
            tell("weighing what was read", 0, 0)
            session = Session(model, Notebook(file), this_year())
            _ = session.diagnosis  # weighed while the line says so
        return Dialog(session, circuit).run()


def _beside(circuit: str) -> Path:
    """The sheet of a circuit: beside it, or for an example in the working folder."""
    if located(circuit) != circuit:
        return Path(f"{Path(circuit).name.removesuffix('.bias')}{SHEET}")
    place = Path(circuit)
    return place.with_name(f"{place.name.removesuffix('.bias')}{SHEET}")


def _sheet(path: Path, circuit: str, section: Section) -> SheetFile:
    """The sheet: the one that exists, or a new one for the meter at hand."""
    from ..session.dialog import asked_meter  # noqa: PLC0415
    from ..session.edits import new_sheet  # noqa: PLC0415
    from ..session.sheetfile import SheetFile  # noqa: PLC0415

    if os.path.lexists(path):
        return SheetFile.opened(path, section)
    folder = path.resolve().parent
    if not os.access(folder, os.W_OK):
        raise InputError(f"{path}: the folder {folder} cannot be written to")
    meter = asked_meter()
    try:
        text = new_sheet(_seen_from(folder, circuit), meter)
    except ValueError as error:
        raise InputError(str(error)) from None
    return SheetFile.created(path, section, text)


def _seen_from(folder: Path, circuit: str) -> str:
    """The name by which a sheet in a folder finds its circuit."""
    place = located(circuit)
    if place != circuit:
        return Path(place).name
    try:
        return Path(os.path.relpath(Path(circuit).resolve(), folder)).as_posix()
    except ValueError:  # on another drive
        return Path(circuit).resolve().as_posix()
