"""Why a text is no value, and how to write what was probably meant.

Nothing here decides what is accepted; it only looks for the words for a refusal.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from decimal import Decimal

from .dimension import LARGEST, SMALLEST, Dimension, ValueProblem
from .reading import LONGEST, Parts, meaning, number, one_line, read_or_none, take_apart
from .spelling import CODE_LETTERS, TOLERANCE, to_ascii, unit, usual_dimension
from .writing import write_exact

A_VALUE = "a value is written like 4k7, 470 ohm, 47 uF or 48 V"
_UNITS = (
    *("ohm", "kohm", "Mohm", "pF", "nF", "uF", "mV", "V", "kV", "Vac", "Vpp"),
    *("mA", "A", "mW", "W", "%", "Hz", "s", "C"),
)
THE_UNITS = f"the units are {' '.join(_UNITS[:-1])} and {_UNITS[-1]}"


def explain(typed: str) -> ValueProblem:
    """The problem with a text that `read_or_none` does not accept."""
    if len(typed) > LONGEST:
        return ValueProblem("this is too long for a value", A_VALUE)
    line = one_line(typed)
    shown = _printable(line)
    plain = to_ascii(line)
    for pattern, problem in _SLIPS:
        if match := pattern.fullmatch(plain):
            return problem(shown, match)
    if any(c.isnumeric() and not c.isascii() for c in plain):
        return ValueProblem(f"{shown} has figures other than 0 to 9", A_VALUE)
    parts = take_apart(plain)
    if parts is None:
        return ValueProblem(f'"{shown}" is not a value', A_VALUE)
    return next(filter(None, (check(shown, parts) for check in _CHECKS)))


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)


# ------------------------------------------------- slips with a pattern of their own


def _ways(text: str) -> list[str]:
    """`text` and its usual spelling if that differs; nothing if it cannot be read."""
    quantity = read_or_none(text)
    if quantity is None:
        return []
    if quantity.dimension is None and not quantity.prefix:
        return [text]
    dimension = quantity.dimension or usual_dimension(quantity.prefix)
    usual = write_exact(quantity.nominal, dimension)
    return list({way.replace(" ", ""): way for way in (text, usual)}.values())


def _write(ways: list[str], doubt: bool = False) -> str:
    """The advice to write one of `ways`; in doubt they are not the same value."""
    if not ways:
        return ""
    which = ", whichever is meant" if doubt and len(ways) > 1 else ""
    return f"write {' or '.join(ways)}{which}"


def _comma(shown: str, match: re.Match[str]) -> ValueProblem:
    plain = match[0]
    point, without = plain.replace(",", "."), plain.replace(",", "")
    if re.match(r"[+-]?[1-9][0-9]{0,2}(,[0-9]{3})+(?![0-9])", plain):
        fix = _write([way for way in (without, point) if read_or_none(way)], doubt=True)
    else:
        fix = _write(_ways(point))
    return ValueProblem(
        f"{shown} has a comma", "a decimal point is wanted, and no mark for thousands", fix
    )


def _fraction(shown: str, match: re.Match[str]) -> ValueProblem:
    top, bottom, rest = int(match[1]), int(match[2]), match[3]
    fix = ""
    if bottom and top * 10**4 % bottom == 0:
        decimal = Decimal(top * 10**4 // bottom).scaleb(-4).normalize()
        fix = _write(_ways(f"{decimal:f}{rest}")[:1])
    return ValueProblem(f"{shown} is a fraction", "a decimal number is wanted", fix)


def _power_of_ten(shown: str, match: re.Match[str]) -> ValueProblem:
    number, power, rest = match.groups()
    ways = []
    if len(power) <= 3:
        ways = _ways(f"{Decimal(number).scaleb(int(power)):f}{rest or ' ohm'}")[-1:]
    if ways and power.isdigit() and number.isdigit() and not rest:
        # Some print an E for the R of 4R7.
        ways.append(f"{number}R{power}")
    expected = "a prefix is wanted, as in 1k or 47 uF"
    return ValueProblem(f"{shown} has a power of ten", expected, _write(ways, doubt=True))


def _centre_tap(shown: str, match: re.Match[str]) -> ValueProblem:
    what = f"{shown} is the two halves of a winding, not one value"
    return ValueProblem(what, fix=f"write {match[1]} Vac for one half")


def _plus_minus(shown: str, match: re.Match[str]) -> ValueProblem:
    return ValueProblem(f"{shown} has two signs", "", _write(_ways(match[1])[:1]))


def _dash(shown: str, match: re.Match[str]) -> ValueProblem:
    return ValueProblem(f"{shown} begins with a dash", "", _write(_ways(f"-{match[1]}")[:1]))


def _unit_as_point(shown: str, match: re.Match[str]) -> ValueProblem:
    whole, unit_word, fraction = match.groups()
    if unit_word == "ohm":
        fix = f"write {whole}R{fraction}"
    else:
        fix = f"if volts are meant, write {whole}.{fraction} V"
    return ValueProblem(f"{shown} has a unit in place of the point", "", fix)


_SLIPS: tuple[tuple[re.Pattern[str], Callable[[str, re.Match[str]], ValueProblem]], ...] = (
    (re.compile(r".*,.*"), _comma),
    (re.compile(r"([0-9]{1,3})/([0-9]{1,3})(.*)"), _fraction),
    (re.compile(r"([0-9.]+)-0-[0-9.]+.*"), _centre_tap),
    (re.compile("(?:\N{PLUS-MINUS SIGN}|\\+/?-) ?(.*)"), _plus_minus),
    (re.compile("[\N{HYPHEN}-\N{HORIZONTAL BAR}] ?(.*)"), _dash),
    (re.compile(r"([+-]?[0-9]+)(ohm|[Vv])([0-9]+)"), _unit_as_point),
    (re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)[eE]([+-]?[0-9]+)(.*)"), _power_of_ten),
)


# ------------------------------------------------------ a number with a wrong ending


def _two_numbers(shown: str, parts: Parts) -> ValueProblem | None:
    if not parts.apart[:1].isdigit():
        return None
    is_thousands = re.match(r"[0-9]{3}(?![0-9])", parts.apart)
    fix = _write(_ways(parts.number + parts.apart)[:1]) if is_thousands else ""
    return ValueProblem(f"{shown} is more than one number", A_VALUE, fix)


def _size(shown: str, parts: Parts) -> ValueProblem | None:
    """What makes sense as it is written, and was refused for its size."""
    found = meaning(parts)
    if found is None:
        return None
    exact, _ = number(parts, found[0])
    if SMALLEST <= exact.copy_abs() <= LARGEST:
        return ValueProblem(
            f"the {parts.tail[-1:]} of {shown} is no percentage on less than 10 pF",
            fix="leave the letter out and write the tolerance as a percentage",
        )
    too = "large" if exact.copy_abs() > LARGEST else "small"
    return ValueProblem(f"{shown} is too {too} for any part or reading", A_VALUE)


def _stray_point(shown: str, parts: Parts) -> ValueProblem | None:
    tail = parts.tail
    letter_again = re.match(rf"(?!F)[{CODE_LETTERS}]([0-9]|$)", tail) if parts.point else None
    if parts.point == "." and letter_again and not letter_again[1]:
        return None
    if not tail.startswith(".") and not letter_again:
        return None
    ways = [parts.number] if len(tail) == 1 else []
    if parts.code and tail.upper() in TOLERANCE:
        percent = write_exact(TOLERANCE[tail.upper()], Dimension.PERCENT)
        ways.append(f"{parts.number}{tail.upper()} for a tolerance of {percent}")
    return ValueProblem(
        f"{shown} has a decimal point out of place",
        "one point with a figure after it, or one letter in its place, as in 4.7k or 4k7",
        _write(ways),
    )


def _ending_of_code(shown: str, parts: Parts) -> ValueProblem | None:
    """What cannot follow a number like 4k7."""
    ending = parts.tail + parts.apart
    if not parts.code:
        return None
    usual = usual_dimension(parts.code)
    if parts.tail == "F" and usual is Dimension.FARAD:
        fix = f"write {parts.number}, and a tolerance as a percentage"
        return ValueProblem(f"the F of {shown} may mean farad or a tolerance of 1 %", fix=fix)
    if ending == "%":
        ways = [f"{parts.whole}{parts.code} {parts.fraction}%"]
    elif unit(ending) and not (parts.tail and parts.apart):
        point = f"{parts.sign}{parts.whole}.{parts.fraction} {parts.code}{ending}"
        ways = _ways(point)[:1] or [parts.number]
    else:
        return None
    what = f"{parts.number} is written as {usual.noun}, {ending} does not go with it"
    return ValueProblem(what, "", _write(ways))


def _last_letter(shown: str, parts: Parts) -> ValueProblem | None:
    """One letter too many behind a resistance, as in 10kB."""
    if not re.fullmatch("[RkKM][A-UX-Za-z]", parts.code + parts.tail + parts.apart):
        return None
    milliamperes = ", milliamperes as mA" if parts.tail + parts.apart == "MA" else ""
    return ValueProblem(
        f"the last letter of {shown} is not a tolerance",
        f"the letters of tolerance are {' '.join(TOLERANCE)}, in capitals",
        f"write a tolerance as a percentage, the taper of a pot as a word{milliamperes}",
    )


def _times(figures: str, power: int, dimension: Dimension) -> str:
    """`figures` times a power of ten, written out."""
    return write_exact(float(Decimal(figures).scaleb(power)), dimension)


def _two_meanings(shown: str, parts: Parts) -> ValueProblem | None:
    """An m that may be milli, micro or mega."""
    word, figures = (parts.tail + parts.apart).lower(), parts.number
    if parts.code or len(figures) > 12:
        return None
    if word in ("m", "mohm", "mohms"):
        milli = _times(figures, -3, Dimension.OHM)
        other = f", or the whole unit, as in {figures} mA" if word == "m" else ""
        what = f"{shown} may mean milli or mega"
        return ValueProblem(what, "", f"write {figures}M for megohms, {milli} for milliohms{other}")
    if word == "mf":
        milli = _times(figures, -3, Dimension.FARAD)
        return ValueProblem(
            f"{shown} may mean microfarads, as on old parts, or millifarads",
            fix=f"write {figures} uF for microfarads, {milli} for millifarads",
        )
    return None


def _peak(shown: str, parts: Parts) -> ValueProblem | None:
    if (parts.tail + parts.apart).lower() not in ("vp", "vpk", "vpeak"):
        return None
    return ValueProblem(
        f"{shown} is a peak voltage",
        "alternating volts are rms or peak to peak",
        "write Vac for rms, Vpp for peak to peak",
    )


def _unknown_unit(shown: str, parts: Parts) -> ValueProblem:
    word = parts.tail + parts.apart
    by_lower = {known.lower(): known for known in _UNITS}
    near = difflib.get_close_matches(word.lower(), by_lower, 1)
    fix = f"did you mean {parts.number} {by_lower[near[0]]}?" if near else ""
    typed = _printable(f"{parts.tail} {parts.apart}".strip())
    return ValueProblem(f'"{typed}" in {shown} is not a unit', THE_UNITS, fix)


# The last one always finds something to say.
_CHECKS: tuple[Callable[[str, Parts], ValueProblem | None], ...] = (
    _two_numbers,
    _size,
    _stray_point,
    _ending_of_code,
    _two_meanings,
    _last_letter,
    _peak,
    _unknown_unit,
)
