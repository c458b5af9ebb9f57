"""`netcheck sweep`: what a substitution box across a part, or in its place, would show."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .arguments import CIRCUIT, PART, QUIET
from .common import CAUTION, CLEAN, FINDINGS, as_json, complain, emit
from .progress import ProgressLine
from .whatif import predictor_for, window_for

if TYPE_CHECKING:
    from ..predictor import Predictor
    from ..substitution import Asked, Chart, Substitution


@click.command("sweep")
@click.argument("circuit", type=CIRCUIT)
@click.argument("parts", type=PART, metavar="PART [PART]", nargs=-1, required=True)
@click.option("--across", is_flag=True,
              help="A resistor across the part, which stays; usual for a resistor.")  # fmt: skip
@click.option("--in-place", is_flag=True,
              help="Another value in place of the part; usual for the rest.")  # fmt: skip
@click.option("--from", "low", multiple=True, metavar="VALUE",
              help="The lowest value, such as 10k. For both of two, or one each.")  # fmt: skip
@click.option("--to", "high", multiple=True, metavar="VALUE", help="The highest value.")
@click.option("--series", type=click.Choice(["E3", "E6", "E12", "E24", "E48", "E96"],
                                            case_sensitive=False), metavar="E3|E6|E12|E24|E48|E96",
              help="The preferred values to try.")  # fmt: skip
@click.option("--steps", type=int, metavar="N", help="N evenly spaced values instead.")
@click.option("--show", type=click.Choice(["idle", "grid", "window"]),
              help="With two parts, what the chart shows: idle current (else) or grid volts at "
                   "mid-travel, or where the window falls.")  # fmt: skip
@click.option("--window", metavar="PERCENT", help="Plate dissipation wanted, instead of 60-70%.")
@click.option("--set", "changes", multiple=True, metavar="NAME=VALUE",
              help="With another value fitted: R2=22k, C1.leak=100k.")  # fmt: skip
@click.option("--mains", metavar="VOLTS", help="With this mains voltage, as measured.")
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema sweep.")
@click.option("--svg", type=click.Path(dir_okay=False), help="Draw the curves into this file too.")
@click.option("--replace", is_flag=True, help="Let --svg replace a file.")
@click.option("--no-plot", is_flag=True, help="Tables only.")
@QUIET
def command(circuit: str, parts: tuple[str, ...], *, show: str | None, json_: bool,
            svg: str | None, replace: bool, no_plot: bool, quiet: bool,
            **asked: Any) -> int:  # fmt: skip
    """Turn a substitution box across PART, or in its place, on paper.

    For each value: grid volts, idle current and dissipation at both ends and in the middle of the
    travel, each simulated by ngspice, and where in the travel the dissipation wanted lies. With
    two parts a chart, the first downwards. A pot, a capacitor, a zener, the volts of a winding or
    of a supply are exchanged; across anything a resistor is put. CIRCUIT is a circuit file, the
    name of an example, or "-" for standard input. Exits with 1 if a part does not act on the
    grids.
    """
    _refuse(parts, show, svg, replace)
    found, why_not = _swept(circuit, parts, **asked)
    if svg is not None:
        _write_picture(Path(svg), found, why_not, replace)
    if json_:
        from ..report.sweepdata import sweep_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(sweep_data(found, why_not)))
    elif quiet:
        emit("\n".join(_outcome(found, why_not)))
    else:
        from ..report.tables import paragraph  # noqa: PLC0415

        text = _text(found, why_not, show or "idle", not no_plot)
        emit(text + "\n\n" + "\n".join(paragraph(CAUTION)))
    return FINDINGS if why_not else CLEAN


def _outcome(found: Substitution | Chart, why_not: dict[str, str]) -> list[str]:
    from ..substitution import Substitution  # noqa: PLC0415

    if isinstance(found, Substitution):
        from ..report.sweep import sweep_outcome  # noqa: PLC0415

        return sweep_outcome(found, why_not.get(found.knob.part.name))
    from ..report.sweepchart import chart_outcome  # noqa: PLC0415

    return chart_outcome(found, why_not)


def _refuse(parts: tuple[str, ...], show: str | None, svg: str | None, replace: bool) -> None:
    """What is wrong with a command, as far as that can be told before the simulation."""
    from ..files import refuse_existing  # noqa: PLC0415 - keeps --help quick

    if len(parts) > 2:
        raise InputError("one part, or two for a chart: more cannot be shown")
    if len(parts) == 2 and parts[0] == parts[1]:
        raise InputError(f"{parts[0]} is named twice; a chart takes two different parts")
    if show is not None and len(parts) == 1:
        raise InputError("--show is for the chart of two parts")
    refuse_existing(svg, replace=replace)


def _swept(circuit: str, parts: tuple[str, ...], *, window: str | None, changes: tuple[str, ...],
           mains: str | None, **asked: Any,
           ) -> tuple[Substitution | Chart, dict[str, str]]:  # fmt: skip
    """Read the circuit and the options, and sweep."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        predictor = predictor_for(service, circuit, changes, mains)
        from ..substitution import chart, knob_for, substitute  # noqa: PLC0415

        wanted = window_for(window)
        knobs = [knob_for(predictor, name, one, coarse=len(parts) == 2)
                 for name, one in zip(parts, _asked(len(parts), **asked), strict=True)]  # fmt: skip
        found = (
            substitute(predictor, knobs[0], wanted, progress) if len(knobs) == 1
            else chart(predictor, knobs[0], knobs[1], wanted, progress)
        )  # fmt: skip
        return found, _why_not(predictor, found)


