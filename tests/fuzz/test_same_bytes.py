"""The same answer on every run, whatever order Python's sets and hashes come in."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

import netcheck

pytestmark = pytest.mark.usefixtures("service")

ROOT = Path(netcheck.__file__).parent.parent
SHEET = """\
readings for two-6v6gta-direct.bias
as found
  RV1 at clockwise
    grid1 -20.1 V
    grid2 -20.3 V
  RV1 at anticlockwise
    grid1 -32.0 V
"""
LINES = {
    "supply": [
        "check --json two-6v6gta-direct two-el34-balance",
        "predict two-7591-bridge --json --svg curve.svg",
        "compare two-6v6gta-direct it.readings --json --svg readings.svg",
        "diagnose two-6v6gta-direct it.readings --json",
        "remedy two-6v6gta-direct --json",
    ],
    "rectifier": [
        "check --json four-el34-foot two-6v6gt-foot.readings",
        "predict two-el34-balance --json --svg curve.svg",
        "compare two-6v6gt-foot two-6v6gt-foot.readings --json --svg readings.svg",
        "diagnose two-el34-across two-el34-across.readings --json",
        "remedy two-6v6gt-foot two-6v6gt-foot.readings --json",
        "export two-el84-doubler",
    ],
}
HASHES = ("0", "2")
"""With which the names of two meters, among others, come in another order out of a set."""
COMMANDS = """
    import json, sys
    from pathlib import Path
    from netcheck.cli import run
    for line in json.loads(sys.argv[1]):
        print(line, flush=True)
        print("ends with", run(line.split()), flush=True)
    for svg in sorted(Path().glob("*.svg")):
        print(svg.read_text("utf-8"))
    """
"""In one process, so that the libraries are loaded once: it is only its hashes that matter."""


def started(folder: Path, hashes: str, lines: list[str]) -> subprocess.Popen[bytes]:
    """The commands, with sets in an order of their own."""
    folder.mkdir()
    (folder / "it.readings").write_text(SHEET, "utf-8")
    return subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(COMMANDS), json.dumps(lines)],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONHASHSEED": hashes, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


@pytest.mark.parametrize("kind", LINES)
def test_bytes_do_not_depend_on_the_order_of_sets(kind: str, tmp_path: Path) -> None:
    running = [started(tmp_path / hashes, hashes, LINES[kind]) for hashes in HASHES]
    try:
        first, *others = [process.communicate(timeout=100) for process in running]
    finally:
        for process in running:
            process.kill()
    assert [process.returncode for process in running] == [0, 0], first[1].decode()
    assert first[0].count(b"ends with") == len(LINES[kind])
    assert b"ends with 2" not in first[0]
    assert b"ends with 3" not in first[0]
    assert first[0].count(b"</svg>") == 2
    for other in others:
        assert other == first
