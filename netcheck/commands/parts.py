"""`netcheck parts`: the list to order."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import click

from ..errors import InputError
from .arguments import CIRCUIT, QUIET, READINGS
from .common import CLEAN, FINDINGS, as_json, emit, load
from .progress import ProgressLine
from .sheets import (
    complain_of_doubts,
    load_sheet,
    one_standard_input,
    stages_of,
    this_year,
    weighed,
)
from .whatif import window_for

if TYPE_CHECKING:
    from ..engine.service import Service
    from ..finding import Finding
    from ..graph import Section
    from ..order import Order
    from ..order.shopping import Evidence
    from ..readings import Sheet, Stage

_FIRST_YEAR = 1920


class _Asked(NamedTuple):
    """The options."""

    stage: str | None
    year: int | None
    with_valves: bool
    window: str | None
    no_remedy: bool


@click.command("parts")
@click.argument("circuit", type=CIRCUIT)
@click.argument("readings", type=READINGS, required=False)
@click.option("--stage", type=click.Choice(["found", "left"]),
              help="Which readings: as found (if there are any) or as left.")  # fmt: skip
@click.option("--year", type=int, metavar="YEAR",
              help="The amplifier's year, for parts without a year of their own.")  # fmt: skip
@click.option("--valves", "with_valves", is_flag=True, help="A matched set of output valves too.")
@click.option("--window", metavar="PERCENT", help="Plate dissipation wanted, instead of 60-70%.")
@click.option("--no-remedy", is_flag=True,
              help="Leave out what would bring the idle current into the travel.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema parts.")
@QUIET
def command(
    circuit: str, readings: str | None, *, json_: bool, quiet: bool, **asked: object
) -> int:
    """List the parts to order for a CIRCUIT, each with the reason.

    Electrolytics past their service life, parts that are under-rated at the highest mains,
    selenium rectifiers, and what the first remedy takes. With READINGS also the part that the
    diagnosis names, or each that it leaves, and what was measured to be out of tolerance.
    Exits with 0 if there is nothing to order, else with 1. CIRCUIT is a circuit file or the
    name of an example, READINGS a sheet of readings; one of them may be "-" for standard input.
    """
    options = _Asked(**asked)  # type: ignore[arg-type]
    found, findings = _ordered(circuit, readings, options)
    if json_:
        from ..report.orderdata import order_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(order_data(found, findings)))
    else:
        from ..report.order import bare_list, render_order  # noqa: PLC0415

        if quiet:
            emit("\n".join(bare_list(found)))
        else:
            complain_of_doubts(findings)
            emit(render_order(found))
    return FINDINGS if found.lines else CLEAN


def _ordered(circuit: str, readings: str | None, asked: _Asked) -> tuple[Order, list[Finding]]:
    """Read what was named, simulate and make the list."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    today = this_year()
    one_standard_input(circuit, readings)
    if asked.stage is not None and readings is None:
        raise InputError("--stage: there are no readings")
    if asked.year is not None and not _FIRST_YEAR <= asked.year <= today:
        raise InputError(f"--year {asked.year}: it lies between {_FIRST_YEAR} and {today}")
    window = window_for(asked.window)
    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        drawn = load(circuit)
        from ..graph import Section  # noqa: PLC0415
        from ..order import order  # noqa: PLC0415
        from ..order.needs import dated  # noqa: PLC0415

        section = Section(drawn if asked.year is None else dated(drawn, asked.year))
        sheet, findings = (None, []) if readings is None else load_sheet(readings, section)
        stage = None if sheet is None else stages_of(sheet, str(readings), asked.stage)[0]
        evidence = _evidence(section, service, progress, sheet, stage,
                             None if asked.no_remedy else window)  # fmt: skip
        progress("making the list", 0, 0)
        return order(section, service, evidence, today, with_valves=asked.with_valves,
                     window=window), findings  # fmt: skip


def _evidence(section: Section, service: Service, progress: ProgressLine, sheet: Sheet | None,
              stage: Stage | None, window: tuple[float, float] | None) -> Evidence:  # fmt: skip
    """What readings and the search for a remedy tell."""
    from ..order.shopping import Evidence  # noqa: PLC0415 - keeps --help quick
    from ..remedy.start import as_diagnosed, as_drawn  # noqa: PLC0415
    from ..remedy.study import remedies  # noqa: PLC0415

    start, own, found = as_drawn(section.circuit), [], None
    if sheet is not None and stage is not None:
        own = list(sheet.at(stage))
        found = weighed(section, service, own, progress)
        start = as_diagnosed(section.circuit, service, found, own)
    if window is None or not section.sources:
        return Evidence(own, found)
    try:
        return Evidence(own, found, remedies(start, service, progress, window=window))
    except InputError as error:  # nothing to aim at: the rest of the list stands
        return Evidence(own, found, no_remedy=str(error))
