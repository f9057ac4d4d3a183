"""Intervals: identities that hold for all data, and honest answers where data degenerate."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soundergate.studies.estimates.intervals import (
    Interval,
    bonferroni,
    bootstrap_mean,
    clopper_pearson,
    mean_t,
    mean_t_from,
    paired_proportions,
    wilson,
)

levels = st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99, 0.999])
SHARES = [wilson, clopper_pearson]


@st.composite
def counts(draw):
    n = draw(st.integers(min_value=1, max_value=3000))
    return draw(st.integers(min_value=0, max_value=n)), n


@pytest.mark.parametrize("share", SHARES)
@given(kn=counts(), level=levels)
@settings(max_examples=60, deadline=None)
def test_share_lies_inside_mirrors_and_nests(share, kn, level):
    k, n = kn
    low, high, stated = share(k, n, level)
    assert stated == level
    assert 0 <= low <= k / n <= high <= 1
    mirror = share(n - k, n, level)
    assert mirror.low == pytest.approx(1 - high, abs=1e-12)
    assert mirror.high == pytest.approx(1 - low, abs=1e-12)
    wider = share(k, n, 1 - (1 - level) / 2)
    assert wider.low <= low
    assert wider.high >= high


def test_wilson_limits_solve_the_score_equation():
    """Each limit p satisfies (k/n - p)^2 = z^2 p (1 - p) / n, by definition."""
    z2 = 1.959963984540054**2
    for k, n in [(3, 10), (1, 29), (81, 263), (999, 1000)]:
        for p in wilson(k, n)[:2]:
            assert (k / n - p) ** 2 == pytest.approx(z2 * p * (1 - p) / n, rel=1e-9)


@given(st.lists(st.integers(min_value=0, max_value=40), min_size=2, max_size=50), levels, st.data())
@settings(max_examples=60, deadline=None)
def test_an_interval_of_differences_changes_sign(x, level, data):
    y = data.draw(st.lists(st.integers(0, 40), min_size=len(x), max_size=len(x)))
    there, back = mean_t(np.subtract(x, y), level), mean_t(np.subtract(y, x), level)
    assert there.low == pytest.approx(-back.high, nan_ok=True)


@given(
    st.tuples(*[st.integers(min_value=0, max_value=300)] * 4).filter(lambda c: sum(c) > 0), levels
)
@settings(max_examples=80, deadline=None)
def test_paired_proportions_contain_the_estimate_and_change_sign(cells, level):
    both, only_a, only_b, neither = cells
    there = paired_proportions(both, only_a, only_b, neither, level)
    back = paired_proportions(both, only_b, only_a, neither, level)
    estimate = (only_a - only_b) / sum(cells)
    assert -1 <= there.low <= estimate + 1e-12
    assert estimate - 1e-12 <= there.high <= 1
    assert there.low == pytest.approx(-back.high, abs=1e-12)


def test_pairing_narrows_when_nights_agree():
    agree = paired_proportions(48, 4, 2, 46)
    unrelated = paired_proportions(26, 26, 24, 24)
    assert agree.half_width < unrelated.half_width / 2


def test_no_nights_at_all():
    assert wilson(0, 0) == (0, 1, 0.95)
    assert clopper_pearson(0, 0) == (0, 1, 0.95)
    assert paired_proportions(0, 0, 0, 0) == (-1, 1, 0.95)
    assert np.isnan(mean_t([])[:2]).all()
    assert np.isnan(bootstrap_mean([])[:2]).all()


def test_one_night_tells_a_share_little_and_a_mean_nothing():
    assert wilson(1, 1).low == pytest.approx(0.2065, abs=5e-5)
    assert clopper_pearson(1, 1).low == pytest.approx(0.025)
    assert np.isnan(mean_t([0.5], bounds=(0, 1))[:2]).all()


@pytest.mark.parametrize("mean", [mean_t, bootstrap_mean])
def test_nights_that_are_all_the_same_do_not_claim_certainty(mean):
    assert np.isnan(mean([2.0, 2.0, 2.0])[:2]).all()
    assert mean([1.0] * 20, bounds=(0, 1)) == pytest.approx(clopper_pearson(20, 20))
    low, high, _ = mean([4.0] * 20, bounds=(0, 10))
    assert 0 < low < 4 < high < 10
    differ = 1 - 0.025 ** (1 / 20)
    assert (low, high) == pytest.approx((4 - 4 * differ, 4 + 6 * differ))


def test_means_are_clipped_to_what_the_measure_can_be():
    assert mean_t([1, 1, 1, 0.9], bounds=(0, 1)).high == 1
    assert mean_t([1, 1, 1, 0.9]).high > 1


def test_bootstrap_is_repeatable_and_near_t_for_many_nights():
    x = np.random.default_rng(3).normal(5, 2, 400)
    first = bootstrap_mean(x, seed=9)
    assert first == bootstrap_mean(x, seed=9)
    assert first != bootstrap_mean(x, seed=10)
    assert first.low == pytest.approx(mean_t(x).low, abs=0.03)
    assert first.high == pytest.approx(mean_t(x).high, abs=0.03)


@given(levels, st.integers(min_value=1, max_value=200))
def test_family_levels(level, count):
    """Bonferroni's is no less strict than what would do for independent intervals (Sidak 1967)."""
    strict = bonferroni(level, count)
    assert bonferroni(level, 1) == pytest.approx(level)
    assert count * (1 - strict) == pytest.approx(1 - level)
    assert level ** (1 / count) <= strict + 1e-12 < 1 + 1e-12


