"""Type numbers as people write them."""

from __future__ import annotations

from collections.abc import Iterable

LONGEST_NAME = 30
"""No type number is longer than that. [count]"""


def normal_name(name: str) -> str:
    """`name` in capitals, without dashes, dots and spaces: what counts in comparison."""
    return "".join(char for char in name.upper() if char.isalnum())


def is_name(name: str) -> bool:
    """True if `name` can be a type number."""
    return (
        0 < len(normal_name(name)) <= len(name) <= LONGEST_NAME
        and name == name.strip()
        and all(char.isalnum() or char in " -." for char in name)
    )


def nearest_names(name: str, known: Iterable[str], count: int = 3) -> list[str]:
    """The known names most like `name`, the nearest first.

    Parameters
    ----------
    name : str
        As typed.
    known : iterable of str
        The names to choose from.
    count : int
        How many at most. [count]

    Returns
    -------
    list of str
        May be empty.
    """
    from difflib import get_close_matches  # noqa: PLC0415  needed for complaints only

    by_normal = {normal_name(each): each for each in known}
    close = get_close_matches(normal_name(name)[:LONGEST_NAME], by_normal, n=count, cutoff=0.5)
    return [by_normal[each] for each in close]
