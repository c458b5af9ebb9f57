"""`netcheck demo`: one whole job on invented data."""

from __future__ import annotations

import click

from .common import CLEAN, emit
from .report import Asked, gathered, write_job

NAME = "two-6v6gt-foot"
"""Of the example: the circuit, and the sheet of readings taken on it."""
_STEPS = (
    ("check", "what is wrong on paper"),
    ("predict", "grid volts and idle current over the travel"),
    ("compare", "each reading beside what it should be"),
    ("diagnose", "the part that explains them"),
    ("remedy", "what to solder in"),
    ("parts", "what to order"),
)
_WITH_READINGS = frozenset({"compare", "diagnose", "remedy", "parts"})


@click.command("demo")
@click.option("-o", "--output", metavar="FILE",
              help="Write the page for customer and bench to this file instead.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Let -o replace a file.")
def command(output: str | None, replace: bool) -> int:
    """Go through one whole job: from the circuit and the readings to the part and the remedy.

    The amplifier, its chassis and the readings are invented. "netcheck circuits --show
    two-6v6gt-foot" prints the circuit, with ".readings" behind the name the sheet.
    """
    from ..files import refuse_existing  # noqa: PLC0415 - keeps --help quick

    refuse_existing(output, replace=replace)
    job, _ = gathered(NAME, NAME, Asked(), panel=output is not None)
    write_job(job, output, None, replace)
    if output is None:
        emit("\n" + "\n".join(_steps()))
    return CLEAN  # what is wrong was put there


def _steps() -> list[str]:
    lines = ["This was an invented job. The same, step by step:"]
    for name, what in _STEPS:
        words = f"netcheck {name} {NAME}{f' {NAME}' if name in _WITH_READINGS else ''}"
        lines += [f"  {words}", f"      {what}"]
    return lines
