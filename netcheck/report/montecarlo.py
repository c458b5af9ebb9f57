"""Chassis drawn at random beside the computed band, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..montecarlo import Scatter
from ..quantity import Dimension, show
from ..travel import Prediction
from .tables import paragraph, table

_MAKES_MOST = 0.5  # of the variance; with less the formula for a sum holds well [1]


def table_of(p: Prediction, group: Sequence[int]) -> list[str]:
    """The two bands of some watched nodes that are alike; nothing if no chassis were drawn.

    Parameters
    ----------
    p : Prediction
        The prediction.
    group : sequence of int
        Columns of the nodes. [count]
    """
    drawn = p.scatter
    if drawn is None:
        return []
    k, band = group[0], p.band
    wider = [side[:, k] for side in drawn.beyond(band)]
    rows = []
    for n, at in enumerate(p.travel):
        rows.append([
            f"{at * 100:.0f} %",
            _range(band.low_95[n, k], band.high_95[n, k]),
            _range(drawn.low[n, k], drawn.high[n, k]),
            f"{_open(drawn, n, k):.2f} V",
            *(f"{side[n]:+.2f} V" if abs(side[n]) >= 5e-3 else "" for side in wider),
        ])  # fmt: skip
    names = ", ".join(p.watched[i] for i in group)
    title = (f"{names}: 95 of 100 chassis as computed, and of {drawn.samples} drawn at random "
             f"(seed {drawn.seed}). Open by: what so many leave open of their limits.")  # fmt: skip
    head = [" and ".join(p.swept) or "no pot", "computed", "drawn", "open by", "lower", "upper"]
    if any(row[4] or row[5] for row in rows):
        title += " Lower, upper: by how much more the computed limits lie outside of the drawn."
    else:
        head, rows = head[:4], [row[:4] for row in rows]
    return [*paragraph(title), *table(head, rows), *paragraph(verdict(p, k))]


def _range(low: float, high: float) -> str:
    return f"{low:.2f} to {high:.2f} V".replace("-0.00", "0.00")


def _open(drawn: Scatter, n: int, k: int) -> float:
    """Half the widest interval in which a limit may lie. [V]"""
    both = (drawn.low_within, drawn.high_within)
    return max(0.5 * float(above[n, k] - below[n, k]) for below, above in both)


def verdict(p: Prediction, k: int) -> str:
    """Whether the two bands of a watched node agree, and if not why.

    Parameters
    ----------
    p : Prediction
        A prediction with chassis drawn at random.
    k : int
        Column of the node. [count]
    """
    assert p.scatter is not None
    off = np.stack([side[:, k] for side in p.scatter.beyond(p.band)])
    if not np.any(np.abs(off) >= 5e-3):
        return "Both agree within what so many samples leave open."
    side, n = np.unravel_index(int(np.argmax(np.abs(off))), off.shape)
    width = float(p.band.high_95[n, k] - p.band.low_95[n, k])
    most = float(off[side, n])
    said = (f"They part by up to {show(abs(most), Dimension.VOLT, 2)} more than sampling explains, "
            f"{abs(most) / width * 100:.1f} % of the width, the computed band being the "
            f"{'wider' if most > 0 else 'narrower'} one.")  # fmt: skip
    name, share = _largest(p, int(n), k)
    if most > 0 and share >= _MAKES_MOST:
        said += (f" {name} alone makes {share * 100:.0f} % of the variance there: the formula for "
                 "a sum of several parts makes too much of one.")  # fmt: skip
    return said


def _largest(p: Prediction, n: int, k: int) -> tuple[str, float]:
    """The part that spreads a node most, and its share of the variance."""
    squares = {name: float(effect[n, k]) ** 2 for name, effect in p.band.effects.items()
               if name != "mains"}  # fmt: skip
    total = sum(squares.values())
    name = max(squares, key=lambda one: squares[one], default="")
    return name, squares[name] / total if total else 0.0
