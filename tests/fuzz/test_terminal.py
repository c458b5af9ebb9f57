"""What a terminal is shown: nothing that moves its cursor, renames its window or turns a line."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from .hostile import TEXTS, renamed
from .judged import Terminal, called, in_folder

HOSTILE = "\x1b[2J\x1b]0;title\x07\x9b31m\u202e\u2066\u200b"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("NO_COLOR", "1")
    with in_folder(str(tmp_path)):
        yield


def note(text: str) -> None:
    Path("it.bias").write_text(
        f'# {text}\nresistor R1 from a to ground 1k note "x {text} y"\nlink W1 from a to ground\n',
        "utf-8",
    )


def test_a_terminal_is_not_commanded_by_a_note() -> None:
    note(HOSTILE)
    call = called(["format", "it.bias"], on=Terminal)
    assert (call.code, call.wrong) == (0, [])
    assert "\ufffd[2J" in call.out
    assert "x \ufffd" in call.out
    assert not set(HOSTILE) & set(call.out) - set("[2J]0;title31m")


def test_a_file_gets_what_was_typed() -> None:
    note(HOSTILE)
    call = called(["format", "it.bias"])
    assert f'"x {HOSTILE} y"' in call.out
    assert f"# {HOSTILE}" in call.out


def test_signs_of_all_alphabets_are_shown_and_odd_blanks_are_blanks() -> None:
    note("\u00e9 \u4e2d \u03a9\u00a0\u2003x\ty")
    call = called(["format", "it.bias"], on=Terminal)
    assert '"x \u00e9 \u4e2d \u03a9  x\ty y"' in call.out


def test_colours_are_our_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "xterm")
    note("\x1b[31m")
    call = called(["format", "it.bias"], on=Terminal)
    assert call.wrong == []
    assert "\ufffd[31m" in call.out
    assert "\x1b[" in call.out


@pytest.mark.parametrize("option", ["--json", "--quiet"])
def test_a_check_of_hostile_names(option: str) -> None:
    text, _, _ = renamed()
    assert TEXTS[1] in text
    Path("it.bias").write_text(text, "utf-8")
    call = called(["check", "--no-simulation", option, "it.bias"], on=Terminal)
    assert (call.code, call.wrong) == (0, [])
