"""Finding a valve type by what people call it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.errors import NetcheckError
from netcheck.valves import (
    Kind,
    ValveType,
    known_types,
    lookup,
    nearest,
    read_types,
    shipped_types,
    table,
)
from netcheck.valves.names import normal_name

from .own_types import OWN, source


@pytest.mark.parametrize("typed", ["EL34", "el34", "EL-34", "el 34", "EL.34", "6CA7", "6ca7"])
def test_spellings_and_equivalents(typed: str) -> None:
    valve = lookup(typed)
    assert valve is not None
    assert valve.name == "EL34"


@pytest.mark.parametrize(
    ("typed", "name"),
    # Well-known equivalents (RCA Receiving Tube Manual, Philips pocket books; memory).
    [("6BQ5", "EL84"), ("EL90", "6AQ5"), ("6BM8", "ECL82"), ("6GW8", "ECL86"), ("7868", "7591")],
)
def test_equivalents(typed: str, name: str) -> None:
    assert lookup(typed) == lookup(name) is not None


def test_relatives_with_other_limits_are_types_of_their_own() -> None:
    """6L6, 6L6GC, 5881 and 7581A differ; so do 6V6GT and 6V6GTA, 6550 and 6550A."""
    for group in (("6L6", "6L6GC", "5881", "7581A"), ("6V6GT", "6V6GTA"), ("6550", "6550A")):
        limits = {valve.limits for name in group if (valve := lookup(name))}
        assert len(limits) == len(group)


def test_two_names_of_one_valve() -> None:
    assert lookup("5881/6L6WGB") == lookup("5881")
    assert lookup("EL34 / 6CA7") == lookup("EL34")


@pytest.mark.parametrize(
    "typed", ["EL34/EL84", "EL34/nonsense", "nonsense", "", "/", "EL", "fitted"]
)
def test_unknown(typed: str) -> None:
    assert lookup(typed) is None


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("EL-35", "EL34"),
        ("6L6GD", "6L6GC"),
        ("KT-88S", "KT88"),
        ("6V6GTB", "6V6GT"),
        ("6CA8", "6CA7"),
    ],
)
def test_nearest(typed: str, name: str) -> None:
    assert name in nearest(typed)


@pytest.mark.parametrize("typed", ["", "zzz", "\0", "x" * 100_000])
def test_nothing_near(typed: str) -> None:
    assert nearest(typed) == []


def test_known_types_are_sorted_and_found() -> None:
    names = known_types()
    assert names == sorted(names)
    assert [valve.name for valve in shipped_types()] == names
    assert all((valve := lookup(name)) and valve.name == name for name in names)


def test_no_name_stands_for_two_types() -> None:
    every = [normal_name(name) for valve in shipped_types() for name in (valve.name, *valve.also)]
    assert len(every) == len(set(every))


def own_types() -> list[ValveType]:
    types, _ = read_types(source(OWN))
    return types


def test_own_types_come_first() -> None:
    own = own_types()
    mine = lookup("my-34", own)
    assert mine is not None
    assert mine.kind is Kind.PENTODE
    assert lookup("MY34") is None
    assert "MY-34" in known_types(own)
    assert "MY-34" in nearest("MY35", own)


def test_own_type_hides_the_built_in_one() -> None:
    types, findings = read_types(source(OWN.replace("MY-34", "el-34")))
    mine = lookup("6CA7", types)
    assert [finding.slug for finding in findings] == ["types-own"]
    assert lookup("EL34", types) == types[0]
    # A name that only the built-in type has still means that one.
    assert mine == lookup("EL34")
    assert [name for name in known_types(types) if "34" in name] == ["el-34"]


def test_damaged_data_are_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "XY1.toml").write_text("[XY1]\n", encoding="utf-8")
    monkeypatch.setattr(table, "_DATA", tmp_path)
    monkeypatch.setattr(table, "_stems", table._stems.__wrapped__)
    with pytest.raises(NetcheckError, match="XY1 is damaged"):
        lookup("XY1")


def test_looking_up_a_type_imports_nothing_heavy() -> None:
    """`check` answers in a fraction of a second; numpy alone would cost it a tenth."""
    program = (
        "import sys; from netcheck.valves import lookup; lookup('EL34'); lookup('6CA7');"
        "print([m for m in ('numpy', 'scipy', 'lark', 'networkx') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"
