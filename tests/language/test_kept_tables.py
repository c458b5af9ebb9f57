"""The tables of a grammar are kept between runs, and are never needed."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.parse import lines
from netcheck.parse.lines import LineParser
from netcheck.resources import folder
from netcheck.source import Source

TEXT = (folder("circuits") / "two-6v6gt-foot.bias").read_text("utf-8")


def read(text: str = TEXT) -> tuple[object, ...]:
    """What a new parser makes of a circuit."""
    parsed, findings = LineParser("circuit.lark").parse(Source("it.bias", text))
    return parsed, [finding.what for finding in findings]


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the tables are kept, of a grammar that was read once."""
    place = tmp_path / "circuit.tables"
    monkeypatch.setattr(lines, "_tables", lambda _: str(place))
    read()
    return place


@pytest.mark.parametrize("slip", [TEXT, TEXT.replace("10k", "10 kk"), TEXT + "\nresistor R9 fro"])
def test_from_kept_tables_it_reads_the_same(slip: str, kept: Path,
                                            monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    assert kept.stat().st_size > 10_000
    with_tables = read(slip)
    monkeypatch.setattr(lines, "_tables", lambda _: False)
    assert read(slip) == with_tables


@pytest.mark.parametrize(
    "damage",
    [lambda _: b"", lambda whole: whole[: len(whole) // 2], lambda _: b"\x80\x04nonsense",
     lambda whole: whole.replace(whole[:64], b"0" * 64)],
    ids=["empty", "cut short", "nonsense", "of another grammar"],
)  # fmt: skip
def test_damaged_tables_are_built_anew(damage: Callable[[bytes], bytes], kept: Path) -> None:
    whole, wanted = kept.read_bytes(), read()
    kept.write_bytes(damage(whole))
    assert read() == wanted
    anew = kept.read_bytes()
    assert anew[:64] == whole[:64]  # the digest of grammar, options and versions
    assert len(anew) > 10_000


def test_where_nothing_can_be_written_they_are_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "none" / "circuit.tables"
    monkeypatch.setattr(lines, "_tables", lambda _: str(place))
    parsed, findings = read()
    assert parsed
    assert findings == []
    assert not place.exists()
    assert capsys.readouterr() == ("", "")


def test_they_stand_beside_the_byte_code_or_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    kept = Path(str(lines._tables("circuit.lark")))
    assert kept.parent.name == "__pycache__"
    assert kept.name.startswith("circuit.lark.")
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert lines._tables("circuit.lark") is False
