"""A disk that is full or write-protected: nothing half-written, the old file intact, a sentence.

On Linux and as root a small file system is mounted for it; elsewhere only what can be played by
calls that fail is tested.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest

import netcheck
from netcheck.commands.common import load
from netcheck.errors import InputError
from netcheck.files import LEFT_BEHIND, write_whole
from netcheck.graph import Section
from netcheck.resources import folder
from netcheck.session.edits import USUAL_METER, new_sheet
from netcheck.session.notebook import Notebook, Outcome
from netcheck.session.sheetfile import SheetFile

from .judged import called

ROOT = Path(netcheck.__file__).parent.parent
FOOT = "two-6v6gt-foot"
OLD = "what was there before\n"
WRITING = {
    "predict": ["predict", FOOT, "--quiet", "--replace", "--svg"],
    "export": ["export", FOOT, "--replace", "-o"],
}
"""Commands that write a file, which is named behind them."""


@pytest.fixture(scope="module")
def disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A file system of its own, 64 kB large; skips where none can be mounted."""
    place = tmp_path_factory.mktemp("disk")
    mount = shutil.which("mount")
    if mount is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("only root may mount a file system")
    done = subprocess.run([mount, "-t", "tmpfs", "-o", "size=64k,mode=700", "netcheck-test", place],
                          capture_output=True, check=False)  # fmt: skip
    if done.returncode:
        pytest.skip("no file system can be mounted here")
    try:
        yield place
    finally:
        subprocess.run(["umount", place], check=True)


@pytest.fixture
def full(disk: Path) -> Iterator[Path]:
    """The file system without a byte left, but for the files that are there."""
    for path in disk.iterdir():
        path.unlink()
    old = disk / "old"
    old.write_text(OLD, "utf-8")
    fill(disk)
    yield disk
    (disk / "filler").unlink()


