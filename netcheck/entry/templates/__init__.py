"""The arrangements that can be entered by questions."""

from __future__ import annotations

from ..pieces import Arrangement
from . import pots, supplies

ARRANGEMENTS: tuple[Arrangement, ...] = (*pots.ARRANGEMENTS, *supplies.ARRANGEMENTS)
"""In the order of the list: where the pot is, then how the volts are made."""


def arrangement(key: str) -> Arrangement | None:
    """The arrangement of that key, in any case; None if there is none."""
    return next((a for a in ARRANGEMENTS if a.key == key.lower()), None)
