"""`netcheck idle`: what idle currents mean, and which are wanted."""

from __future__ import annotations

import click

from .arguments import QUIET
from .common import CAUTION, CLEAN, FINDINGS, as_json, complain, emit

_OWN_TYPES = """\b
A type that is not known goes into a text file of your own, for --types, with
the figures of its data sheet; rows are operating points, for the grid voltage:
  [EL99]
  kind = "pentode"             # or "beam tetrode", "triode"
  source = "data sheet EL99"
  rows = [
    { plate_V = 250, screen_V = 250, grid_V = -14, plate_mA = 70, screen_mA = 9 },
  ]
  [EL99.limits]
  plate_W = 25
  screen_W = 8
  plate_V = 800
  screen_V = 500
"""


@click.command("idle", epilog=_OWN_TYPES)
@click.argument("type_name", metavar="TYPE")
@click.option("--plate", required=True, metavar="VOLTS", help="Plate voltage, such as 400V.")
@click.option("--cathode", "cathodes", multiple=True, metavar="[NAME=]CURRENT",
              help="Cathode current, one for each valve in the order of the sockets: 42mA, "
                   "V5=42mA, or 42mV with --resistor.")  # fmt: skip
@click.option("--screen", metavar="VOLTS", help="Screen voltage, such as 390V.")
@click.option("--grid", metavar="VOLTS", help="Grid voltage as measured, such as -38V.")
@click.option("--window", metavar="PERCENT", help="What to aim at, instead of 60-70%.")
@click.option("--resistor", metavar="OHMS",
              help="Each valve's own cathode resistor; volts are against ground then.")  # fmt: skip
@click.option("--absolute", is_flag=True, help="Count from the absolute limits of the sheet.")
@click.option("--types", "types_file", metavar="FILE", help="A file of valve types of your own.")
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema idle.")
@QUIET
def command(type_name: str, *, plate: str, cathodes: tuple[str, ...], screen: str | None,
            grid: str | None, window: str | None, resistor: str | None, absolute: bool,
            types_file: str | None, json_: bool, quiet: bool) -> int:  # fmt: skip
    """Turn idle currents of output valves of one TYPE into dissipation, and judge them.

    Without --cathode: the cathode current to aim at. A cathode probe or resistor reads plate
    and screen current together. Exits with 1 if a valve is outside of the window and of the
    usual 50-70 %, if valves do not match, or if a limit is exceeded.
    """
    from ..idle import assess  # noqa: PLC0415 - keeps --help quick
    from ..idle.request import Typed, understand  # noqa: PLC0415

    request = understand(Typed(
        type_name, plate, cathodes, screen, grid, window, resistor, absolute, types_file
    ))  # fmt: skip
    if request.remarks and not quiet:
        from ..report.findings import render  # noqa: PLC0415

        complain(render(request.remarks))
    found = assess(request.stage, request.readings)
    if json_:
        from ..report.idledata import idle_data  # noqa: PLC0415

        emit(as_json(idle_data(found)))
    else:
        from ..report.idle import outcome, render_idle  # noqa: PLC0415
        from ..report.tables import paragraph  # noqa: PLC0415

        emit(
            "\n".join(outcome(found))
            if quiet
            else render_idle(found) + "\n\n" + "\n".join(paragraph(CAUTION))
        )
    return FINDINGS if found.matters else CLEAN
