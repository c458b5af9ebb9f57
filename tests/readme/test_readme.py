"""The README shows what the program prints, and its commands are the ones CI runs."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from netcheck.cli import _COMMANDS

from . import pictures
from .blocks import README, brought_up_to_date

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def plotted(line: str) -> bool:
    """Whether a line belongs to a curve drawn with characters."""
    return bool(re.match(r"^ +(-?[\d.]+ )?[|+]", line))


def numbers_agree(shown: str, printed: str) -> bool:
    """Equal but for one step in the last digit: rounding may fall either way."""
    places = min(len(number.partition(".")[2]) for number in (shown, printed))
    return abs(Decimal(shown) - Decimal(printed)) <= Decimal(10) ** -places


def lines_agree(shown: str, printed: str) -> bool:
    """Equal in their words, and in their numbers but for the last digit."""
    if plotted(shown) and plotted(printed):
        return True
    words = [" ".join(_NUMBER.sub("0", line).split()) for line in (shown, printed)]
    pairs = zip(_NUMBER.findall(shown), _NUMBER.findall(printed), strict=False)
    return words[0] == words[1] and all(numbers_agree(a, b) for a, b in pairs)


@pytest.mark.usefixtures("service")
def test_console_blocks_show_what_the_commands_print() -> None:
    text = README.read_text(encoding="utf-8")
    assert text.count("```console") >= 4
    printed = brought_up_to_date(text).splitlines()
    shown = text.splitlines()
    differing = [(a, b) for a, b in zip(shown, printed, strict=False) if not lines_agree(a, b)]
    assert differing == []
    assert len(shown) == len(printed)


@pytest.mark.parametrize(
    ("shown", "printed", "agree"),
    [
        ("-32.2 V", "-32.3 V", True),
        ("-32.2 V", "-32.4 V", False),
        ("grid1  9.99 mA", "grid1  10.0 mA", True),
        ("one error", "two errors", False),
        ("4 errors", "6 errors", False),
    ],
)
def test_what_counts_as_the_same(shown: str, printed: str, agree: bool) -> None:
    assert lines_agree(shown, printed) is agree


def test_there_are_two_set_up_commands_of_one_line() -> None:
    text = README.read_text(encoding="utf-8")
    blocks = re.findall(r"^```sh setup\n(.*?)^```$", text, re.M | re.S)
    assert len(blocks) == 2
    assert all(block.count("\n") == 1 for block in blocks)


def test_every_command_is_in_the_table() -> None:
    text = README.read_text(encoding="utf-8")
    for name in _COMMANDS:
        assert f"| `netcheck {name}" in text


@pytest.mark.usefixtures("service")
@pytest.mark.parametrize("name", pictures.CALLS)
def test_pictures_are_what_the_commands_draw(name: str, tmp_path: Path) -> None:
    """The same words and numbers, but for the last digit, and as many lines and symbols."""
    assert f"tests/readme/{name}" in README.read_text(encoding="utf-8")
    kept = (pictures.HERE / name).read_text(encoding="utf-8")
    drawn = pictures.draw(name, tmp_path)
    written, wanted = pictures.texts(drawn), pictures.texts(kept)
    assert len(written) == len(wanted) > 10
    assert [pair for pair in zip(wanted, written, strict=True) if not lines_agree(*pair)] == []
    assert drawn.count("<path") == kept.count("<path")
