"""Files as they come: encodings, line ends, and what is no text or no file at all."""

from __future__ import annotations

import io
import os
import stat
import sys
from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.files import SIZE_LIMIT, decode, read_source, write_whole
from netcheck.finding import Finding
from netcheck.parse import parse_circuit
from netcheck.source import NOWHERE, Source, Span

TEXT = "mains 230 V 50 Hz\nresistor R1 from ground to a 47 \u03a9\nlink W1 from a to ground\n"


def refused(raw: bytes) -> Finding:
    with pytest.raises(InputError) as caught:
        decode("case.bias", raw)
    (finding,) = caught.value.findings
    return finding


def refusal_of(name: str) -> Finding:
    with pytest.raises(InputError) as caught:
        read_source(name)
    (finding,) = caught.value.findings
    return finding


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["LF", "CRLF", "CR"])
@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["plain", "BOM"])
def test_line_ends_and_a_byte_order_mark_make_no_difference(end: str, mark: str) -> None:
    raw = (mark + TEXT.replace("\n", end)).encode("utf-8")
    assert decode("case.bias", raw) == TEXT
    circuit, findings = parse_circuit(Source("case.bias", decode("case.bias", raw)))
    assert circuit is not None
    assert not findings


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"], ids=["LF", "CRLF", "CR"])
def test_latin_1_is_told_with_the_place_and_the_sign(end: bytes) -> None:
    finding = refused(b"mains 230 V" + end + b"x\tC1 47 \xb5F" + end)
    assert finding.slug == "not-utf-8"
    assert finding.span == Span(2, 9, 10)
    assert finding.source.line(2) == "x\tC1 47 \ufffdF"
    assert '"\u00b5"' in finding.what
    assert "UTF-8" in finding.fix


def test_a_cut_character_at_the_end() -> None:
    assert refused("47 \u03a9".encode()[:-1]).span == Span(1, 4, 5)


@pytest.mark.parametrize("coding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_utf_16_is_told_as_that(coding: str) -> None:
    finding = refused(TEXT.encode(coding))
    assert finding.slug == "not-utf-8"
    assert "UTF-16" in finding.what


def test_a_zero_byte() -> None:
    finding = refused(b"mains\r\n230\0V")
    assert (finding.slug, finding.span) == ("not-text", Span(2, 4, 5))


def test_a_missing_file_and_the_one_beside_it(tmp_path: Path) -> None:
    (tmp_path / "two-valves.bias").write_text(TEXT, encoding="utf-8")
    finding = refusal_of(str(tmp_path / "two-valve.bias"))
    assert (finding.slug, finding.span) == ("no-such-file", NOWHERE)
    assert f'did you mean "{tmp_path / "two-valves.bias"}"?' in finding.fix
    assert "did you mean" not in refusal_of(str(tmp_path / "zzz")).fix
    assert "did you mean" not in refusal_of(str(tmp_path / "nowhere" / "two-valve.bias")).fix


def test_a_missing_file_and_an_example_of_nearly_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert 'the example "four-el34-foot"' in refusal_of("four-el34-fot").fix


def test_a_folder(tmp_path: Path) -> None:
    finding = refusal_of(str(tmp_path))
    assert finding.slug == "not-a-file"
    assert finding.fix == "name a file in it"
    (tmp_path / "a.bias").write_text(TEXT, encoding="utf-8")
    assert str(tmp_path / "a.bias") in refusal_of(str(tmp_path)).fix


@pytest.mark.parametrize("name", ["", "a\0b", "x" * 5000, "a\nb", "\udcff"])
def test_names_that_no_file_has(name: str) -> None:
    assert refusal_of(name).slug in ("no-such-file", "not-a-file", "unreadable-file")


def test_an_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    finding = refusal_of(str(tmp_path / "a.bias"))
    assert finding.slug == "unreadable-file"
    assert "Permission denied" in finding.what


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    path = tmp_path / "a.bias"
    path.write_bytes(b"#" * SIZE_LIMIT)
    assert len(read_source(str(path)).text) == SIZE_LIMIT
    path.write_bytes(b"#" * (SIZE_LIMIT + 1))
    assert refusal_of(str(path)).slug == "too-large"


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_a_device_without_end() -> None:
    assert refusal_of("/dev/zero").slug == "too-large"


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"a\r\nb"), encoding="ascii"))
    assert read_source("-") == Source("(standard input)", "a\nb")
    monkeypatch.setattr(sys, "stdin", None)
    assert refusal_of("-").slug == "unreadable-file"


def test_a_new_file_is_written_and_an_old_one_left(tmp_path: Path) -> None:
    path = tmp_path / "a.bias"
    write_whole(path, "\u03a9\n")
    assert path.read_bytes() == "\u03a9\n".encode()
    with pytest.raises(InputError, match="exists already"):
        write_whole(path, "other")
    assert path.read_text(encoding="utf-8") == "\u03a9\n"
    assert os.listdir(tmp_path) == ["a.bias"]  # noqa: PTH208 - nothing is left behind


def test_replacing_keeps_the_permissions(tmp_path: Path) -> None:
    path = tmp_path / "a.bias"
    path.write_text("old", encoding="utf-8")
    path.chmod(0o640)
    write_whole(path, "new", replace=True)
    assert path.read_text(encoding="utf-8") == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_new_file_has_the_usual_permissions(tmp_path: Path) -> None:
    (tmp_path / "usual").touch()
    write_whole(tmp_path / "a.bias", "")
    assert (tmp_path / "a.bias").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    path, link = tmp_path / "folder" / "a.bias", tmp_path / "link.bias"
    path.write_text("old", encoding="utf-8")
    link.symlink_to(path)
    write_whole(link, "new", replace=True)
    assert link.is_symlink()
    assert path.read_text(encoding="utf-8") == "new"


def test_what_cannot_be_written_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    path = tmp_path / "a.bias"
    path.write_text("old", encoding="utf-8")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="No space left"):
        write_whole(path, "new", replace=True)
    assert path.read_text(encoding="utf-8") == "old"
    assert os.listdir(tmp_path) == ["a.bias"]  # noqa: PTH208


def test_a_file_that_appears_meanwhile_is_not_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.bias"
    monkeypatch.setattr(os, "fsync", lambda _: path.write_text("first", encoding="utf-8"))
    with pytest.raises(InputError, match="exists already"):
        write_whole(path, "second")
    assert path.read_text(encoding="utf-8") == "first"


@pytest.mark.parametrize("replace", [False, True])
def test_a_folder_and_a_missing_folder_cannot_be_written(tmp_path: Path, replace: bool) -> None:
    with pytest.raises(InputError, match="folder"):
        write_whole(tmp_path, "", replace=replace)
    with pytest.raises(InputError, match="cannot be written"):
        write_whole(tmp_path / "none" / "a.bias", "", replace=replace)


def test_a_write_protected_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.bias"
    path.write_text("old", encoding="utf-8")
    monkeypatch.setattr(os, "access", lambda *_: False)  # for root nothing is protected
    with pytest.raises(InputError, match="write-protected"):
        write_whole(path, "new", replace=True)
    assert path.read_text(encoding="utf-8") == "old"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_whole(pipe, "text")
        assert os.read(reader, 100) == b"text"
        assert stat.S_ISFIFO(pipe.stat().st_mode)
    finally:
        os.close(reader)
