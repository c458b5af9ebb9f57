"""`netcheck predict`: the grid voltage over the travel of the pot."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .arguments import CIRCUIT, QUIET
from .common import CAUTION, CLEAN, as_json, emit
from .whatif import predictor_for, window_for

if TYPE_CHECKING:
    from ..engine.service import Service
    from ..travel import Prediction


@click.command("predict")
@click.argument("file", type=CIRCUIT)
@click.option("--at", multiple=True, metavar="POSITION",
              help="Only this position, such as 30%; RV2=30% sets another pot.")  # fmt: skip
@click.option("--pot", "pots", multiple=True, metavar="NAME", help="The pot to sweep.")
@click.option("--set", "changes", multiple=True, metavar="NAME=VALUE",
              help="With another value: R3=33k, C1=22u, C1.leak=100k.")  # fmt: skip
@click.option("--mains", metavar="VOLTS", help="With this mains voltage, as measured.")
@click.option("--meter", metavar="OHMS", help="As a meter of this resistance reads it: 10M.")
@click.option("--samples", type=click.IntRange(200, 100_000), metavar="COUNT",
              help="Draw so many chassis at random too, and set their band beside the computed "
                   "one.")  # fmt: skip
@click.option("--seed", type=click.IntRange(0), metavar="NUMBER",
              help="With --samples: another number draws other chassis (else 1).")  # fmt: skip
@click.option("--window", metavar="PERCENT", help="Plate dissipation wanted, instead of 60-70%.")
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema predict.")
@click.option("--svg", type=click.Path(dir_okay=False), help="Write the curve to this file too.")
@click.option("--replace", is_flag=True, help="Let --svg replace a file.")
@click.option("--no-plot", is_flag=True, help="Tables only.")
@QUIET
def command(
    file: str,
    *,
    json_: bool,
    svg: str | None,
    replace: bool,
    no_plot: bool,
    quiet: bool,
    **asked: Any,
) -> int:
    """Predict the grid voltage of the bias section in FILE over the travel of its pot.

    ngspice simulates the section at every tenth of the travel. FILE is a circuit file, the
    name of an example circuit, or "-" for standard input.
    """
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick
    from ..files import refuse_existing, write_whole  # noqa: PLC0415

    refuse_existing(svg, replace=replace)
    with Service(workers=2) as service:
        service.start()  # it loads its libraries while the circuit is read
        prediction = _predict(service, file, **asked)
        if svg is not None:
            from ..report.picture import travel_svg  # noqa: PLC0415

            write_whole(Path(svg), travel_svg(prediction), replace=replace)
        if json_:
            from ..report.data import prediction_data  # noqa: PLC0415

            emit(as_json(prediction_data(prediction)))
            return CLEAN
        from ..report.prediction import outcome, render_prediction  # noqa: PLC0415
        from ..report.tables import paragraph  # noqa: PLC0415

        if quiet:
            emit("\n".join(outcome(prediction)))
            return CLEAN
        text = render_prediction(prediction, plotted=not no_plot)
        emit(text + "\n\n" + "\n".join(paragraph(CAUTION)))
    return CLEAN


def _predict(
    service: Service,
    file: str,
    *,
    at: tuple[str, ...],
    pots: tuple[str, ...],
    changes: tuple[str, ...],
    mains: str | None,
    meter: str | None,
    window: str | None,
    samples: int | None,
    seed: int | None,
) -> Prediction:
    """Read the circuit and the options, and predict."""
    predictor = predictor_for(service, file, changes, mains)
    from ..changes import read_positions, read_single  # noqa: PLC0415 - keeps --help quick
    from ..errors import InputError  # noqa: PLC0415
    from ..quantity import Dimension  # noqa: PLC0415
    from ..travel import predict  # noqa: PLC0415

    if seed is not None and samples is None:
        raise InputError("--seed: there is nothing to draw without --samples")
    circuit = predictor.section.circuit
    position, fixed = read_positions(circuit, at)
    read_positions(circuit, [f"{pot}=50%" for pot in pots])  # refuses those that do not exist
    return predict(
        predictor,
        pots=pots,
        fixed=fixed,
        travel=None if position is None else [position],
        meter=None if meter is None else read_single(meter, Dimension.OHM, 1e3, 1e12, "meter"),
        window=window_for(window),
        samples=samples or 0,
        seed=1 if seed is None else seed,
    )
