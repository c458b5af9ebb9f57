"""Values as they stand on a part, a schematic or a meter: read exactly, and written.

A text is read to the exact decimal number it says, or refused with the way to write it.
Nothing is guessed: where the trade uses one spelling for two values (`1m`, `47 mF`,
`4,700`), the text is refused and both are offered.

References
----------
IEC 60062, marking codes: the letter as decimal point (R, k, M, G, T; p, n, u, m, F) and
the tolerance letters F, G, J, K, M. From memory.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Context, Decimal
from enum import Enum
from typing import NoReturn

from .errors import NetcheckError

LONGEST = 64
"""A longer text is no value; every float in range can be written in less. [count]"""

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

    @property
    def wanted(self) -> str:
        """What to say where a value of this dimension should stand."""
        return f"here {self.noun} is wanted, such as {self.example}"


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
        return "; ".join(filter(None, (self.what, self.expected, self.fix)))


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
        """The float nearest to `exact`; never a negative zero. [SI unit]"""
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
        if self.dimension is None:
            self._check_unitless(wanted)
        elif not (wanted is Dimension.VOLT_AC and self._is_plain_volts):
            raise ValueProblem(f"{self.text} is {self.dimension.noun}", wanted.wanted)
        return replace(self, dimension=wanted)

    @property
    def _is_plain_volts(self) -> bool:
        return self.dimension is Dimension.VOLT and not self.text.lower().endswith("dc")

    def _check_unitless(self, wanted: Dimension) -> None:
        usual = _usual_dimension(self.prefix)
        if wanted is usual:
            return
        if self.prefix == "m" and wanted is Dimension.OHM:
            raise _milli_or_mega(self.text)
        fix = ""
        marking = re.fullmatch(r"([0-9]{2})([0-5])[JKM]?", self.text)
        if wanted is Dimension.FARAD and marking:
            c = write_exact(float(f"{marking[1]}e{int(marking[2]) - 12}"), wanted)
            fix = f"the marking {self.text} on a capacitor means {c}"
        what = f"is written as {usual.noun}" if self.prefix else "has no unit"
        raise ValueProblem(f"{self.text} {what}", wanted.wanted, fix)


# ------------------------------------------------------------------ the spellings known

_EXPONENT = {"p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9, "T": 12}
_OHM_LETTERS = "RkMGT"
_TOLERANCE = {"F": 0.01, "G": 0.02, "J": 0.05, "K": 0.1, "M": 0.2}
# Where the other case stands for nothing else it says the same; m and M do not.
_OTHER_CASE = {"K": "k", "U": "u", "N": "n", "P": "p", "r": "R"}
_ASCII = str.maketrans(
    {"\u00b5": "u", "\u03bc": "u", "\u03a9": "ohm", "\u2126": "ohm", "\u2212": "-", "\u00b0": "deg"}
)

_Unit = tuple[str, Dimension | None]

# Spellings in lower case, and the prefixes that go with them.
_SPELLINGS = (
    (Dimension.OHM, "ohm ohms", _OHM_LETTERS),
    (Dimension.FARAD, "f farad", "pnu"),
    (Dimension.VOLT, "v vdc volt volts", "umk"),
    (Dimension.VOLT_AC, "vac vrms", "umk"),
    (Dimension.VOLT_PP, "vpp vp-p", "umk"),
    (Dimension.AMPERE, "a amp amps ampere", "pnum"),
    (Dimension.WATT, "w watt watts", "umk"),
    (Dimension.PERCENT, "% percent", ""),
    (Dimension.HERTZ, "hz", "k"),
    (Dimension.SECOND, "s sec", "um"),
    (Dimension.CELSIUS, "c degc", ""),
)
_UNITS: dict[str, _Unit] = {
    **{word: ("", dimension) for dimension, words, _ in _SPELLINGS for word in words.split()},
    **dict.fromkeys(("megohm", "megohms"), ("M", Dimension.OHM)),
    **dict.fromkeys(("mmf", "mmfd", "uuf"), ("p", Dimension.FARAD)),
    "mfd": ("u", Dimension.FARAD),
    "meg": ("M", None),
}
"""By spelling, in any case."""
_PREFIXED: dict[str, _Unit] = {
    **{letter: (letter, None) for letter in "pnu" + _OHM_LETTERS},
    **{
        prefix + word: (prefix, dimension)
        for dimension, words, prefixes in _SPELLINGS
        for prefix in prefixes
        for word in words.split()
    },
}
"""By prefix, whose case counts, and spelling in lower case."""
_OFFERED = "ohm kohm Mohm pF nF uF V mV kV Vac Vdc Vrms Vpp A mA uA W mW % Hz s ms C".split()


def _usual_dimension(prefix: str) -> Dimension:
    """What a value with this prefix and no unit is."""
    return Dimension.FARAD if prefix and prefix in "pnumF" else Dimension.OHM


def _find_unit(word: str) -> _Unit | None:
    if not word:
        return ("", None)
    head = _OTHER_CASE.get(word[0], word[0])
    return _UNITS.get(word.lower()) or _PREFIXED.get(head + word[1:].lower())


# -------------------------------------------------------------------------- reading

_A_VALUE = "a value is written like 4k7, 470 ohm, 47 uF or 48 V"
_NUMBER = re.compile(r"([+-]?)([0-9]*)(\.[0-9]*)?(.*)")
_LETTER_AS_POINT = re.compile(r"([RrKkMGTPpNnUumF])([0-9]+)(.*)")


@dataclass(frozen=True, slots=True)
class _Typed:
    """A text taken apart."""

    shown: str
    sign: str
    whole: str
    fraction: str

    @property
    def number(self) -> str:
        return f"{self.sign}{self.whole or '0'}" + (f".{self.fraction}" if self.fraction else "")

    def quantity(self, unit: _Unit, tolerance: float | None = None) -> Quantity:
        prefix, dimension = unit
        exponent = _EXPONENT.get(prefix, 0) - len(self.fraction)
        if dimension is Dimension.PERCENT:
            exponent -= 2
        exact = Decimal(f"{self.sign}{self.whole}{self.fraction}E{exponent}")
        size = exact.copy_abs()
        if size and not SMALLEST <= size <= LARGEST:
            too = "small" if size < SMALLEST else "large"
            raise ValueProblem(f"{self.shown} is too {too} for any part or reading")
        step = Decimal(f"1E{exponent}")
        return Quantity(exact if exact else size, dimension, prefix, step, tolerance, self.shown)


def read(text: str, unit: str | None = None) -> Quantity:
    """Read a value exactly, or refuse it.

    Parameters
    ----------
    text : str
        The value, such as "4k7", "-52.0", "10%", "48Vac" or "48 Vac".
    unit : str or None
        The unit, where it was taken as a word of its own.

    Returns
    -------
    Quantity
        Of no dimension where no unit was written.

    Raises
    ------
    ValueProblem
        For whatever is no value, or could mean two.
    """
    if len(text) + len(unit or "") >= LONGEST:
        raise ValueProblem("this is too long for a value", _A_VALUE)
    words = f"{text} {unit or ''}".split()
    plain = " ".join(words).translate(_ASCII)
    shown = "".join(c if c.isprintable() else "?" for c in " ".join(words))
    _refuse_slips(shown, plain)
    word, _, apart = plain.partition(" ")
    match = _NUMBER.fullmatch(word)
    if match is None or " " in apart:
        raise ValueProblem(f'"{shown}" is not a value', _A_VALUE)
    sign, whole, fraction, rest = match.groups(default="")
    code = _LETTER_AS_POINT.fullmatch(rest)
    if code is None and not whole + fraction.strip("."):
        raise ValueProblem(f'"{shown}" is not a value', _A_VALUE)
    if fraction and (fraction == "." or code) or rest.startswith("."):
        raise _stray_point(shown)
    if code:
        typed = _Typed(shown, sign, whole, code[2])
        return _read_code(typed, _OTHER_CASE.get(code[1], code[1]), code[3], apart)
    return _read_plain(_Typed(shown, sign, whole, fraction[1:]), rest, apart)


def _read_plain(typed: _Typed, tail: str, apart: str) -> Quantity:
    """Read a number with its unit: `4.7k`, `47uF`, `48 Vac`, `27KK`."""
    unit = _find_unit(tail + apart)
    letter = _find_unit(tail)
    if unit and not (tail and apart and letter and letter[1]):
        return typed.quantity(unit)
    letter = _find_unit(tail[:-1])
    if letter and letter[0] and not letter[1] and tail[-1] in _TOLERANCE and not apart:
        return _with_tolerance(typed, letter[0], tail[-1], None)
    raise _unknown_unit(typed.shown, typed.number, tail + apart)


def _read_code(typed: _Typed, letter: str, tail: str, apart: str) -> Quantity:
    """Read a number with a letter for its decimal point: `4k7`, `4K7J`, `4k7 ohm`, `4n7`."""
    usual = _usual_dimension(letter)
    number = f"{typed.sign}{typed.whole}{letter}{typed.fraction}"
    if tail in ("f", "F") and usual is Dimension.FARAD:
        raise ValueProblem(
            f"the F of {typed.shown} may mean farad or a tolerance of 1 %",
            fix=f"write {number}, and the tolerance as 1%",
        )
    is_tolerance = tail in _TOLERANCE
    unit = apart if is_tolerance else tail + apart
    if unit and _find_unit(unit) != ("", usual):
        raise _wrong_ending(typed, number, letter, unit)
    dimension = usual if unit else None
    if is_tolerance:
        return _with_tolerance(typed, letter, tail, dimension)
    return typed.quantity((letter, dimension))


def _with_tolerance(
    typed: _Typed, prefix: str, letter: str, dimension: Dimension | None
) -> Quantity:
    quantity = typed.quantity((prefix, dimension), _TOLERANCE[letter])
    if _usual_dimension(prefix) is Dimension.FARAD and quantity.nominal < 10e-12:
        # IEC 60062 gives the letters another meaning there, in picofarads (from memory).
        raise ValueProblem(
            f"the {letter} of {typed.shown} is no percentage on less than 10 pF",
            fix="leave the letter out and write the tolerance as a percentage",
        )
    return quantity


# -------------------------------------------------------------------------- refusals


def _stray_point(shown: str) -> ValueProblem:
    expected = "one decimal point with a figure after it, or one letter in its place"
    return ValueProblem(f"{shown} has a decimal point out of place", expected, "as in 4.7k or 4k7")


def _milli_or_mega(shown: str) -> ValueProblem:
    return ValueProblem(
        f"{shown} may mean milli or mega",
        fix="write 1M for a megohm, 0.001 ohm for a milliohm",
    )


def _wrong_ending(typed: _Typed, number: str, letter: str, ending: str) -> ValueProblem:
    """Why what follows a value like `4k7` cannot stand there."""
    shown = typed.shown
    if ending[0] == "." or ending[0] in "RrKkMGTPpNnUumF" and not _find_unit(ending[1:] or "?"):
        also = f", or {number}{ending.upper()} for 10 %" if ending == "k" else ""
        what = f"{shown} has more than one decimal point, since {letter} stands for one"
        return ValueProblem(what, fix=f"write {number}{also}")
    if ending == "%":
        return ValueProblem(
            f"the % of {shown} cannot go with {number}",
            fix=f"write {typed.whole}{letter} {typed.fraction}%",
        )
    if _find_unit(ending):
        usual = _usual_dimension(letter)
        ways = _spellings(f"{typed.number} {letter}{ending}")
        what = f"{number} is written as {usual.noun}, {ending} does not go with it"
        return ValueProblem(what, fix=f"write {ways[0]}" if ways else "")
    return _unknown_unit(shown, number, ending, letter + ending)


def _unknown_unit(shown: str, number: str, word: str, letters: str = "") -> ValueProblem:
    """Why `word` behind a number is no unit."""
    low = word.lower()
    if word == "m" or low in ("mohm", "mohms"):
        return _milli_or_mega(shown)
    if low == "mf":
        return ValueProblem(
            f"{shown} may mean microfarads, as on old parts, or millifarads",
            fix=f"for microfarads write {number} uF",
        )
    if low in ("vp", "vpk", "vpeak"):
        return ValueProblem(
            f"{shown} is a peak voltage",
            "alternating volts are rms or peak to peak",
            "write Vac for rms, Vpp for peak to peak",
        )
    if re.fullmatch(r"[kM][ABC]", letters or word):
        return ValueProblem(
            f"the {word[-1]} of {shown} may be the taper of a pot or a tolerance",
            fix="write the taper as linear or audio, a tolerance as a percentage",
        )
    if word[0].isdigit():
        return ValueProblem(f"{shown} has a space within the number", fix=f"write {number}{word}")
    import difflib  # noqa: PLC0415 - slow to import, and needed for a refusal only

    near = difflib.get_close_matches(low, [known.lower() for known in _OFFERED], 1)
    offers = [known for known in _OFFERED if known.lower() in near]
    return ValueProblem(
        f'"{word}" in {shown} is not a unit',
        "the units are ohm kohm Mohm, pF nF uF, V Vac Vpp, mA A, W, %, Hz, s and C",
        f"did you mean {number} {offers[0]}?" if offers else "",
    )


def _spellings(text: str) -> list[str]:
    """`text` and its usual spelling; nothing if it cannot be read."""
    try:
        quantity = read(text)
    except ValueProblem:
        return []
    if quantity.dimension is None and not quantity.prefix:
        return [text]
    usual = write_exact(quantity.nominal, quantity.dimension or _usual_dimension(quantity.prefix))
    return [text, usual] if usual.replace(" ", "") != text.replace(" ", "") else [text]


def _comma(shown: str, plain: str, _: re.Match[str]) -> ValueProblem:
    what = f"{shown} has a comma"
    without, point = plain.replace(",", ""), plain.replace(",", ".")
    if re.match(r"[+-]?[1-9][0-9]{0,2}(,[0-9]{3})+(?![0-9])", plain):
        ways = [way for way in (without, point) if _spellings(way)]
        doubt = ", whichever is meant" if len(ways) > 1 else ""
    else:
        ways, doubt = _spellings(point), ""
    fix = f"write {' or '.join(ways)}{doubt}" if ways else ""
    return ValueProblem(what, "a decimal point is wanted, and no mark for thousands", fix)


def _fraction(shown: str, _: str, match: re.Match[str]) -> ValueProblem:
    top, bottom = int(match[2]), int(match[3])
    fix = "as in 0.5 for a half"
    if bottom and top * 10**4 % bottom == 0:
        decimal = Decimal(top * 10**4 // bottom).scaleb(-4).normalize()
        fix = f"write {match[1]}{decimal:f}{match[4]}"
    return ValueProblem(f"{shown} is a fraction", "a decimal number is wanted", fix)


def _power_of_ten(shown: str, _: str, match: re.Match[str]) -> ValueProblem:
    number, power, rest = match.groups()
    ways = []
    if len(power) <= 3:
        ways = _spellings(f"{Decimal(number).scaleb(int(power)):f}{rest or ' ohm'}")[-1:]
    if ways and not rest and power.isdigit() and "." not in number:
        ways.append(f"{number}R{power}")
    fix = f"write {' or '.join(ways)}, whichever is meant" if ways[1:] else "".join(ways)
    return ValueProblem(
        f"{shown} is written with a power of ten",
        "a prefix is wanted, as in 1k or 47 uF",
        f"write {fix}" if fix and not ways[1:] else fix,
    )


def _foreign_figures(shown: str, _: str, __: re.Match[str]) -> ValueProblem:
    return ValueProblem(f"{shown} has figures that cannot be used", "write with the figures 0 to 9")


def _centre_tap(shown: str, _: str, match: re.Match[str]) -> ValueProblem:
    return ValueProblem(
        f"{shown} is not one value",
        fix=f"for a winding with a centre tap write the volts of one half, {match[1]} Vac",
    )


def _plus_minus(shown: str, _: str, match: re.Match[str]) -> ValueProblem:
    return ValueProblem(f"{shown} has two signs", fix=f"for a tolerance write {match[1]}")


def _dash(shown: str, _: str, match: re.Match[str]) -> ValueProblem:
    return ValueProblem(f"{shown} begins with a dash", fix=f"for a minus write -{match[1]}")


_SLIPS: tuple[tuple[re.Pattern[str], Callable[[str, str, re.Match[str]], ValueProblem]], ...] = (
    (re.compile(r".*,.*"), _comma),
    (re.compile(r"([+-]?)([0-9]{1,3})/([0-9]{1,3})(.*)"), _fraction),
    (re.compile(r"([0-9.]+)-0-[0-9.]+.*"), _centre_tap),
    (re.compile("(?:\u00b1|\\+/?-) ?(.*)"), _plus_minus),
    (re.compile("[\u2010-\u2015] ?(.*)"), _dash),
    (re.compile(r"([+-]?[0-9]+\.?[0-9]*)[eE]([+-]?[0-9]+)(.*)"), _power_of_ten),
)


def _refuse_slips(shown: str, plain: str) -> None:
    """Refuse what is read wrongly by so many programs that it deserves its own words."""
    for pattern, problem in _SLIPS:
        if match := pattern.fullmatch(plain):
            raise problem(shown, plain, match)
    if any(c.isnumeric() for c in plain if not c.isascii()):
        raise ValueProblem(f"{shown} has figures other than 0 to 9", _A_VALUE)


# -------------------------------------------------------------------------- writing
