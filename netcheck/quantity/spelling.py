"""How units, prefixes and tolerance letters are spelt.

References
----------
IEC 60062, marking codes: the letter as decimal point (R, k, M, G, T; p, n, u, m, F) and
the tolerance letters F, G, J, K, M. From memory.
"""

from __future__ import annotations

from .dimension import Dimension

EXPONENT = {"p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9, "T": 12}
"""Power of ten of each prefix."""

OHM_LETTERS = "RkMGT"
FARAD_LETTERS = "pnumF"
"""Letters that may stand for the decimal point; R and F for no power of ten."""
CODE_LETTERS = "RrKkMGTPpNnUumF"
"""The same in the cases in which they are accepted."""

TOLERANCE = {"F": 0.01, "G": 0.02, "J": 0.05, "K": 0.1, "M": 0.2}
"""Tolerance of each letter, as a fraction. [1]"""

# Where the other case stands for nothing else it says the same; m and M do not.
_OTHER_CASE = {"K": "k", "U": "u", "N": "n", "P": "p", "r": "R"}

_ASCII = str.maketrans(
    {
        "\N{MICRO SIGN}": "u",
        "\N{GREEK SMALL LETTER MU}": "u",
        "\N{GREEK CAPITAL LETTER OMEGA}": "ohm",
        "\N{OHM SIGN}": "ohm",
        "\N{DEGREE SIGN}": "deg",
        "\N{MINUS SIGN}": "-",
    }
)

# Spellings in lower case, and the prefixes that go with them.
_SPELLINGS = (
    (Dimension.OHM, "ohm ohms", OHM_LETTERS),
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

Unit = tuple[str, Dimension | None]
"""A prefix or code letter, "" for none, and what is measured, None where that is open."""

# By spelling; upper or lower case does not matter.
_WORDS: dict[str, Unit] = {
    **{word: ("", dimension) for dimension, words, _ in _SPELLINGS for word in words.split()},
    **dict.fromkeys(("megohm", "megohms"), ("M", Dimension.OHM)),
    **dict.fromkeys(("mmf", "mmfd", "uuf"), ("p", Dimension.FARAD)),
    "mfd": ("u", Dimension.FARAD),
    "meg": ("M", None),
}
# By prefix, whose case matters, and spelling. A lone m is left out: milli or mega?
_PREFIXED: dict[str, Unit] = {
    **{letter: (letter, None) for letter in "pnu" + OHM_LETTERS},
    **{
        prefix + word: (prefix, dimension)
        for dimension, words, prefixes in _SPELLINGS
        for prefix in prefixes
        for word in words.split()
    },
}


def to_ascii(text: str) -> str:
    """Micro, ohm, degree and minus signs turned into what a keyboard has."""
    return text.translate(_ASCII)


def letter(typed: str) -> str:
    """The usual case of a prefix or code letter."""
    return _OTHER_CASE.get(typed, typed)


def unit(word: str) -> Unit | None:
    """What a unit, a prefix or both say; None if nothing that is known."""
    if not word:
        return ("", None)
    return _WORDS.get(word.lower()) or _PREFIXED.get(letter(word[0]) + word[1:].lower())


def usual_dimension(prefix: str) -> Dimension:
    """What a value with this prefix or code letter and no unit is."""
    return Dimension.FARAD if prefix and prefix in FARAD_LETTERS else Dimension.OHM
