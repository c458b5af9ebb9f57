"""The README's console blocks: what they show, and what the commands really print.

    python -m tests.readme.blocks

rewrites the outputs in the README after a change of the program.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import tempfile
from collections.abc import Iterator
from pathlib import Path

from netcheck.cli import run

README = Path(__file__).parents[2] / "README.md"
_BLOCK = re.compile(r"^```(?P<kind>console|text (?P<file>\S+))\n(?P<body>.*?)^```$", re.M | re.S)


def output_of(command: str) -> str:
    """What a command line prints, both streams as on a terminal."""
    words = shlex.split(command)
    assert words.pop(0) == "netcheck"
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        run(words)
    return out.getvalue()


@contextlib.contextmanager
def working_in(folder: str) -> Iterator[None]:
    """A folder as the working directory for a while."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def brought_up_to_date(text: str) -> str:
    """The README with every console block holding what its command prints."""

    def fresh(block: re.Match[str]) -> str:
        if block["file"]:
            Path(block["file"]).write_text(block["body"], encoding="utf-8")
            return block[0]
        command = block["body"].splitlines()[0]
        return f"```console\n{command}\n{output_of(command.removeprefix('$ '))}```"

    with tempfile.TemporaryDirectory() as folder, working_in(folder):
        return _BLOCK.sub(fresh, text)


if __name__ == "__main__":
    README.write_text(brought_up_to_date(README.read_text(encoding="utf-8")), encoding="utf-8")
