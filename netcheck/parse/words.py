"""Words: what people write in the place of a key word, and the nearest known word."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from typing import NamedTuple


class Wording(NamedTuple):
    """How the lines of a language are spoken of in messages.

    Parameters
    ----------
    line : str
        What a line is about: "part".
    rule : str
        How much one line holds.
    file : str
        What kind of file it is.
    """

    line: str
    rule: str
    file: str


WORDING = {
    "circuit.lark": Wording("part", "one line holds one part", "a circuit file"),
    "readings.lark": Wording("reading", "one line holds the readings of one node or part",
                             "a sheet of readings"),
}  # fmt: skip
"""Of each grammar."""

MEANT = {
    "arm": "wiper",
    "base": "grid",
    "battery": "supply",
    "cap": "capacitor",
    "electrolytic": "capacitor",
    "fuse": "link",
    "jumper": "link",
    "k": "cathode",
    "lin": "linear",
    "log": "audio",
    "logarithmic": "audio",
    "negative": "minus",
    "pentode": "valve",
    "positive": "plus",
    "potentiometer": "pot",
    "rectifier": "diode",
    "res": "resistor",
    "rheostat": "pot",
    "secondary": "winding",
    "slider": "wiper",
    "strap": "link",
    "switch": "link",
    "tetrode": "valve",
    "thermionic": "vacuum",
    "title": "circuit",
    "transformer": "winding",
    "trimmer": "pot",
    "trimpot": "pot",
    "triode": "valve",
    "wire": "link",
}
"""Words of the trade that are no key words, each with the one that is."""

UNITS = ("ohm", "kohm", "Mohm", "uF", "nF", "pF", "mfd", "V", "kV", "Vac", "mV", "A", "mA", "uA",
         "W", "mW", "Hz", "%", "volts", "watts")  # fmt: skip
"""Units, for the search of the nearest."""

_LONGEST = 40  # characters of a word that are compared and shown
_MOST = 200  # words that one is compared with; a section has some sixty names


def nearest(word: str, known: Iterable[str], likeness: float = 0.65) -> str | None:
    """The known word most like this one, in either case; None if none is.

    Parameters
    ----------
    word : str
        The word.
    known : iterable of str
        The words to choose from, of which some two hundred are looked at.
    likeness : float
        How much they must have in common, from 0 to 1. [1]
    """
    from difflib import get_close_matches  # noqa: PLC0415 - only on the way to a message

    by_lower = {each.lower(): each for each in islice(known, _MOST)}
    found = get_close_matches(word[:_LONGEST].lower(), by_lower, n=1, cutoff=likeness)
    return by_lower[found[0]] if found else None


def clip(word: str) -> str:
    """The word, shortened if it is too long for a message."""
    return word if len(word) <= _LONGEST else f"{word[: _LONGEST - 3]}..."
