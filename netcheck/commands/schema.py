"""`netcheck schema`: the JSON Schema of a command's output."""

from __future__ import annotations

import click

from .common import as_json, emit


@click.command("schema")
@click.argument(
    "name",
    metavar="COMMAND",
    type=click.Choice(
        [
            "check",
            "compare",
            "diagnose",
            "failures",
            "idle",
            "parts",
            "predict",
            "remedy",
            "report",
            "sweep",
        ]
    ),
)
def command(name: str) -> None:
    """Print the JSON Schema (draft 2020-12) of what COMMAND prints with --json."""
    from ..report.data import schema  # noqa: PLC0415 - keeps --help quick

    emit(as_json(schema(name)))
