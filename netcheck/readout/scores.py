"""Standard normal scores that fill the space evenly, for chassis that are drawn at random."""

from __future__ import annotations

import numpy as np

from ..engine.elements import Floats
from ..probability import normal_score


def even_scores(draws: int, size: int, seed: int) -> Floats:
    """A Latin square of scores: each coordinate takes every part of its range equally often.

    Parameters
    ----------
    draws : int
        Chassis. [count]
    size : int
        Coordinates of each. [count]
    seed : int
        The same seed gives the same scores on every run.

    Returns
    -------
    array, shape (draws, size)
        Standard normal scores. [1]

    References
    ----------
    M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21 (1979), 239-245.
    """
    rng = np.random.default_rng(seed)
    order = rng.permuted(np.tile(np.arange(draws), (size, 1)), axis=1).T
    even: Floats = normal_score((np.arange(draws) + 0.5) / draws)[order]
    return even
