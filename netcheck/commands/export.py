"""`netcheck export`: the ngspice deck of a prediction."""

from __future__ import annotations

from pathlib import Path

import click

from .arguments import CIRCUIT
from .common import CLEAN, emit, load


@click.command("export")
@click.argument("file", type=CIRCUIT)
@click.option("--at", multiple=True, metavar="POSITION", help="Pot at 30%; RV2=30% for one pot.")
@click.option("--set", "changes", multiple=True, metavar="NAME=VALUE", help="Another value.")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="Write to this file.")
@click.option("--replace", is_flag=True, help="Let -o replace a file.")
def command(file: str, at: tuple[str, ...], changes: tuple[str, ...], output: str | None,
            replace: bool) -> int:  # fmt: skip
    """Write the ngspice deck of the section in FILE, to be run with "ngspice -b".

    The pots stand at the middle unless --at says otherwise. The deck starts from the steady
    state that was found, and runs one period of it.
    """
    from ..changes import read_changes, read_positions  # noqa: PLC0415 - keeps --help quick
    from ..engine.export import export_deck  # noqa: PLC0415
    from ..engine.service import Service  # noqa: PLC0415
    from ..files import refuse_existing, write_whole  # noqa: PLC0415
    from ..graph import Section  # noqa: PLC0415
    from ..model import elements  # noqa: PLC0415
    from ..netlist import Pot  # noqa: PLC0415
    from ..predictor import Predictor  # noqa: PLC0415

    refuse_existing(output, replace=replace)
    circuit = load(file)
    position, fixed = read_positions(circuit, at)
    travel = {pot.name: 0.5 if position is None else position for pot in circuit.of(Pot)} | fixed
    with Service() as service:
        predictor = Predictor(Section(circuit), service, read_changes(circuit, changes))
        values = predictor.values(travel)
        state = predictor.whole(values).state
        text = export_deck(
            elements(circuit, values),
            predictor.frequency,
            state,
            heading=[f"{file}: {circuit.title}"],
        )
    if output is None:
        emit(text)
    else:
        write_whole(Path(output), text, replace=replace)
    return CLEAN