@pytest.mark.parametrize("level", [0, 1, 95, -0.1, math.nan])
def test_levels_outside_zero_and_one_are_refused(level):
    calls = [
        lambda: wilson(1, 2, level),
        lambda: clopper_pearson(1, 2, level),
        lambda: mean_t([1, 2, 3], level),
        lambda: bootstrap_mean([1, 2, 3], level),
        lambda: paired_proportions(0, 1, 0, 0, level),
        lambda: paired_proportions(0, 0, 0, 0, level),
        lambda: bonferroni(level, 2),
    ]
    for call in calls:
        with pytest.raises(ValueError, match="between 0 and 1"):
            call()


def test_impossible_data_are_refused():
    with pytest.raises(ValueError, match="3 nights of 2"):
        wilson(3, 2)
    with pytest.raises(ValueError, match="-1 nights"):
        clopper_pearson(-1, 2)
    with pytest.raises(ValueError, match="nan or infinity"):
        mean_t([1, math.nan])
    with pytest.raises(ValueError, match="negative"):
        paired_proportions(1, -1, 0, 0)
    with pytest.raises(ValueError, match="shape"):
        mean_t([[1, 2]])
    with pytest.raises(ValueError, match="at least one"):
        bonferroni(0.95, 0)


def test_interval_unpacks_and_knows_its_half_width():
    low, high, level = Interval(1.0, 3.0, 0.9)
    assert (low, high, level) == (1, 3, 0.9)
    assert mean_t_from(10, 0.5, 0.04).half_width == pytest.approx(2.2621571628 * 0.2 / 10**0.5)


def test_a_negative_correlation_is_taken_as_it_is():
    """Newcombe's phi is Pearson's correlation of the two answers, lessened only where it is above
    0: of answers that seldom agree NumPy's correlation gives the very limits."""
    both, only_a, only_b, neither = 1, 9, 7, 2
    a = np.array([1] * both + [1] * only_a + [0] * only_b + [0] * neither)
    b = np.array([1] * both + [0] * only_a + [1] * only_b + [0] * neither)
    phi = np.corrcoef(a, b)[0, 1]
    assert phi < -0.5
    (low_a, high_a, _), (low_b, high_b, _) = wilson(10, 19), wilson(8, 19)
    up, down = 10 / 19 - low_a, high_b - 8 / 19
    below = np.sqrt(up**2 - 2 * phi * up * down + down**2)
    low, high, _ = paired_proportions(both, only_a, only_b, neither)
    assert low == pytest.approx(2 / 19 - below)
    assert high - low > (high_a - low_a) + (high_b - low_b) - 0.2  # opposed: wider, never narrower
