"""`netcheck schema`: the JSON Schema of a command's output."""

from __future__ import annotations

import click

from ..report.data import SCHEMAS, schema
from .common import as_json, emit


@click.command("schema")
@click.argument("name", metavar="COMMAND", type=click.Choice(SCHEMAS))
def command(name: str) -> None:
    """Print the JSON Schema (draft 2020-12) of what COMMAND prints with --json."""
    emit(as_json(schema(name)))
