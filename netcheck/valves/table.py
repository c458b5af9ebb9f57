"""The table of output valve types: one data file a type, read when it is asked for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path

from ..errors import NetcheckError
from ..finding import Finding, Severity
from ..source import Source
from .names import nearest_names, normal_name
from .valve_type import ValveType

_DATA = Path(__file__).parent / "data"
FITTED = Path(__file__).with_name("fitted.toml")
"""The stored curves, written by `python -m netcheck.valves.fit`."""


def lookup(name: str, own: Sequence[ValveType] = ()) -> ValveType | None:
    """The valve type of that name.

    Parameters
    ----------
    name : str
        Type number; capitals, dashes, dots and spaces do not count. Two equal types may be
        given as one name, such as "5881/6L6WGB".
    own : sequence of ValveType
        The user's own types, which go before the table's.

    Returns
    -------
    ValveType or None
        None when the name is not known, or its parts are different types.
    """
    found = [_lookup_one(normal_name(each), own) for each in name.split("/")]
    return found[0] if all(each == found[0] for each in found) else None


def _lookup_one(normal: str, own: Sequence[ValveType]) -> ValveType | None:
    if valve := _by_normal_name(own).get(normal):
        return valve
    # A main name needs one file; only a name that is none is looked for in all of them.
    name = _stems().get(normal)
    return _shipped(name) if name else _by_normal_name(shipped_types()).get(normal)


def known_types(own: Sequence[ValveType] = ()) -> list[str]:
    """The main names of all known types, sorted.

    Parameters
    ----------
    own : sequence of ValveType
        The user's own types.

    Returns
    -------
    list of str
        One of each, even where a user's own type hides one of the table.
    """
    names = {normal_name(name): name for name in _stems().values()}
    names |= {normal_name(valve.name): valve.name for valve in own}
    return sorted(names.values())


def nearest(name: str, own: Sequence[ValveType] = ()) -> list[str]:
    """The known names, equivalents included, that are most like `name`.

    Parameters
    ----------
    name : str
        As typed.
    own : sequence of ValveType
        The user's own types.

    Returns
    -------
    list of str
        At most three, the nearest first; may be empty.
    """
    every = (each for valve in (*shipped_types(), *own) for each in (valve.name, *valve.also))
    return nearest_names(name, every)


def read_types(source: Source) -> tuple[list[ValveType], list[Finding]]:
    """Read a user's own file of valve types.

    Parameters
    ----------
    source : Source
        The text; its layout is in `netcheck.valves.reader`.

    Returns
    -------
    types : list of ValveType
        Those without an error, for the argument `own` of `lookup`.
    findings : list of Finding
        What is wrong or doubtful, and a note on each type that hides one of the table.
    """
    from .places import place_of, places  # noqa: PLC0415  keeps the start-up path short
    from .reader import read_table  # noqa: PLC0415

    types, findings = read_table(source)
    names = [(valve, name) for valve in types for name in (valve.name, *valve.also)]
    hiding = [(valve, name) for valve, name in names if lookup(name)]
    known = places(source.text) if hiding else {}
    for valve, name in hiding:
        what = f'this file\'s "{name}" is used instead of the one in the built-in table'
        span = place_of((valve.name,), known)
        findings.append(Finding("types-own", Severity.NOTE, source, span, what))
    return types, findings


def shipped_types() -> tuple[ValveType, ...]:
    """All types of the built-in table, sorted by name."""
    return tuple(_shipped(name) for name in sorted(_stems().values()))


@cache
def _stems() -> dict[str, str]:
    """Main names of the built-in table, by their normal form."""
    return {normal_name(path.stem): path.stem for path in _DATA.glob("*.toml")}


@cache
def _shipped(name: str) -> ValveType:
    from .reader import read_table  # noqa: PLC0415  keeps the start-up path short

    path = _DATA / f"{name}.toml"
    types, findings = read_table(Source(path.name, path.read_text(encoding="utf-8")))
    if findings or [valve.name for valve in types] != [name]:
        raise NetcheckError(f"the built-in data of valve type {name} is damaged: install again")
    return types[0]


def _by_normal_name(types: Iterable[ValveType]) -> dict[str, ValveType]:
    """Types by all their names; a main name goes before an equivalent."""
    types = tuple(types)
    table = {normal_name(each): valve for valve in types for each in valve.also}
    return table | {normal_name(valve.name): valve for valve in types}
