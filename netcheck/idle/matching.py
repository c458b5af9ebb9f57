"""Whether output valves that work together idle alike, and which ones part company.

Compared are cathode currents, as read. Common practice takes a few milliamps between the two
valves of a pair; that is put here as a tenth of the mean, and not less than 3 mA.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import fmean, median

MATCH_SHARE = 0.10
"""Difference that is acceptable, of the mean current. [1]"""

MATCH_LEAST = 3e-3
"""Difference that is acceptable at any current. [A]"""

MOST_VALVES = 12
"""No output stage that is set valve by valve has more. [count]"""


@dataclass(frozen=True, slots=True)
class Split:
    """The valves of a push-pull stage on the two sides of the output transformer.

    Parameters
    ----------
    one, other : tuple of int
        Positions of the valves on each side, the first is 0. [count]
    difference : float
        Current of one side less that of the other, without its sign. [A]
    allowed : float
        Difference that is acceptable between the sides. [A]
    """

    one: tuple[int, ...]
    other: tuple[int, ...]
    difference: float
    allowed: float

    @property
    def balanced(self) -> bool:
        """Whether the difference is acceptable."""
        return self.difference <= self.allowed


@dataclass(frozen=True, slots=True)
class Match:
    """How well valves match.

    Parameters
    ----------
    spread : float
        Largest current less the smallest. [A]
    allowed : float
        Spread that is acceptable. [A]
    splits : tuple of Split
        Ways to put the valves on two sides, the one that balances best first; empty for a
        pair and for an odd number.
    odd_ones : tuple of int
        Positions of the valves of which any single one spoils the match, that farthest from
        the others first; empty for a pair, for valves that match, and where the removal of
        one valve is not enough. [count]
    """

    spread: float
    allowed: float
    splits: tuple[Split, ...]
    odd_ones: tuple[int, ...]

    @property
    def matched(self) -> bool:
        """Whether the spread is acceptable."""
        return self.spread <= self.allowed

    @property
    def best(self) -> Split | None:
        """The split that balances best, the present one where it is as good."""
        return self.splits[0] if self.splits else None

    @property
    def present(self) -> Split | None:
        """The split with the first half of the valves on one side."""
        return next((split for split in self.splits if _is_present(split)), None)

    @property
    def telling(self) -> tuple[Split, ...]:
        """The splits worth showing: all of four valves, else the best and the present one."""
        if len(self.splits) <= 3 or self.present is None:
            return self.splits
        return tuple(dict.fromkeys((self.splits[0], self.present)))


def allowed_difference(i_mean: float) -> float:
    """The difference between two currents that is acceptable.

    Parameters
    ----------
    i_mean : float
        Their mean. [A]

    Returns
    -------
    float
        The difference. [A]
    """
    return max(MATCH_LEAST, MATCH_SHARE * i_mean)


def match(currents: Sequence[float]) -> Match:
    """Compare valves.

    Parameters
    ----------
    currents : sequence of float
        Two cathode currents or more, in the order of the sockets, those of one side of the
        output transformer before those of the other. [A]

    Returns
    -------
    Match
        The verdict.

    Raises
    ------
    ValueError
        If there are fewer than two.
    """
    if len(currents) < 2:
        raise ValueError("one valve cannot be matched")
    spread, allowed = _spread(currents), allowed_difference(fmean(currents))
    return Match(spread, allowed, _splits(currents), _odd_ones(currents, spread > allowed))


def exchanges(now: Split, wanted: Split) -> list[tuple[int, int]]:
    """Which valves change places to come from one split to another, as few as possible.

    Parameters
    ----------
    now, wanted : Split
        Of the same valves.

    Returns
    -------
    list of tuple of int
        Pairs of positions; empty if nothing changes.
    """
    ways = []
    for side in (wanted.one, wanted.other):
        leaving = sorted(set(now.one) - set(side))
        coming = sorted(set(side) - set(now.one))
        ways.append(list(zip(leaving, coming, strict=True)))
    return min(ways, key=len)


def _spread(currents: Sequence[float]) -> float:
    return max(currents) - min(currents)


def _splits(currents: Sequence[float]) -> tuple[Split, ...]:
    """All ways to make two equal sides; the first valve is always on side one."""
    count = len(currents)
    if count < 4 or count % 2:
        return ()
    found = []
    for rest in combinations(range(1, count), count // 2 - 1):
        one = (0, *rest)
        other = tuple(k for k in range(count) if k not in one)
        sums = [sum(currents[k] for k in side) for side in (one, other)]
        found.append(Split(one, other, abs(sums[0] - sums[1]), allowed_difference(fmean(sums))))
    # Rounded, so that noise of arithmetic does not decide between equals.
    return tuple(sorted(found, key=lambda s: (round(s.difference, 9), not _is_present(s), s.one)))


def _is_present(split: Split) -> bool:
    return split.one == tuple(range(len(split.one)))


def _odd_ones(currents: Sequence[float], spoiled: bool) -> tuple[int, ...]:
    if not spoiled or len(currents) < 3:
        return ()
    middle = median(currents)
    found = []
    for k in range(len(currents)):
        others = [*currents[:k], *currents[k + 1 :]]
        if _spread(others) <= allowed_difference(fmean(others)):
            found.append(k)
    return tuple(sorted(found, key=lambda k: -abs(currents[k] - middle)))
