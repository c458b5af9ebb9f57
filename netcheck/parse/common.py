"""What the lines of several parts have in common."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from ..quantity import Quantity
from .fields import Fields

_PROPERTY_SIGNS = ".@"


def nominal(quantity: Quantity | None) -> float | None:
    """The value, None where there is none. [SI unit]"""
    return None if quantity is None else quantity.nominal


def common(f: Fields) -> dict[str, Any]:
    """Name, note, year and places: what every part has."""
    _check_name(f)
    return {"name": f.words[0], "note": f.text("note"), "year": _year(f),
            "span": f.word_spans[0], "marks": f.marks}  # fmt: skip


def _check_name(f: Fields) -> None:
    """Refuse a name that would be taken for something else where values are changed and fitted."""
    name, span = f.words[0], f.word_spans[0]
    if name.lower() == "mains":
        f.report("reserved-word", span, f'"{name}" is no name for a part',
                 "it stands for the mains voltage", "give the part another name")  # fmt: skip
    sign = next((sign for sign in _PROPERTY_SIGNS if sign in name), None)
    if sign is not None:
        plain = "-".join(filter(None, re.split(r"[.@]", name)))
        f.report("reserved-word", span, f'"{name}" is no name for a part, with a "{sign}" in it',
                 'what stands behind it is a property of the part, as in "C1.esr"',
                 f'write "{plain}"' if plain else "give the part another name")  # fmt: skip


def _year(f: Fields) -> int | None:
    typed = f.word("year")
    if typed is None:
        return None
    is_figures = typed.isascii() and typed.isdigit()
    if is_figures and len(typed) == 4 and 1900 <= int(typed) <= 2100:
        return int(typed)
    fix = f"write 19{typed}" if is_figures and len(typed) == 2 else ""
    f.report("absurd-value", f.marks["year"], f'"{typed}" cannot be a year of manufacture',
             "expected: a year such as 1968", fix)  # fmt: skip
    return None


def tolerance_of(f: Fields, plain: Mapping[str, Quantity], of: str) -> float | None:
    """The tolerance: stated, or said by a letter behind the value, as in 4k7J."""
    stated = nominal(plain.get("tolerance"))
    by_letter = plain[of].tolerance if of in plain else None
    if stated is not None and by_letter is not None and stated != by_letter:
        f.doubled("the tolerance", f.marks["tolerance"], f.marks[of])
    return by_letter if stated is None else stated
