"""Quantiles over worlds: against tables, exact sums, and coverage as measured."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from scipy import stats

from soundergate.studies.worlds.order import quantile, ranks


@pytest.mark.parametrize(
    ("n", "low", "high"), [(6, 1, 6), (10, 2, 9), (20, 6, 15), (25, 8, 18), (50, 18, 33)]
)
def test_ranks_of_the_median_are_those_of_tables(n, low, high):
    """95 % for the median, as printed in tables of the sign test (Dixon and Mood 1946; Conover
    1999, table of 3.2; from memory): the largest symmetrical ranks with tails of 2.5 % at most."""
    assert ranks(n, 0.5) == (low, high)


def test_too_few_worlds_have_no_end():
    """Fewer than 59 values say nothing of an upper bound for the 95 % point one-sided at 95 %
    (Wilks 1941: 0.95^59 < 0.05); at tails of 2.5 % it takes 72."""
    assert ranks(59, 0.95, 0.90)[1] == 59
    assert ranks(58, 0.95, 0.90)[1] == 59  # none: one beyond the last
    assert ranks(72, 0.95)[1] == 72
    assert ranks(71, 0.95)[1] == 72
    few = quantile(np.arange(20.0), 0.05)
    assert few.low == -math.inf
    assert few.to_json()["low"] is None
    json.dumps(few.to_json(), allow_nan=False)


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
@pytest.mark.parametrize("n", [80, pytest.param(200, marks=pytest.mark.slow)])
def test_it_covers_as_often_as_it_says(share, n):
    """Of 1,000 samples the share that covers is the stated coverage to four standard errors, on a
    skewed distribution: a false alarm once in 16,000."""
    rng = np.random.default_rng(7)
    true = stats.lognorm.ppf(share, 1.3)
    found = [quantile(rng.lognormal(0, 1.3, n), share) for _ in range(1000)]
    hits = np.mean([one.low <= true < one.high for one in found])
    wanted = found[0].coverage
    assert wanted >= 0.95
    assert hits == pytest.approx(wanted, abs=4 * math.sqrt(wanted * (1 - wanted) / 1000))


def test_an_interval_that_is_too_narrow_would_fail():
    """Negative control: the ranks of a 60 % interval cover in far fewer samples."""
    rng = np.random.default_rng(7)
    hits = np.mean(
        [
            one.low <= 0.05 < one.high
            for one in (quantile(rng.random(200), 0.05, 0.60) for _ in range(1000))
        ]
    )
    assert hits < 0.85


def test_the_estimate_is_numpys_and_lies_within():
    values = np.random.default_rng(1).normal(size=200)
    for share in (0.05, 0.5, 0.95):
        one = quantile(values, share)
        assert one.estimate == np.quantile(values, share)
        assert one.low <= one.estimate <= one.high


@pytest.mark.parametrize(
    ("values", "share", "level"), [([], 0.5, 0.95), ([1], 0, 0.95), ([1], 1, 0.9), ([1], 0.5, 1)]
)
def test_what_cannot_be_asked_is_refused(values, share, level):
    with pytest.raises(ValueError, match="values"):
        quantile(np.array(values, dtype=float), share, level)
