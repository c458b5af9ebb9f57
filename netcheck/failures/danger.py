"""How dangerous an outcome is to the valves."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

import numpy as np

from ..engine.elements import Floats
from .bench import Bench, Outcome

NEARLY_NOTHING = 0.1
"""A grid with less of the bias that it has while all is well has none to speak of. [1]"""
V_NONE = 0.1
"""A grid that is not this far below ground has no bias to lose. [V]"""
LEFT = 2.0 / 3.0
"""Of the bias: with less than that, a valve that idled in the window is over its limit. So with
every type in the tables at 300 V on the plate and more; the higher the volts the sooner. [1]"""
NOTICEABLE = 0.05
"""Of the dissipation limit: a smaller change is harmless. [1]"""
V_NOTICEABLE = 0.03
"""The same of the grid voltage, where a valve's current cannot be told. [1]"""


class Danger(Enum):
    """What an outcome means for a valve, the most dangerous first.

    The worst of the two ends of the travel and where the pot stands counts, each against the
    same position while all is well.
    """

    NO_BIAS = "no bias"
    """The grid floats, or less than a tenth of its bias is left: the valve destroys itself within
    seconds. A position at which the pot leaves no more anyway does not count."""
    OVER = "over the limit"
    """The plate dissipates more than its limit, and at least 5 % of it more than before; a position
    at which the pot takes the valve beyond its limit anyway counts only if the pot stands there.
    Where the current cannot be told: less than two thirds of the bias is left."""
    HOT = "too hot"
    """Above the window, and at least 5 % of the limit more than before. Where the current
    cannot be told: the grid is less negative by 3 %."""
    UNKNOWN = "not known"
    """The drawing or the simulation does not tell."""
    COLD = "too cold"
    """At least 5 % of the limit less than before, and below the window: no harm to the valve."""
    HARMLESS = "harmless"
    """Nothing to speak of changes; there may be hum."""

    @property
    def rank(self) -> int:
        """0 for the most dangerous. [count]"""
        return list(Danger).index(self)

    @property
    def is_dangerous(self) -> bool:
        """Whether a valve is lost to it."""
        return self in (Danger.NO_BIAS, Danger.OVER)


def dangers(bench: Bench, sound: Outcome, outcome: Outcome, window: tuple[float, float]
            ) -> dict[str, Danger]:  # fmt: skip
    """What an outcome means for each valve, or for each watched node where none is drawn.

    Those that have no bias as drawn are left out: they have nothing to lose.

    Parameters
    ----------
    bench : Bench
        The bench.
    sound, outcome : Outcome
        While all is well, and with the failure.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    """
    watched = bench.section.watched
    found: dict[str, Danger] = {}
    for k, node in enumerate(watched):
        if not has_bias(bench, sound, node):
            continue
        for name in names_at(bench, node):
            if outcome.trouble:
                found[name] = Danger.UNKNOWN
            elif node in outcome.floats:
                found[name] = Danger.NO_BIAS
            else:
                found[name] = _danger(
                    (sound.mean[:, k], outcome.mean[:, k]),
                    _shares(sound.of_limit, outcome.of_limit, name),
                    window,
                    bench.now,
                )
    return found


def names_at(bench: Bench, node: str) -> list[str]:
    """The valves at a watched node, or its own name where none is drawn."""
    return [valve.name for valve in bench.section.grids.get(node, [])] or [node]


def has_bias(bench: Bench, sound: Outcome, node: str) -> bool:
    """Whether a watched node is negative as drawn, where the pot stands."""
    volts = sound.mean[bench.now, bench.section.watched.index(node)]
    return node not in sound.floats and bool(volts < -V_NONE)


def _shares(before: Mapping[str, Floats], after: Mapping[str, Floats], name: str
            ) -> tuple[Floats, Floats] | None:  # fmt: skip
    return (before[name], after[name]) if name in before else None


def _danger(volts: tuple[Floats, Floats], shares: tuple[Floats, Floats] | None,
            window: tuple[float, float], stands: int) -> Danger:  # fmt: skip
    before, after = volts
    had = np.abs(before) > NEARLY_NOTHING * np.max(np.abs(before))
    lost = (after > -NEARLY_NOTHING * np.abs(before)) & (after > before + V_NONE)
    if np.any(lost & (had | (after > V_NONE))):
        return Danger.NO_BIAS
    return _by_volts(before, after) if shares is None else _by_share(*shares, window, stands)


def _by_volts(before: Floats, after: Floats) -> Danger:
    """The danger to a valve whose current cannot be told."""
    bias = np.abs(before)
    if np.any(after > before + np.maximum((1.0 - LEFT) * bias, V_NONE)):
        return Danger.OVER
    least = np.maximum(V_NOTICEABLE * bias, V_NONE)
    if np.any(after > before + least):
        return Danger.HOT
    return Danger.COLD if np.any(after < before - least) else Danger.HARMLESS


def _by_share(was: Floats, now: Floats, window: tuple[float, float], stands: int) -> Danger:
    """The danger to a valve of which the dissipation is known, in shares of its limit."""
    more, less = now > was + NOTICEABLE, now < was - NOTICEABLE
    counts = was <= 1.0
    counts[stands] = True
    if np.any(more & counts & (now > 1.0)):
        return Danger.OVER
    if np.any(more & (now > window[1])):
        return Danger.HOT
    return Danger.COLD if np.any(less & (now < window[0])) else Danger.HARMLESS


def worst(found: Mapping[str, Danger]) -> Danger:
    """The most dangerous of several."""
    return min(found.values(), key=lambda danger: danger.rank, default=Danger.HARMLESS)
