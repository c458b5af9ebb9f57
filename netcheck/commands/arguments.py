"""Arguments and options that commands share; a shell can complete the names that are asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

if TYPE_CHECKING:  # it takes no argument before click 8.2
    _Named = click.ParamType[str]
else:
    _Named = click.ParamType


class _FileOrExample(_Named):
    """The name of a file with one ending, or of an example that comes with the program.

    Parameters
    ----------
    ending : str
        What the names of such files end in.
    """

    name = "file"

    def __init__(self, ending: str) -> None:
        self.ending = ending

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str
                       ) -> list[CompletionItem]:  # fmt: skip
        """Files and folders that begin so, and examples that do."""
        names = [*_files(incomplete, self.ending), *_examples(incomplete, self.ending)]
        return [CompletionItem(name) for name in dict.fromkeys(names)]


class _PartName(_Named):
    """A part of the circuit that was named before it."""

    name = "part"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str
                       ) -> list[CompletionItem]:  # fmt: skip
        """Parts that begin so, in any case of letters."""
        return [CompletionItem(name) for name in _parts(ctx.params.get("circuit"))
                if name.casefold().startswith(incomplete.casefold())]  # fmt: skip


CIRCUIT = _FileOrExample(".bias")
READINGS = _FileOrExample(".readings")
PART = _PartName()
QUIET = click.option("--quiet", is_flag=True, help="The verdict only.")


def _files(incomplete: str, ending: str) -> Iterator[str]:
    """Files with the ending and folders, as far as they can be looked at."""
    head, _, start = incomplete.rpartition("/")
    folder = Path(head or ("/" if incomplete.startswith("/") else "."))
    try:
        found = sorted(folder.iterdir())
    except (OSError, ValueError):
        return
    lead = incomplete[: len(incomplete) - len(start)]
    for path in found:
        if path.name.startswith(start) and (start or not path.name.startswith(".")):
            if path.is_dir():
                yield f"{lead}{path.name}/"
            elif path.name.endswith(ending):
                yield f"{lead}{path.name}"


def _examples(incomplete: str, ending: str) -> Iterator[str]:
    from ..resources import folder  # noqa: PLC0415 - keeps --help quick

    names = (path.name.removesuffix(ending) for path in folder("circuits").glob(f"*{ending}"))
    return (name for name in sorted(names) if name.startswith(incomplete))


def _parts(circuit: object) -> Iterable[str]:
    """The names of the parts, none where the circuit cannot be read."""
    from ..errors import InputError  # noqa: PLC0415
    from .common import load  # noqa: PLC0415

    if not isinstance(circuit, str) or circuit == "-":
        return ()
    try:
        return [part.name for part in load(circuit).parts]
    except InputError:
        return ()
