"""What a value measures, and the refusal of a text that is no such value."""

from __future__ import annotations

from decimal import Decimal
from enum import Enum

from ..errors import NetcheckError

SMALLEST, LARGEST = Decimal("1e-15"), Decimal("1e15")
"""Magnitudes that are read and written, in SI units, beside zero."""


class Dimension(Enum):
    """What a value measures: its unit, its name and an example for messages."""

    OHM = ("ohm", "a resistance", "4k7")
    FARAD = ("F", "a capacitance", "47 uF")
    VOLT = ("V", "a voltage", "48 V")
    VOLT_AC = ("Vac", "an alternating voltage", "48 Vac")
    VOLT_PP = ("Vpp", "a peak-to-peak voltage", "0.4 Vpp")
    AMPERE = ("A", "a current", "20 mA")
    WATT = ("W", "a power", "0.5 W")
    PERCENT = ("%", "a percentage", "10%")
    HERTZ = ("Hz", "a frequency", "50 Hz")
    SECOND = ("s", "a time", "10 s")
    CELSIUS = ("C", "a temperature", "25 C")

    def __init__(self, symbol: str, noun: str, example: str) -> None:
        self.symbol = symbol
        self.noun = noun
        self.example = example


class ValueProblem(NetcheckError, ValueError):
    """A text that is no value, or not the value that is wanted here.

    Parameters
    ----------
    what : str
        What was found, one sentence without a full stop at the end.
    expected : str
        What was expected; may be empty.
    fix : str
        How to write it; may be empty.
    """

    def __init__(self, what: str, expected: str = "", fix: str = "") -> None:
        super().__init__(what, expected, fix)

    @property
    def what(self) -> str:
        """What was found."""
        return str(self.args[0])

    @property
    def expected(self) -> str:
        """What was expected."""
        return str(self.args[1])

    @property
    def fix(self) -> str:
        """How to write it."""
        return str(self.args[2])

    def __str__(self) -> str:
        return "; ".join(filter(None, self.args))
