"""`netcheck valves`: the output valve types that are known."""

from __future__ import annotations

import click

from ..errors import InputError
from .common import as_json, emit


@click.command("valves")
@click.argument("type_name", metavar="[TYPE]", required=False)
@click.option("--json", "json_", is_flag=True, help="As JSON.")
def command(type_name: str | None, json_: bool) -> None:
    """List the output valve types, or show the limits and rows of one with their sources."""
    from ..report.valves import listing, sheet, type_data  # noqa: PLC0415 - keeps --help quick
    from ..valves import lookup, nearest, shipped_types  # noqa: PLC0415

    if type_name is None:
        types = shipped_types()
        emit(as_json([type_data(valve) for valve in types]) if json_ else listing(types))
        return
    valve = lookup(type_name)
    if valve is None:
        near = nearest(type_name)
        hint = f"; nearest known types: {', '.join(near)}" if near else ""
        raise InputError(f'the valve type "{type_name}" is not known{hint}')
    emit(as_json(type_data(valve)) if json_ else sheet(valve))
