"""`netcheck format`, called and as a program."""

from __future__ import annotations

import os
import shlex
import stat
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from netcheck.cli import run
from netcheck.files import SIZE_LIMIT

UNTIDY = """\
CIRCUIT "x # y"


# first
resistor R1   to a from ground 4.7k .5W 10 %#why
link W from a to ground
"""
TIDY = """\
circuit "x # y"

# first
resistor  R1  from ground to a  4k7  10%  0.5 W  # why
link      W   from a to ground
"""
FAULTY = UNTIDY + "foo\n"
PROGRAM = [sys.executable, "-m", "netcheck"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "a.bias"
    file.write_text(UNTIDY, encoding="utf-8")
    return file


def test_it_prints_the_canonical_form(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["format", str(path)]) == 0
    assert capsys.readouterr().out == TIDY
    assert path.read_text(encoding="utf-8") == UNTIDY


def test_write_rewrites_the_file_and_keeps_its_permissions(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path.chmod(0o600)
    assert run(["format", "--write", str(path)]) == 0
    assert path.read_text(encoding="utf-8") == TIDY
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert "rewritten" in capsys.readouterr().out


def test_write_does_not_touch_a_clean_file(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_text(TIDY, encoding="utf-8")
    os.utime(path, ns=(1, 1))
    before = path.stat()
    assert run(["format", "--write", str(path)]) == 0
    assert (path.stat().st_mtime_ns, path.stat().st_ino) == (before.st_mtime_ns, before.st_ino)
    assert "nothing to change" in capsys.readouterr().out


def test_differs_answers_by_its_exit_code(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["format", "--differs", str(path)]) == 1
    path.write_text(TIDY, encoding="utf-8")
    assert run(["format", "--differs", str(path)]) == 0
    path.write_text("\ufeff" + TIDY.replace("\n", "\r\n"), encoding="utf-8", newline="")
    assert run(["format", "--differs", str(path)]) == 0
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize("option", [[], ["--write"], ["--differs"]])
def test_a_file_with_an_error_is_left_as_it_is(
    path: Path, option: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    path.write_text(FAULTY, encoding="utf-8")
    assert run(["format", *option, str(path)]) == 2
    out, err = capsys.readouterr()
    assert path.read_text(encoding="utf-8") == FAULTY
    assert out == ""
    assert f'{path}:7:1: error: "foo" is not understood here' in " ".join(err.split())
    assert err.endswith("1 error\n")


@pytest.mark.parametrize(
    "options", [["--write", "--differs", "x"], ["--write", "-"], [], ["a", "b"]]
)
def test_options_that_do_not_go_together(options: list[str]) -> None:
    assert run(["format", *options]) == 2


def test_an_example_by_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["format", "four-el34-foot"]) == 0
    assert 'circuit "' in capsys.readouterr().out


def program(*arguments: str, raw: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([*PROGRAM, *arguments], input=raw, capture_output=True, check=False,
                          timeout=60)  # fmt: skip


def test_from_standard_input_to_standard_output() -> None:
    done = program("format", "-", raw=b"\xef\xbb\xbf" + UNTIDY.replace("\n", "\r\n").encode())
    assert (done.returncode, done.stdout.decode(), done.stderr) == (0, TIDY, b"")


@pytest.mark.parametrize(
    "raw",
    [
        Random(3).randbytes(10_000_000),
        b"x" * 10_000_000,
        b"\n" * 10_000_000,
        b'"' * 10_000_000,
        Random(3).randbytes(SIZE_LIMIT // 2),
        b"resistor " * (SIZE_LIMIT // 10),
        b'"\n' * (SIZE_LIMIT // 4),
        "mains \u2028 \x1b[2J\n".encode(),
        "caf\u00e9".encode("latin-1"),
        "mains".encode("utf-16"),
        b"",
    ],
    ids=["10 MB noise", "10 MB line", "10 MB empty lines", "10 MB quotes", "noise", "one line",
         "open quotes", "odd signs", "latin-1", "utf-16", "nothing"],
)  # fmt: skip
@pytest.mark.parametrize(
    "command", [["format"], ["check", "--no-simulation"]], ids=["format", "check"]
)
def test_anything_at_all_ends_as_findings(raw: bytes, command: list[str], tmp_path: Path) -> None:
    file = tmp_path / "any.bias"
    file.write_bytes(raw)
    done = program(*command, str(file))
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert b"error:" in done.stderr
    assert len(done.stderr) < 50_000
    assert b"\x1b" not in done.stderr


@pytest.mark.parametrize("name", ["", "no-such.bias", ".", "a\nb", "\udcff", "x" * 5000])
def test_names_of_no_file(name: str) -> None:
    done = program("format", name)
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert b"error:" in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="needs a shell with pipes")
@pytest.mark.parametrize("reader", ["head -c 0", "head -c 1 >/dev/null", "true"])
def test_a_reader_who_goes_away(reader: str, path: Path) -> None:
    path.write_text(UNTIDY + f"# {'x' * 400}\n" * 500, encoding="utf-8")
    command = shlex.join([*PROGRAM, "format", str(path)])
    done = subprocess.run(["bash", "-c", f'{command} | {reader}; echo "${{PIPESTATUS[0]}}"'],
                          capture_output=True, text=True, check=False, timeout=60)  # fmt: skip
    assert (done.stdout, done.stderr) == ("0\n", "")