def _asked(count: int, *, across: bool, in_place: bool, low: tuple[str, ...],
           high: tuple[str, ...], series: str | None, steps: int | None,
           ) -> list[Asked]:  # fmt: skip
    """What was asked for of each part."""
    from ..preferred import Series  # noqa: PLC0415
    from ..substitution import Asked, Way  # noqa: PLC0415

    if across and in_place:
        raise InputError("--across and --in-place exclude each other")
    if series is not None and steps is not None:
        raise InputError("--series and --steps exclude each other")
    way = Way.ACROSS if across else Way.IN_PLACE if in_place else None
    preferred = None if series is None else Series[series.upper()]
    ends = zip(_for_each("--from", low, count), _for_each("--to", high, count), strict=True)
    return [Asked(way, first, last, preferred, steps) for first, last in ends]


def _for_each(option: str, given: tuple[str, ...], count: int) -> list[str | None]:
    """An option for each part: given for each, for all, or not at all."""
    if len(given) > count:
        raise InputError(f"{option} is given {len(given)} times for {count} part"
                         f"{'' if count == 1 else 's'}")  # fmt: skip
    if len(given) == count:
        return list(given)
    return [given[0] if given else None] * count


def _why_not(predictor: Predictor, found: Substitution | Chart) -> dict[str, str]:
    """Why parts do not act on the grids, by their names; empty if all do."""
    from ..substitution import LEAST, Substitution, why_nothing  # noqa: PLC0415

    if isinstance(found, Substitution):
        moved = [(found.knob, float(found.moved.max()))]
    else:
        moved = list(zip((found.rows, found.columns), found.moved_by, strict=True))
    return {
        knob.part.name: why_nothing(predictor, knob, found.swept) for knob, v in moved if v <= LEAST
    }


def _text(found: Substitution | Chart, why_not: dict[str, str], show: str, plotted: bool) -> str:
    from ..substitution import Substitution  # noqa: PLC0415

    if isinstance(found, Substitution):
        from ..report.sweep import render_sweep  # noqa: PLC0415

        return render_sweep(found, why_not.get(found.knob.part.name), plotted)
    from ..report.sweepchart import render_chart  # noqa: PLC0415

    return render_chart(found, why_not, show)


def _write_picture(path: Path, found: Substitution | Chart, why_not: dict[str, str],
                   replace: bool) -> None:  # fmt: skip
    from ..files import write_whole  # noqa: PLC0415
    from ..report.sweeppicture import sweep_svg  # noqa: PLC0415
    from ..substitution import Substitution  # noqa: PLC0415

    if len(why_not) == (1 if isinstance(found, Substitution) else 2):
        complain(f"--svg: {path} is not written: no grid is moved")
        return
    write_whole(path, sweep_svg(found), replace=replace)