def fill(disk: Path) -> None:
    """Take all the space that is left."""
    filler = os.open(disk / "filler", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    try:
        while True:
            os.write(filler, b"x" * 4096)
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
    finally:
        os.close(filler)


@pytest.fixture
def protected(disk: Path) -> Iterator[Path]:
    """The file system, to be read only."""
    for path in disk.iterdir():
        path.unlink()
    (disk / "old").write_text(OLD, "utf-8")
    subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
    yield disk
    subprocess.run(["mount", "-o", "remount,rw", disk], check=True)


def refused(command: str, path: Path, reason: str) -> None:
    """The command ends with 2 and a sentence, and the folder is as it was."""
    before = {each.name: each.read_bytes() for each in path.parent.iterdir() if each.is_file()}
    call = called([*WRITING[command], str(path)], limit=100)
    assert (call.code, call.wrong) == (2, [])
    said = " ".join(call.err.split())
    assert f"the file cannot be written: {reason}" in said
    assert "the folder, its permissions and the space left" in said
    after = {each.name: each.read_bytes() for each in path.parent.iterdir() if each.is_file()}
    assert after == before


@pytest.mark.usefixtures("service")
@pytest.mark.parametrize("command", WRITING)
def test_a_full_disk(command: str, full: Path) -> None:
    refused(command, full / "old", "No space left on device")


@pytest.mark.usefixtures("service")
@pytest.mark.parametrize("name", ["old", "new"])
def test_a_write_protected_disk(name: str, protected: Path) -> None:
    refused("export", protected / name,
            "it is write-protected" if name == "old" else "Read-only file system")  # fmt: skip


def test_a_file_is_not_reformatted_on_a_full_disk(full: Path) -> None:
    untidy = (folder("circuits") / f"{FOOT}.bias").read_bytes().replace(b"   ", b" ")
    os.truncate(full / "filler", 4096)
    path = full / "amp.bias"
    path.write_bytes(untidy)
    fill(full)
    call = called(["format", "--write", str(path)])
    assert (call.code, call.wrong) == (2, [])
    assert "No space left" in call.err
    assert path.read_bytes() == untidy
    assert sorted(each.name for each in full.iterdir()) == ["amp.bias", "filler", "old"]


def test_a_reading_is_not_noted_on_a_full_disk_and_is_when_there_is_room(full: Path) -> None:
    section = Section(load(FOOT))
    path = full / "amp.readings"
    with pytest.raises(InputError, match="No space left"):
        SheetFile.created(path, section, new_sheet(f"{FOOT}.bias", USUAL_METER))
    assert not path.exists()
    os.truncate(full / "filler", 4096)
    notebook = Notebook(SheetFile.created(path, section, new_sheet(f"{FOOT}.bias", USUAL_METER)))
    before = path.read_bytes()
    fill(full)
    reply = notebook.take("mains 236 V")
    assert reply.outcome is Outcome.REFUSED
    assert "No space left" in reply.text
    assert path.read_bytes() == before
    os.truncate(full / "filler", 0)
    assert notebook.take("mains 236 V").outcome is Outcome.NOTED
    assert b"mains" in path.read_bytes()


@pytest.mark.usefixtures("service")
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a full disk is played by /dev/full")
def test_a_device_that_is_full() -> None:
    call = called(["export", FOOT, "--replace", "-o", "/dev/full"], limit=100)
    assert (call.code, call.wrong) == (2, [])
    assert "No space left" in call.err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a full disk is played by /dev/full")
@pytest.mark.parametrize(
    "command", ["format", "check --no-simulation", "check --no-simulation --json"]
)
def test_output_that_leads_to_a_full_disk(command: str) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", *command.split(), FOOT], stdout=full,
            stderr=subprocess.PIPE, text=True, check=False, timeout=60,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == "the output cannot be written: No space left on device\n"


@pytest.mark.usefixtures("service")
def test_a_simulator_without_a_folder_for_temporary_files() -> None:
    """It starts in a folder of its own; where none can be made it starts all the same."""
    code = textwrap.dedent("""
        import tempfile
        def none(*_, **__):
            raise FileNotFoundError(2, "No usable temporary directory found")
        tempfile.mkdtemp = none
        from netcheck.engine.ngspice import Library
        print(Library().version)
        """)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False,
                          timeout=60, env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
    assert done.stdout.startswith("ngspice"), done.stderr


# ------------------------------------------------------------------- calls that fail

CALLS = ["os.fsync", "tempfile.mkstemp", "pathlib.Path.chmod", "pathlib.Path.replace", "os.fdopen"]
REASONS = [errno.ENOSPC, errno.EROFS, errno.EIO, errno.EDQUOT, errno.EACCES]


@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("number", REASONS, ids=errno.errorcode.get)
def test_whatever_call_fails(
    call: str, number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    path = tmp_path / "a.bias"
    path.write_text(OLD, "utf-8")
    with monkeypatch.context() as patched:
        patched.setattr(call, failing)
        with pytest.raises(InputError) as caught:
            write_whole(path, "new\n", replace=True)
    (finding,) = caught.value.findings
    assert os.strerror(number) in finding.what
    assert path.read_text("utf-8") == OLD
    assert [each.name for each in tmp_path.iterdir()] == ["a.bias"]
    write_whole(path, "new\n", replace=True)
    assert path.read_text("utf-8") == "new\n"


# ------------------------------------------------------- what a killed program leaves behind

KILLED = """
    import os, signal, sys
    from pathlib import Path
    from netcheck.files import write_whole
    os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)
    write_whole(Path(sys.argv[1]), "x" * 10_000, replace=True)
    """


def kill_while_writing(path: Path) -> Path:
    """Kill a program while it writes a file; what it leaves beside it."""
    before = set(path.parent.iterdir())
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(KILLED), str(path)], check=False,
                          timeout=60, env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
    assert done.returncode == -signal.SIGKILL
    (left,) = set(path.parent.iterdir()) - before
    return left


def aged(path: Path, seconds: float) -> None:
    """Make a file so much older than it is. [s]"""
    at = path.stat().st_mtime - seconds
    os.utime(path, (at, at))


@pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals")
def test_an_unfinished_file_is_cleared_away_at_the_next_write(tmp_path: Path) -> None:
    path = tmp_path / "amp.readings"
    path.write_text(OLD, "utf-8")
    left = kill_while_writing(path)
    assert left.name.startswith(".netcheck-")
    assert path.read_text("utf-8") == OLD
    write_whole(path, "new\n", replace=True)
    assert left.exists(), "another program may be writing it just now"
    aged(left, LEFT_BEHIND + 1.0)
    write_whole(path, "newer\n", replace=True)
    assert [each.name for each in tmp_path.iterdir()] == ["amp.readings"]
    assert path.read_text("utf-8") == "newer\n"


@pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals")
def test_nothing_else_is_cleared_away(tmp_path: Path) -> None:
    path, other = tmp_path / "amp.readings", tmp_path / "other.readings"
    path.write_text(OLD, "utf-8")
    other.write_text(OLD, "utf-8")
    of_other = kill_while_writing(other)
    mine = kill_while_writing(path)
    named = [of_other, tmp_path / ".netcheck-complete", tmp_path / f"{mine.name}"[:-1]]
    for each in named[1:]:
        each.write_text("", "utf-8")
    inside = tmp_path / f"{mine.name}-folder"
    inside.mkdir()
    link = tmp_path / f"{mine.name}-link"
    link.symlink_to(other)
    for each in (*named, inside):
        aged(each, 10 * LEFT_BEHIND)
    kept = {of_other, named[1], inside, link, path, other}
    aged(mine, 10 * LEFT_BEHIND)
    write_whole(path, "new\n", replace=True)
    assert kept <= set(tmp_path.iterdir())
    assert mine not in tmp_path.iterdir()


def test_a_name_as_long_as_a_name_can_be(tmp_path: Path) -> None:
    path = tmp_path / ("\u00e9" * 125 + ".bias")
    write_whole(path, "one\n")
    write_whole(path, "two\n", replace=True)
    assert path.read_text("utf-8") == "two\n"
