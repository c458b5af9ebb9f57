"""Texts broken into lines."""

from __future__ import annotations

import re

import pytest

from netcheck.report.tables import paragraph


@pytest.mark.parametrize("unit", ["V", "mV", "Vpp", "mA", "W", "ohm", "uF", "Hz", "%", "s"])
def test_a_number_and_its_unit_stay_on_one_line(unit: str) -> None:
    """Wherever the line ends."""
    for before in range(50, 77):
        text = f"{'x' * before} it is -35.5 {unit} at the grid and 12 of them"
        lines = paragraph(text, "  ")
        assert any(f"-35.5 {unit}" in line for line in lines)
        assert max(map(len, lines)) <= 80
        assert re.sub(r"\s+", " ", " ".join(lines)).strip() == text


def test_other_words_may_part() -> None:
    assert paragraph("x" * 74 + " 12 Values of it")[0].endswith(" 12")
