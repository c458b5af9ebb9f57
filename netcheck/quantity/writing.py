"""Values for people, as on a meter or a part, and values for files, exact."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Context, Decimal

from .dimension import LARGEST, SMALLEST, Dimension
from .spelling import EXPONENT

_ANY = -999
_LARGEST = float(LARGEST)

# Per dimension the prefixes that the trade uses, each with the power of ten of the smallest
# value that is written with it. So 0.35 W and 4700 uF, never 350 mW nor 4.7 mF.
_VOLTS = (("u", _ANY), ("m", -4), ("", -1), ("k", 3))
_PREFIXES: dict[Dimension, tuple[tuple[str, int], ...]] = {
    Dimension.OHM: (("", _ANY), ("k", 3), ("M", 6), ("G", 9), ("T", 12)),
    Dimension.FARAD: (("p", _ANY), ("n", -9), ("u", -6)),
    Dimension.VOLT: _VOLTS,
    Dimension.VOLT_AC: _VOLTS,
    Dimension.VOLT_PP: _VOLTS,
    Dimension.AMPERE: (("u", _ANY), ("m", -4), ("", 0)),
    Dimension.WATT: (("m", _ANY), ("", -1)),
    Dimension.SECOND: (("m", _ANY), ("", -1)),
}
_NO_PREFIX = (("", _ANY),)

# Enough for every digit of every float; the context's own precision could cut some.
_CONTEXT = Context(prec=800, rounding=ROUND_HALF_UP)


def write_exact(value: float, dimension: Dimension, last_digit: Decimal | None = None) -> str:
    """Text that is read back as the very same float.

    Parameters
    ----------
    value : float
        Zero, or of a magnitude from 1e-15 to 1e15. [SI unit]
    dimension : Dimension
        What it measures.
    last_digit : Decimal or None
        Worth of the last digit of a reading: zeros are written as far as that.

    Returns
    -------
    str
        Such as "4k7", "470 ohm", "47 uF", "-52 V" or "10%".

    Raises
    ------
    ValueError
        If the value is out of range.
    """
    exact = _decimal(value).normalize(_CONTEXT)
    if not _in_range(exact):
        raise ValueError(f"{value!r} cannot be written as a value")
    if last_digit is not None:
        step = _exponent(last_digit)
        exact = _to_step(exact, min(_exponent(exact), step) if exact else step)
    figures, prefix = _scaled(exact, dimension, keep_step=last_digit is not None)
    whole, _, fraction = figures.partition(".")
    if dimension is Dimension.OHM and prefix:
        # The letter as point is easy to read with a few digits only.
        return f"{whole}{prefix}{fraction}" if len(fraction) <= 2 else f"{figures} {prefix}ohm"
    return _joined(figures, prefix, dimension)


def show(value: float, dimension: Dimension, digits: int = 3) -> str:
    """A value to so many significant digits, as on a meter.

    Parameters
    ----------
    value : float
        Any finite value. [SI unit]
    dimension : Dimension
        What it measures.
    digits : int
        Significant digits. [count]

    Returns
    -------
    str
        Such as "-52.3 V", "48.2 mA", "4.70k", "100%" or "0 V"; "beyond 1000T" for what is
        out of all proportion, infinite values too.

    Raises
    ------
    ValueError
        If the value is not a number.
    """
    if abs(value) > _LARGEST:
        return f"beyond {show_part(math.copysign(_LARGEST, value), dimension)}"
    rounded = _to_digits(_decimal(value), digits)
    if not rounded or rounded.adjusted() < _power(_prefixes(dimension)[0][0], dimension) - 3:
        rounded = Decimal(0)  # the noise of arithmetic
    return _shown(rounded, dimension)


def show_part(value: float, dimension: Dimension = Dimension.OHM) -> str:
    """A part's value: as printed on it where three digits say it, else rounded to three.

    Parameters
    ----------
    value : float
        Any finite value. [SI unit]
    dimension : Dimension
        What it measures.

    Returns
    -------
    str
        "4k7", "470 ohm", "47 uF" for exact values; "23.5k" for 23512 ohm.

    Raises
    ------
    ValueError
        If the value is not a number.
    """
    if abs(value) > _LARGEST:
        return show(value, dimension)
    rounded = _to_digits(_decimal(value), 3)
    # A nominal value that went through arithmetic is still that value.
    if math.isclose(value, float(rounded), rel_tol=1e-9) and _in_range(rounded):
        return write_exact(float(rounded), dimension)
    return show(value, dimension)


def show_reading(value: float, dimension: Dimension, last_digit: Decimal) -> str:
    """A value to the resolution of a reading, so that both can be set side by side.

    Parameters
    ----------
    value : float
        Any finite value. [SI unit]
    dimension : Dimension
        What it measures.
    last_digit : Decimal
        What one step of the last digit shown is worth. [SI unit]

    Returns
    -------
    str
        Such as "-52.0 V" to a resolution of 0.1 V.

    Raises
    ------
    ValueError
        If the value is not finite.
    """
    rounded = _to_step(_decimal(value), _exponent(last_digit))
    return _shown(rounded, dimension, keep_step=True)


def _shown(rounded: Decimal, dimension: Dimension, keep_step: bool = False) -> str:
    figures, prefix = _scaled(rounded, dimension, keep_step)
    if dimension is Dimension.OHM and prefix:
        return figures + prefix
    return _joined(figures, prefix, dimension)


def _joined(figures: str, prefix: str, dimension: Dimension) -> str:
    space = "" if dimension is Dimension.PERCENT else " "
    return f"{figures}{space}{prefix}{dimension.symbol}"


def _prefixes(dimension: Dimension) -> tuple[tuple[str, int], ...]:
    return _PREFIXES.get(dimension, _NO_PREFIX)


def _power(prefix: str, dimension: Dimension) -> int:
    return EXPONENT.get(prefix, -2 if dimension is Dimension.PERCENT else 0)


def _scaled(exact: Decimal, dimension: Dimension, keep_step: bool) -> tuple[str, str]:
    """Figures and prefix; with `keep_step` no zeros that `exact` does not hold."""
    if not exact:
        exact = exact.copy_abs()
        if not keep_step:
            return "0", ""
    # A zero has no size: a display that ends in this digit would show some two before it.
    power = exact.adjusted() if exact else _exponent(exact) + 2
    prefixes = _prefixes(dimension)
    prefix = [p for p, smallest in prefixes if power >= smallest][-1]
    larger = [p for p, smallest in prefixes if power < smallest]
    while keep_step and larger and _exponent(exact) > _power(prefix, dimension):
        prefix = larger.pop(0)
    return f"{exact.scaleb(-_power(prefix, dimension), _CONTEXT):f}", prefix


def _decimal(value: float) -> Decimal:
    """The shortest decimal number that stands for this float."""
    if not math.isfinite(value):
        raise ValueError(f"{value!r} cannot be written as a value")
    return Decimal(repr(float(value)))


def _in_range(number: Decimal) -> bool:
    return not number or SMALLEST <= number.copy_abs() <= LARGEST


def _exponent(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def _to_step(number: Decimal, exponent: int) -> Decimal:
    return number.quantize(Decimal((0, (1,), exponent)), context=_CONTEXT)


def _to_digits(number: Decimal, digits: int) -> Decimal:
    """Rounded to so many significant digits, zeros kept: 999.99 becomes 1.00E+3."""
    rounded = _CONTEXT.copy()
    rounded.prec = digits
    number = rounded.plus(number)
    return _to_step(number, number.adjusted() - digits + 1)
