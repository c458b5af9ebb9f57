"""`netcheck diagnose`: which part explains the readings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from .arguments import CIRCUIT, QUIET, READINGS
from .common import CLEAN, FINDINGS, as_json, emit, load
from .progress import ProgressLine
from .sheets import complain_of_doubts, load_sheet, one_standard_input, stages_of, this_year

if TYPE_CHECKING:
    from ..diagnose.account import Account
    from ..finding import Finding


@click.command("diagnose")
@click.argument("circuit", type=CIRCUIT)
@click.argument("readings", type=READINGS)
@click.option("--stage", type=click.Choice(["found", "left"]),
              help="Which readings: as found (if there are any) or as left.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="As JSON; see netcheck schema diagnose.")
@QUIET
def command(circuit: str, readings: str, stage: str | None, json_: bool, quiet: bool) -> int:
    """Name the part that explains the READINGS taken on a CIRCUIT.

    Every part is tried in every way that it fails in practice, all others within their
    tolerance. Parts that the readings cannot tell apart are named together, and the reading
    that would tell most is proposed. Exits with 0 if nothing is wrong, else with 1. CIRCUIT is
    a circuit file or the name of an example, READINGS a sheet of readings; one of them may be
    "-" for standard input.
    """
    account, findings = _diagnosed(circuit, readings, stage)
    if json_:
        from ..report.diagnosisdata import diagnosis_data  # noqa: PLC0415 - keeps --help quick

        emit(as_json(diagnosis_data(account, findings)))
    else:
        from ..report.diagnosis import render_diagnosis  # noqa: PLC0415
        from ..report.tables import paragraph  # noqa: PLC0415
        from ..report.verdict import verdict  # noqa: PLC0415

        if quiet:
            emit("\n".join(paragraph(verdict(account))))
        else:
            complain_of_doubts(findings)
            emit(render_diagnosis(account, readings))
    from ..diagnose.diagnosis import Verdict  # noqa: PLC0415

    return CLEAN if account.diagnosis.verdict is Verdict.SOUND else FINDINGS


def _diagnosed(circuit: str, readings: str, stage: str | None
               ) -> tuple[Account, list[Finding]]:  # fmt: skip
    """Read both files, simulate and diagnose."""
    from ..engine.service import Service  # noqa: PLC0415 - keeps --help quick

    one_standard_input(circuit, readings)
    with Service(workers=2) as service, ProgressLine() as progress:
        progress("reading the circuit", 0, 0)
        service.start()  # it loads its libraries while the circuit is read
        from ..diagnose.account import account  # noqa: PLC0415
        from ..graph import Section  # noqa: PLC0415
        from ..predictor import Predictor  # noqa: PLC0415
        from ..readout.model import SectionModel  # noqa: PLC0415

        section = Section(load(circuit))
        sheet, findings = load_sheet(readings, section)
        picked = stages_of(sheet, readings, stage)[0]
        model = SectionModel(Predictor(section, service), progress)
        progress("weighing what may be wrong", 0, 0)
        found = account(model, list(sheet.at(picked)), sheet.meters[0], this_year())
    return found, findings
