"""Colour bands of resistors.

References
----------
IEC 60062, marking codes for resistors and capacitors: three or four bands with two figures,
five with three, six with a temperature coefficient besides. From memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from .preferred import is_usual
from .quantity import Dimension, ValueProblem, show_part, write_exact

_COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
_POWERS = {**{colour: power for power, colour in enumerate(_COLOURS)}, "gold": -1, "silver": -2}
_TOLERANCES = {
    "brown": 0.01,
    "red": 0.02,
    "green": 0.005,
    "blue": 0.0025,
    "violet": 0.001,
    "gold": 0.05,
    "silver": 0.1,
}
_NO_BAND = 0.2
"""Tolerance of a resistor without a band for it, as a fraction. [1]"""
_COEFFICIENTS = ("brown", "red", "orange", "yellow", "blue", "violet")
_SYNONYMS = {"gray": "grey", "purple": "violet"}


class Marking(NamedTuple):
    """What the bands of a resistor say.

    Parameters
    ----------
    r : Decimal
        Exact. [ohm]
    tolerance : float
        As a fraction. [1]
    """

    r: Decimal
    tolerance: float


def read_bands(colours: Sequence[str]) -> Marking:
    """Read the bands from the end at which the first one is.

    Parameters
    ----------
    colours : sequence of str
        Three to six names, in either case; gray and purple will do, and "none" for a
        fourth band that is not there.

    Returns
    -------
    Marking

    Raises
    ------
    ValueProblem
        For an unknown colour, or one that cannot stand where it does; if the bands make
        sense from the other end it says so.
    """
    bands = _named(colours)
    problem = _misplaced(bands)
    if problem is None:
        return _read(bands)
    turned = bands[::-1]
    if _misplaced(turned) is None:
        other = _read(turned)
        value = _in_words(float(other.r), other.tolerance)
        fix = f"read from the other end: {' '.join(turned)} is {value}"
        raise ValueProblem(problem.what, problem.expected, fix)
    raise problem


def likely_turned(colours: Sequence[str]) -> Marking | None:
    """What bands that can be read say from the other end, if that is the likelier value.

    Likelier is a value that resistors of its tolerance are made with, where the value as
    given is none.

    Raises
    ------
    ValueProblem
        If the bands cannot be read as given.
    """
    given = read_bands(colours)
    turned = _named(colours)[::-1]
    if _misplaced(turned) is not None or _is_made(given):
        return None
    other = _read(turned)
    return other if _is_made(other) else None


def write_bands(r: float, tolerance: float) -> tuple[str, ...]:
    """The bands of a resistor.

    Parameters
    ----------
    r : float
        Nominal resistance. [ohm]
    tolerance : float
        As a fraction. [1]

    Returns
    -------
    tuple of str
        Three or four, or five where the tolerance is 2 % or closer or the value needs it.

    Raises
    ------
    ValueProblem
        If there are no bands for such a value or tolerance.
    """
    last = {of: (colour,) for colour, of in _TOLERANCES.items()} | {_NO_BAND: ()}
    if tolerance not in last:
        percent = show_part(tolerance, Dimension.PERCENT)
        raise ValueProblem(f"there is no colour for a tolerance of {percent}")
    if not 0.1 <= r <= 999e9:
        raise ValueProblem("there are colour bands from 0.1 ohm to 999 Gohm only")
    _, figures, exponent = Decimal(repr(float(r))).normalize().as_tuple()
    count = 3 if tolerance <= 0.02 or len(figures) > 2 else 2
    power = int(exponent) + len(figures) - count
    colour_of = {power: colour for colour, power in _POWERS.items()}
    # Three figures and no fourth band would be read as two figures with a tolerance.
    unclear = count == 3 and not last[tolerance]
    if len(figures) > count or power not in colour_of or unclear:
        raise ValueProblem(f"there are no colour bands for {_in_words(r, tolerance)}")
    padded = (*figures, 0, 0)[:count]
    return (*(_COLOURS[figure] for figure in padded), colour_of[power], *last[tolerance])


def _named(colours: Sequence[str]) -> list[str]:
    """The bands by their usual names, as many as a code can have."""
    present = colours[:3] if len(colours) == 4 and colours[3].lower() == "none" else colours
    if not 3 <= len(present) <= 6:
        is_link = len(present) == 1 and present[0].lower() == "black"
        raise ValueProblem(
            f"{len(present)} band{'s' if len(present) != 1 else ''} cannot be read",
            "a resistor has three to six bands",
            "one black band marks a wire link" if is_link else "",
        )
    return [_colour(colour) for colour in present]


def _colour(typed: str) -> str:
    low = typed.lower()
    name = _SYNONYMS.get(low, low)
    if name in _POWERS:
        return name
    import difflib  # noqa: PLC0415 - needed for a refusal only

    shown = "".join(c if c.isprintable() else "?" for c in typed[:20])
    near = difflib.get_close_matches(low[:20], (*_POWERS, *_SYNONYMS), 1)
    raise ValueProblem(
        f'"{shown}" is not a colour of the code',
        f"the colours are {' '.join(_POWERS)}",
        f"did you mean {near[0]}?" if near else "",
    )


def _misplaced(bands: Sequence[str]) -> ValueProblem | None:
    """The problem with the first band that cannot stand where it does."""
    figures = 2 if len(bands) <= 4 else 3
    places = [
        ("a figure", _COLOURS[1:]),
        *[("a figure", _COLOURS)] * (figures - 1),
        ("a multiplier", tuple(_POWERS)),
        ("the tolerance", tuple(_TOLERANCES)),
        ("the temperature coefficient", _COEFFICIENTS),
    ]
    for number, (band, (meaning, allowed)) in enumerate(zip(bands, places, strict=False), 1):
        if band not in allowed:
            what = f"{band} cannot be band {number} of {len(bands)}"
            return ValueProblem(what, f"this band is {meaning}: {' '.join(allowed)}")
    return None


def _read(bands: Sequence[str]) -> Marking:
    """What bands say of which none is misplaced."""
    count = 2 if len(bands) <= 4 else 3
    figures = "".join(str(_COLOURS.index(band)) for band in bands[:count])
    power, *rest = bands[count:]
    tolerance = _TOLERANCES[rest[0]] if rest else _NO_BAND
    return Marking(Decimal(f"{figures}E{_POWERS[power]}"), tolerance)


def _is_made(marking: Marking) -> bool:
    return is_usual(float(marking.r), marking.tolerance)


def _in_words(r: float, tolerance: float) -> str:
    return f"{write_exact(r, Dimension.OHM)} {show_part(tolerance, Dimension.PERCENT)}"
