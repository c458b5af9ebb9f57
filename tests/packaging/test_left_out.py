"""The list of tests that take long names tests that there are."""

from __future__ import annotations

from pathlib import Path

import pytest

from ..conftest import LONG, WIDE

TESTS = Path(__file__).parent.parent


@pytest.mark.parametrize("entry", LONG)
def test_what_is_left_out_is_a_test(entry: str) -> None:
    """By its name, or what it begins with; the values of its parameters are not looked at."""
    name, _, test = entry.partition("::")
    begin, bracket, _ = test.partition("[")
    text = (TESTS / name).read_text("utf-8")
    assert f"def {begin}{'(' if bracket else ''}" in text


@pytest.mark.parametrize("name", WIDE)
def test_files_with_wide_tests_are_there(name: str) -> None:
    assert (TESTS / name).is_file()
