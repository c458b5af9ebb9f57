"""The README's pictures: what they show, and what the commands really draw.

    python -m tests.readme.pictures

draws them anew after a change of the program.
"""

from __future__ import annotations

import contextlib
import io
import re
from pathlib import Path

from netcheck.cli import run

HERE = Path(__file__).parent
NAME = "two-6v6gt-foot"
CALLS = {
    "schematic.svg": ["draw", NAME, NAME],
    "travel.svg": ["predict", NAME, "--quiet"],
}
"""The commands, without the option that names the file."""


def draw(name: str, folder: Path) -> str:
    """Draw a picture anew.

    Parameters
    ----------
    name : str
        One of `CALLS`.
    folder : Path
        Where to.
    """
    words = CALLS[name]
    option = "-o" if words[0] == "draw" else "--svg"
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        run([*words, option, str(folder / name), "--replace"])
    return (folder / name).read_text(encoding="utf-8")


def texts(svg: str) -> list[str]:
    """What is written in a picture."""
    return re.findall(r"<(?:text|tspan)[^>]*>([^<]+)<", svg)


if __name__ == "__main__":
    for each in CALLS:
        draw(each, HERE)
