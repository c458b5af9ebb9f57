"""The normal and the chi-square distribution, out of the standard library.

scipy has them too, but takes a quarter of a second to read.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_erfc = np.frompyfunc(math.erfc, 1, 1)
_quantile = np.frompyfunc(NormalDist().inv_cdf, 1, 1)


def normal_share(scores: npt.ArrayLike) -> Floats:
    """Share of a normal distribution below its scores.

    Parameters
    ----------
    scores : array_like
        In standard deviations from the mean. [1]
    """
    return np.asarray(_erfc(np.asarray(scores) / -math.sqrt(2.0)), dtype=np.float64) / 2.0


def normal_score(share: npt.ArrayLike) -> Floats:
    """Scores below which these shares of a normal distribution lie.

    Parameters
    ----------
    share : array_like
        Between 0 and 1, both excluded. [1]
    """
    return np.asarray(_quantile(share), dtype=np.float64)


def chi_square_tail(count: int, misfit: float) -> float:
    """Probability of a chi-square beyond a misfit.

    Parameters
    ----------
    count : int
        Degrees of freedom, one or more. [count]
    misfit : float
        Sum of squares. [1]

    References
    ----------
    M. Abramowitz and I. A. Stegun, "Handbook of Mathematical Functions", 1964, 26.4.4 and
    26.4.5: a sum of as many terms as half of the degrees of freedom.
    """
    half = misfit / 2.0
    if half <= 0.0:
        return 1.0
    if math.isinf(half):
        return 0.0
    rest = count % 2 / 2
    tail = math.erfc(math.sqrt(half)) if rest else 0.0
    for k in range(count // 2):
        power = k + rest
        tail += math.exp(power * math.log(half) - half - math.lgamma(power + 1.0))
    return tail
