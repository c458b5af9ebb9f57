"""`netcheck failures`: what each part does to the valves when it fails."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from .arguments import CIRCUIT, QUIET
from .common import CAUTION, CLEAN, FINDINGS, as_json, emit
from .progress import ProgressLine
from .whatif import predictor_for, window_for

if TYPE_CHECKING:
    from ..failures import Study


@click.command("failures")
@click.argument("circuit", type=CIRCUIT)
@click.option("--at", multiple=True, metavar="POSITION",
              help="Where the bias pot stands, such as 30%, instead of the middle; RV2=30% sets "
                   "another pot.")  # fmt: skip
@click.option("--window", metavar="PERCENT", help="Plate dissipation wanted, instead of 60-70%.")
@click.option("--set", "changes", multiple=True, metavar="NAME=VALUE",
              help="With another value fitted: R2=22k, C1.leak=100k.")  # fmt: skip
@click.option("--mains", metavar="VOLTS", help="With this mains voltage, as measured.")
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema failures.")
@QUIET
def command(circuit: str, *, json_: bool, quiet: bool, **asked: Any) -> int:
    """Let every part of CIRCUIT fail, one at a time, and rank what that does to the valves.

    Every part open and short, every wiper lifted, every connection of a pot broken, electrolytics
    leaky and dried out, windings dead, grids that leak: what each grid and each idle current do
    where the pot stands and at the worst end of the travel, simulated by ngspice; and the
    resistor that makes a lifted wiper safe. CIRCUIT is a circuit file, the name of an example, or
    "-" for standard input. Exits with 1 if a failure leaves a grid without bias or takes a plate
    over its limit, or if a grid has no bias as drawn; with 0 if nothing is dangerous.
    """
    found = _studied(circuit, **asked)
    if json_:
        from ..report.failuresdata import failures_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(failures_data(found)))
    else:
        from ..report.failures import outcome, render_failures  # noqa: PLC0415
        from ..report.tables import paragraph  # noqa: PLC0415

        emit(
            "\n".join(outcome(found))
            if quiet
            else render_failures(found) + "\n\n" + "\n".join(paragraph(CAUTION))
        )
    return FINDINGS if found.dangerous or found.without else CLEAN


def _studied(circuit: str, *, at: tuple[str, ...], window: str | None, changes: tuple[str, ...],
             mains: str | None) -> Study:  # fmt: skip
    """Read the circuit and the options, and let parts fail."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        predictor = predictor_for(service, circuit, changes, mains)
        from ..changes import read_positions  # noqa: PLC0415
        from ..failures import study  # noqa: PLC0415

        now, fixed = read_positions(predictor.section.circuit, at)
        return study(predictor, now=0.5 if now is None else now, fixed=fixed,
                     window=window_for(window), progress=progress)  # fmt: skip
