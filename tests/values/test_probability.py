"""The normal and the chi-square distribution, against scipy's.

An argument that is rounded, by 1e-16 of it, moves exp(-x) by x times that: 1e-13 at the far ends.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special, stats

from netcheck.probability import chi_square_tail, normal_score, normal_share


def test_shares_of_a_normal_distribution() -> None:
    scores = np.linspace(-37.0, 37.0, 1481)
    assert normal_share(scores) == pytest.approx(special.ndtr(scores), rel=1e-12, abs=0.0)
    assert normal_share(0.0) == 0.5
    assert normal_share(scores.reshape(-1, 1)).shape == (1481, 1)


def test_scores_of_shares() -> None:
    small = 10.0 ** np.linspace(-300.0, -1.0, 300)
    shares = np.concatenate((small, np.linspace(0.1, 0.9, 81), 1.0 - small[small > 1e-15]))
    assert normal_score(shares) == pytest.approx(special.ndtri(shares), rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 7, 12, 25, 60])
def test_a_misfit_so_large_by_chance(count: int) -> None:
    for misfit in (0.0, 1e-9, 0.02, 1.0, 5.0, 14.0, 60.0, 300.0, 1200.0, 1e5, np.inf):
        expected = stats.chi2.sf(misfit, count)
        assert chi_square_tail(count, misfit) == pytest.approx(expected, rel=1e-11, abs=1e-300)


def test_a_misfit_that_one_in_twenty_has() -> None:
    """Table 26.8 of Abramowitz and Stegun, from memory: 3.841, 5.991 and 18.307."""
    for count, misfit in ((1, 3.841), (2, 5.991), (10, 18.307)):
        assert chi_square_tail(count, misfit) == pytest.approx(0.05, rel=1e-3)
