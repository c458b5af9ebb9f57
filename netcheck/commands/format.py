"""`netcheck format`: the canonical form of a circuit file or a sheet of readings."""

from __future__ import annotations

from pathlib import Path

import click

from ..errors import InputError
from ..source import Source
from .arguments import CIRCUIT
from .common import CLEAN, FINDINGS, emit, emit_listing, is_sheet, located, own_types


@click.command("format")
@click.argument("file", type=CIRCUIT)
@click.option("--write", is_flag=True, help="Rewrite the file instead of printing.")
@click.option("--differs", is_flag=True, help="Print nothing; exit 1 if the file would change.")
def command(file: str, write: bool, differs: bool) -> int:
    """Print FILE in its canonical form: columns aligned, values as on the part.

    Comments are kept. FILE is a circuit file, the name of an example circuit, a sheet of
    readings (NAME.readings), or "-".
    A file with an error in it is left as it is.
    """
    from ..files import read_source, write_whole  # noqa: PLC0415 - keeps --help quick

    if write and differs:
        raise click.UsageError("--write and --differs do not go together")
    if write and file == "-":
        raise click.UsageError("standard input cannot be rewritten")
    source = read_source(file if write else located(file))
    text = _formatted(source, file)
    changed = text != source.text
    if differs:
        return FINDINGS if changed else CLEAN
    if write:
        if changed:
            write_whole(Path(file), text, replace=True)
        emit(f"{file}: {'rewritten' if changed else 'nothing to change'}")
    else:
        emit_listing(text, sheet=is_sheet(source))
    return CLEAN


def _formatted(source: Source, file: str) -> str:
    """The canonical form of a text.

    Raises
    ------
    InputError
        With every error of it.
    """
    if is_sheet(source):
        from ..parse.sheet import read_sheet  # noqa: PLC0415
        from ..sheetlayout import format_sheet_lines  # noqa: PLC0415

        sheet = read_sheet(source)
        if sheet.findings:
            raise InputError(f"{file} cannot be formatted", sheet.findings)
        return format_sheet_lines(sheet.lines)
    from ..layout import format_lines  # noqa: PLC0415
    from ..parse import parse_lines  # noqa: PLC0415

    lines, findings = parse_lines(source, own_types(file))
    if findings:
        raise InputError(f"{file} cannot be formatted", findings)
    return format_lines(lines)
