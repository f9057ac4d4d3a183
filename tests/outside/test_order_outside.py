"""Intervals of quantiles against published ranks, and against a closed form of their own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from soundergate.studies.worlds.order import quantile, ranks

# Ranks and exact confidence of the interval for a median at 95 %, as in handbooks of nonparametric
# statistics (the table of Nair 1940, Sankhya 4:551, which most reprint; e.g. Conover 1999,
# Practical Nonparametric Statistics, section 3.2, or Dixon & Massey 1983, Introduction to
# Statistical Analysis, table A-25). From memory; confidence to three decimals.
MEDIAN = {
    6: (1, 6, 0.969),
    8: (1, 8, 0.992),
    9: (2, 8, 0.961),
    10: (2, 9, 0.979),
    12: (3, 10, 0.961),
    15: (4, 12, 0.965),
    20: (6, 15, 0.959),
    25: (8, 18, 0.957),
    30: (10, 21, 0.957),
    100: (40, 61, 0.965),
}


@pytest.mark.parametrize("worlds", MEDIAN)
def test_the_median_against_the_table(worlds: int) -> None:
    low, high, confidence = MEDIAN[worlds]
    assert ranks(worlds, 0.5) == (low, high)
    assert quantile(np.arange(float(worlds)), 0.5).coverage == pytest.approx(confidence, abs=5.1e-4)


def test_coverage_is_a_difference_of_beta_distributions() -> None:
    """The u of the r-th of n is beta (r, n + 1 - r) (David & Nagaraja 2003, Order Statistics, eq.
    2.1.5), so P(u_r <= p <= u_s) is known without any binomial."""
    for worlds in (40, 200, 999):
        for share in (0.05, 0.25, 0.5, 0.95):
            found = quantile(np.arange(float(worlds)), share)
            low, high = ranks(worlds, share)
            below = stats.beta.cdf(share, low, worlds + 1 - low) if low else 1.0
            above = stats.beta.cdf(share, high, worlds + 1 - high) if high <= worlds else 0.0
            assert found.coverage == pytest.approx(below - above, abs=1e-12)
            assert found.coverage >= 0.95


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_coverage_measured_on_a_known_distribution(share: float) -> None:
    """2,000 samples of 200 exponential values, whose quantile is -ln(1 - p): covered as often as
    stated, within what chance does once in a million on either side."""
    rng, truth = np.random.default_rng(31), -np.log1p(-share)
    r, s = ranks(200, share)
    ordered = np.sort(rng.exponential(size=(2000, 200)), axis=1)
    covered = int(np.sum((ordered[:, r - 1] <= truth) & (truth <= ordered[:, s - 1])))
    stated = quantile(ordered[0], share).coverage
    few, many = stats.binom.ppf([5e-7, 1 - 5e-7], 2000, stated)
    assert few <= covered <= many
