"""`netcheck circuits`: the example circuits."""

from __future__ import annotations

import click

from ..entry.shipped import shipped
from .common import as_json, emit, emit_listing, is_sheet


@click.command("circuits")
@click.option("--json", "json_", is_flag=True, help="As JSON.")
@click.option("--show", metavar="NAME", help="Print one of them.")
def command(json_: bool, show: str | None) -> None:
    """List the example circuits; their names work wherever a file is wanted."""
    import textwrap  # noqa: PLC0415

    if show is not None:
        from ..files import read_source  # noqa: PLC0415
        from .common import located  # noqa: PLC0415

        source = read_source(located(show))
        emit_listing(source.text, sheet=is_sheet(source))
        return
    examples = shipped()
    if json_:
        emit(as_json([{"name": e.name, "title": e.title, "shows": e.shows} for e in examples]))
        return
    blocks = [
        f"{e.name}\n" + textwrap.fill(e.shows, 78, initial_indent="  ", subsequent_indent="  ")
        for e in examples
    ]
    emit("\n".join(blocks))
