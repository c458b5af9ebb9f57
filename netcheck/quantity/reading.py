"""From a text to the exact number it says."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal

from .dimension import LARGEST, SMALLEST, Dimension, ValueProblem
from .spelling import (
    CODE_LETTERS,
    EXPONENT,
    TOLERANCE,
    Unit,
    letter,
    to_ascii,
    unit,
    usual_dimension,
)
from .writing import write_exact

LONGEST = 64
"""A longer text is no value; every float in range can be written in less. [count]"""

PERCENT_FROM = Decimal("10e-12")
"""Below this IEC 60062 takes tolerance letters as picofarads (from memory). [F]"""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value as typed.

    Parameters
    ----------
    exact : Decimal
        Exactly what the text says, in the SI unit; a percentage as a fraction, a
        temperature in degrees Celsius.
    dimension : Dimension or None
        None where the text names no unit, as in `470`, `4k7` or `100n`.
    prefix : str
        The prefix or code letter: one of p n u m k M G T R F, or "".
    last_digit : Decimal
        What one step of the last digit typed is worth, in the unit of `exact`:
        0.1 for `-52.0 V`, 100 for `31.2k`.
    tolerance : float or None
        From a tolerance letter, as in `4k7J`. [1]
    text : str
        As typed, for messages.
    """

    exact: Decimal
    dimension: Dimension | None
    prefix: str
    last_digit: Decimal
    tolerance: float | None
    text: str

    @property
    def nominal(self) -> float:
        """The float nearest to `exact`, in the SI unit; never a negative zero."""
        return float(self.exact)

    def as_(self, wanted: Dimension) -> Quantity:
        """The same value as one of dimension `wanted`.

        A value without a unit can only be a resistance or, with a letter for it, a
        capacitance. Plain volts serve for alternating ones where those are wanted.

        Raises
        ------
        ValueProblem
            If the text says something else, or does not say enough.
        """
        if self.dimension is wanted:
            return self
        expected = f"here {wanted.noun} is wanted, such as {wanted.example}"
        if self.dimension is None:
            self._check_without_unit(wanted, expected)
        elif not (wanted is Dimension.VOLT_AC and self._is_plain_volts):
            raise ValueProblem(f"{self.text} is {self.dimension.noun}", expected)
        return replace(self, dimension=wanted)

    @property
    def _is_plain_volts(self) -> bool:
        return self.dimension is Dimension.VOLT and not self.text.lower().endswith("dc")

    def _check_without_unit(self, wanted: Dimension, expected: str) -> None:
        usual = usual_dimension(self.prefix)
        if wanted is usual:
            return
        what = f"is written as {usual.noun}" if self.prefix else "has no unit"
        fix = ""
        marking = re.fullmatch(r"([0-9]{2})([0-6])[JKM]?", self.text)
        if self.prefix == "m" and wanted is Dimension.OHM:
            fix = f"if megohms are meant, write {self.text.replace('m', 'M')}"
        elif marking and wanted is Dimension.FARAD:
            c = write_exact(float(f"{marking[1]}e{int(marking[2]) - 12}"), wanted)
            fix = f"if that is the marking on a capacitor, write {c}"
        raise ValueProblem(f"{self.text} {what}", expected, fix)


@dataclass(frozen=True, slots=True)
class Parts:
    """A text taken apart, not yet judged.

    Parameters
    ----------
    sign, whole, fraction : str
        Of the number.
    point : str
        What stands between `whole` and `fraction`: ".", a letter or nothing.
    tail : str
        What is written on to the number.
    apart : str
        What follows behind a space.
    """

    sign: str
    whole: str
    point: str
    fraction: str
    tail: str
    apart: str

    @property
    def number(self) -> str:
        """The number as typed, with the letter for its point if it had one."""
        return f"{self.sign}{self.whole}{self.point}{self.fraction}"

    @property
    def code(self) -> str:
        """The letter that stands for the decimal point, or ""."""
        return self.point.strip(".")


_PARTS = re.compile(rf"([+-]?)([0-9]*)(?:([.{CODE_LETTERS}])([0-9]+))?([^ ]*)(?: (.+))?")


def take_apart(text: str) -> Parts | None:
    """Take a text of one or two words apart; None if it does not begin with a number."""
    match = _PARTS.fullmatch(text)
    if match is None:
        return None
    sign, whole, point, fraction, tail, apart = match.groups(default="")
    if not whole + fraction:
        return None
    return Parts(sign, whole, letter(point), fraction, tail, apart)


def one_line(text: str) -> str:
    """The words of `text` with single spaces between them."""
    return " ".join(text.split())


def read_or_none(text: str) -> Quantity | None:
    """Read a value of one or two words exactly; None where there is anything to refuse."""
    if len(text) > LONGEST:
        return None
    shown = one_line(text)
    parts = take_apart(to_ascii(shown))
    found = meaning(parts) if parts else None
    if parts is None or found is None:
        return None
    (prefix, dimension), tolerance = found
    exact, last_digit = number(parts, (prefix, dimension))
    size = exact.copy_abs()
    if size and not SMALLEST <= size <= LARGEST:
        return None
    if tolerance and usual_dimension(prefix) is Dimension.FARAD and size < PERCENT_FROM:
        return None
    return Quantity(
        exact=exact if size else size,
        dimension=dimension,
        prefix=prefix,
        last_digit=last_digit,
        tolerance=tolerance,
        text=shown,
    )


def number(parts: Parts, of_unit: Unit) -> tuple[Decimal, Decimal]:
    """The value and the worth of its last digit, both exact and in the SI unit."""
    prefix, dimension = of_unit
    exponent = EXPONENT.get(prefix, 0) - len(parts.fraction)
    if dimension is Dimension.PERCENT:
        exponent -= 2
    # Decimal is exact from a string, whatever the precision of the context.
    exact = Decimal(f"{parts.sign}{parts.whole}{parts.fraction}E{exponent}")
    return exact, Decimal(f"1E{exponent}")


def meaning(parts: Parts) -> tuple[Unit, float | None] | None:
    """Unit and tolerance, None where the words make no sense."""
    return _meaning_of_code(parts) if parts.code else _meaning_of_plain(parts)


def _meaning_of_plain(parts: Parts) -> tuple[Unit, float | None] | None:
    """Of a number with its unit: `470`, `4.7k`, `47 uF`, `48V ac`, `27KK`."""
    tail, apart = parts.tail, parts.apart
    if unit(tail) is None and apart:
        return None
    if found := unit(tail + apart):
        return found, None
    head = unit(tail[:-1])
    if apart or head is None or head[1] is not None or not head[0]:
        return None
    if tail == "MF" or tail[-1] not in TOLERANCE:
        # On old schematics MF means microfarads.
        return None
    return head, TOLERANCE[tail[-1]]


def _meaning_of_code(parts: Parts) -> tuple[Unit, float | None] | None:
    """Of a number with a letter for its point: `4k7`, `4K7J`, `4k7 ohm`, `4n7`."""
    usual = usual_dimension(parts.code)
    if usual is Dimension.FARAD and parts.tail == "F":
        return None
    tolerance = TOLERANCE.get(parts.tail)
    if not tolerance and parts.tail and parts.apart:
        return None
    ending = parts.apart if tolerance else parts.tail + parts.apart
    if ending and unit(ending) != ("", usual):
        return None
    return (parts.code, usual if ending else None), tolerance
