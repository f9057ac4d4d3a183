"""Intervals against a reference library and against published worked examples."""

import numpy as np
import pytest
from scipy import stats

from soundergate.studies.estimates.intervals import (
    bootstrap_mean,
    clopper_pearson,
    mean_t,
    paired_proportions,
    wilson,
)

GRID = [(0, 1), (1, 1), (0, 20), (3, 10), (1, 29), (15, 148), (81, 263), (1000, 1000), (7, 9999)]


@pytest.mark.parametrize("level", [0.8, 0.95, 0.999])
@pytest.mark.parametrize(("k", "n"), GRID)
def test_shares_against_scipy(k, n, level):
    """scipy.stats.binomtest(k, n).proportion_ci, methods "wilson" and "exact"."""
    test = stats.binomtest(k, n)
    for ours, method in ((wilson, "wilson"), (clopper_pearson, "exact")):
        theirs = test.proportion_ci(level, method=method)
        assert ours(k, n, level)[:2] == pytest.approx((theirs.low, theirs.high), abs=1e-9)


# Newcombe RG (1998), Two-sided confidence intervals for the single proportion: comparison of
# seven methods, Stat. Med. 17:857-872, Table I: four worked examples at 95 %, four decimals,
# quoted from memory.
NEWCOMBE_SINGLE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]


@pytest.mark.parametrize(("k", "n", "score", "exact"), NEWCOMBE_SINGLE)
def test_shares_against_newcombe_table_one(k, n, score, exact):
    assert wilson(k, n)[:2] == pytest.approx(score, abs=5.1e-5)
    assert clopper_pearson(k, n)[:2] == pytest.approx(exact, abs=5.1e-5)


def test_paired_proportions_against_a_textbook():
    """Complete response before and after consolidation therapy, 161 patients: 59, 6, 16, 80.

    Fagerland, Lydersen & Laake, Statistical Analysis of Contingency Tables (2017), chapter 8; the
    limits are those in the tests of its companion R package contingencytables (chapter 8,
    Newcombe square-and-add interval): -0.0621 (-0.1186 to -0.0046).
    """
    low, high, _ = paired_proportions(59, 6, 16, 80)
    assert (low, high) == pytest.approx((-0.1186, -0.0046), abs=5.1e-5)


def test_paired_t_against_student_1908():
    """Hours of extra sleep under two drugs, ten patients; Student (1908), Biometrika 6:1-25.

    Mean difference 1.58, s.d. 1.23 (divisor n - 1), t = 4.06 on 9 degrees; the 95 % interval
    0.70 to 2.46 is what R prints for its data set "sleep" (from memory).
    """
    one = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
    two = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
    low, high, _ = mean_t(np.subtract(two, one))
    assert (low + high) / 2 == pytest.approx(1.58)
    assert (low, high) == pytest.approx((0.7001142, 2.4598858), abs=1e-6)


@pytest.mark.parametrize("level", [0.8, 0.95, 0.999])
def test_means_against_scipy(level):
    """scipy.stats.ttest_1samp and ttest_rel .confidence_interval."""
    rng = np.random.default_rng(11)
    x, y = rng.gamma(2.0, 3.0, 57), rng.gamma(2.0, 3.0, 57)
    one = stats.ttest_1samp(x, 0).confidence_interval(level)
    two = stats.ttest_rel(x, y).confidence_interval(level)
    assert mean_t(x, level)[:2] == pytest.approx((one.low, one.high), rel=1e-9)
    assert mean_t(x - y, level)[:2] == pytest.approx((two.low, two.high), rel=1e-9)


def test_bootstrap_against_t_interval_of_skewed_data():
    """BCa corrects for skew: both limits lie above those of the symmetric interval (Efron 1987,
    J. Am. Stat. Assoc. 82:171, second-order correctness)."""
    x = np.random.default_rng(5).exponential(1.0, 40)
    t, b = mean_t(x, 0.95), bootstrap_mean(x, 0.95, seed=1)
    assert b.low > t.low
    assert b.high > t.high
