"""The README shows what the program prints, and its commands are the ones CI runs."""

from __future__ import annotations

import re

import pytest

from netcheck.cli import _COMMANDS

from .blocks import README, brought_up_to_date


@pytest.mark.usefixtures("service")
def test_console_blocks_show_what_the_commands_print() -> None:
    text = README.read_text(encoding="utf-8")
    assert text.count("```console") >= 4
    assert brought_up_to_date(text) == text


def test_there_are_two_set_up_commands_of_one_line() -> None:
    text = README.read_text(encoding="utf-8")
    blocks = re.findall(r"^```sh setup\n(.*?)^```$", text, re.M | re.S)
    assert len(blocks) == 2
    assert all(block.count("\n") == 1 for block in blocks)


def test_every_command_is_in_the_table() -> None:
    text = README.read_text(encoding="utf-8")
    for name in _COMMANDS:
        assert f"| `netcheck {name}" in text
