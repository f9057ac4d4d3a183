"""Fieller's set: against its definition, other methods, an exact case, and how often it covers."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from soundergate.seasons.money.ratios import ratio_of_means

numbers = st.floats(-100, 100).map(lambda v: round(v, 3))
columns = st.integers(3, 25).flatmap(
    lambda n: st.tuples(
        st.lists(numbers, min_size=n, max_size=n), st.lists(numbers, min_size=n, max_size=n)
    )
)
levels = st.sampled_from([0.5, 0.8, 0.95, 0.99])


def spread(x: np.ndarray, y: np.ndarray) -> bool:
    """Whether the two columns vary, and not in step: else rounding decides."""
    if np.ptp(x) < 0.1 or np.ptp(y) < 0.1:
        return False
    return abs(np.corrcoef(x, y)[0, 1]) < 0.999


def t_statistic(x: np.ndarray, y: np.ndarray, ratio: float | np.ndarray) -> np.ndarray:
    """One for each ratio."""
    return stats.ttest_1samp(x - np.multiply.outer(ratio, y), 0.0, axis=-1).statistic


@given(columns, levels)
@settings(max_examples=150, deadline=None)
def test_ends_are_where_the_t_statistic_equals_its_quantile(xy, level):
    """Fieller's theorem itself, with SciPy's one-sample t test as the judge."""
    x, y = (np.array(v) for v in xy)
    assume(spread(x, y))
    found = ratio_of_means(x, y, level)
    quantile = stats.t.ppf((1 + level) / 2, len(x) - 1)
    ends = [end for piece in found.pieces for end in piece if math.isfinite(end)]
    for end in ends:
        assume(abs(end) < 1e6)
        assert abs(t_statistic(x, y, end)) == pytest.approx(quantile, rel=1e-6)
    probes = np.tan(np.linspace(-1.57, 1.57, 41))  # both sides of every end
    for probe, at in zip(probes, np.abs(t_statistic(x, y, probes)), strict=True):
        if all(abs(probe - end) > 1e-6 * (1 + abs(end)) for end in ends):
            assert (probe in found) == (at <= quantile)


@given(columns, levels)
@settings(max_examples=100, deadline=None)
def test_a_set_without_an_end_is_a_divisor_that_may_be_zero(xy, level):
    x, y = (np.array(v) for v in xy)
    assume(spread(x, y))
    test = stats.ttest_1samp(y, 0.0)
    assume(abs(test.pvalue - (1 - level)) > 1e-9)
    found = ratio_of_means(x, y, level)
    assert found.bounded == (test.pvalue < 1 - level)
    assert ("limit" in found.why) == (not found.bounded)


@given(columns, st.floats(0.01, 100), st.floats(0.01, 100))
@settings(max_examples=100, deadline=None)
def test_units_scale_and_signs_turn(xy, k, m):
    x, y = (np.array(v) for v in xy)
    assume(spread(x, y) and abs(y.mean()) > 0.01)
    one, scaled, turned = (ratio_of_means(*pair) for pair in ((x, y), (k * x, m * y), (-x, y)))
    ends, others = np.array(one.pieces), np.array(turned.pieces)
    assume(np.abs(ends[np.isfinite(ends)]).max(initial=0.0) < 1e6)
    assert scaled.estimate == pytest.approx(one.estimate * k / m)
    np.testing.assert_allclose(scaled.pieces, ends * (k / m), rtol=1e-6, atol=1e-9 * k / m)
    np.testing.assert_allclose(others, -ends[::-1, ::-1], rtol=1e-6, atol=1e-9)


@given(columns)
@settings(max_examples=100, deadline=None)
def test_swapped_columns_give_the_reciprocal(xy):
    x, y = (np.abs(v) + 60 for v in (np.array(xy[0]), np.array(xy[1])))
    assume(spread(x, y))
    one, swapped = ratio_of_means(x, y), ratio_of_means(y, x)
    assume(one.bounded and one.low > 0)
    assert 1 / one.estimate == pytest.approx(swapped.estimate)
    assert (1 / one.high, 1 / one.low) == pytest.approx((swapped.low, swapped.high))


def test_a_known_divisor_leaves_the_t_interval():
    x = np.random.default_rng(5).gamma(2.0, 30.0, 40)
    found = ratio_of_means(x, np.full(40, 4.0))
    mean = stats.t.interval(0.95, 39, x.mean(), stats.sem(x))
    assert (found.low, found.high) == pytest.approx((mean[0] / 4, mean[1] / 4))


def test_proportional_columns_leave_nothing_open():
    y = np.arange(1.0, 20.0)
    found = ratio_of_means(7.3 * y, y)
    assert (found.low, found.high) == pytest.approx((7.3, 7.3), rel=1e-12)
    assert found.low <= found.estimate <= found.high


def campaigns(rng: np.random.Generator, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Invented: costs that rise with nights, catches that are often none."""
    nights = rng.geometric(0.15, n)
    return 120 + 35 * nights + rng.normal(0, 10, n), rng.binomial(9, 0.6, n) * (rng.random(n) < 0.8)


def delta(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """The delta method's half width, and Fieller's q^2 syy / my^2."""
    ratio = x.mean() / y.mean()
    half = 1.959963984540054 * stats.sem(x - ratio * y) / y.mean()
    return float(half), float((1.96 * stats.sem(y) / y.mean()) ** 2)


@pytest.mark.parametrize("n", [400, 40_000])
def test_many_campaigns_agree_with_the_delta_method(n):
    """Fieller's limits differ from the delta method's to first order in v = q^2 syy / my^2.

    The centre moves by (v - w) / (1 - v) of the ratio and the width grows by about v / 2 of
    itself; w, the covariance term, is as large as sqrt(v u). Four times sqrt(v) of a half width is
    a bound with room; at 40,000 campaigns it is under 2 % of one.
    """
    x, y = campaigns(np.random.default_rng(8), n)
    found, (half, v) = ratio_of_means(x, y), delta(x, y)
    room = 4 * math.sqrt(v) * half
    assert found.low == pytest.approx(found.estimate - half, abs=room)
    assert found.high == pytest.approx(found.estimate + half, abs=room)
    if n == 40_000:
        assert room < 0.03 * 2 * half


def test_agrees_with_scipys_bootstrap():
    """Percentile ends have a Monte Carlo sd of sqrt(p q / B) / density = 0.027 standard errors.

    B = 9,999, p = 0.025; five of them, and as much again for skewness of n = 800.
    """
    x, y = campaigns(np.random.default_rng(9), 800)
    boot = stats.bootstrap(
        (x, y),
        lambda a, b, axis=-1: a.mean(axis=axis) / b.mean(axis=axis),
        paired=True,
        n_resamples=9999,
        batch=500,
        method="BCa",
        rng=np.random.default_rng(1),
    )
    found, room = ratio_of_means(x, y), 0.27 * boot.standard_error
    assert found.low == pytest.approx(boot.confidence_interval.low, abs=room)
    assert found.high == pytest.approx(boot.confidence_interval.high, abs=room)
    assert found.interval == (found.low, found.high, found.level)
    assert found.low < found.estimate < found.high


def test_close_to_the_example_of_a_published_package():
    """Eight pairs of the R package statpsych's documentation of ci.ratio.mean.ps.

    It prints 1.134146 (1.09417 to 1.175583), by another method: t on the log scale (Bonett and
    Price 2020). With v under 0.02 the two differ by a small part of the width; a twentieth is
    allowed.
    """
    y1 = [3.3, 3.6, 3.0, 3.1, 3.9, 4.2, 3.5, 3.3]
    y2 = [3.0, 3.1, 2.7, 2.6, 3.2, 3.8, 3.2, 3.0]
    found = ratio_of_means(y1, y2)
    assert found.estimate == pytest.approx(1.134146, abs=5e-7)
    room = (1.175583 - 1.09417) / 20
    assert (found.low, found.high) == pytest.approx((1.09417, 1.175583), abs=room)


@pytest.mark.parametrize(("mean", "some_unbounded"), [(3.0, False), (0.25, True)])
def test_covers_as_often_as_stated(mean, some_unbounded):
    """Jointly normal columns, where the theorem is exact, whether or not the set has ends.

    4,000 samples of 12, seed fixed. The count is binomial; limits of 4.5 standard errors are
    passed wrongly by about 7 in a million correct programs.
    """
    rng, runs, n, level = np.random.default_rng(2024), 4000, 12, 0.9
    hits = unbounded = 0
    for _ in range(runs):
        y = rng.normal(mean, 1.0, n)
        x = rng.normal(5.0 - 0.6 * mean, 2.0, n) + 0.6 * y
        found = ratio_of_means(x, y, level)
        hits += 5.0 / mean in found
        unbounded += not found.bounded
    assert abs(hits / runs - level) < 4.5 * math.sqrt(level * (1 - level) / runs)
    assert (unbounded > 0.5 * runs) == some_unbounded


def test_the_mean_of_ratios_would_not_cover():
    """Negative control: t on each campaign's own ratio answers another question."""
    rng, runs, hits = np.random.default_rng(3), 300, 0
    for _ in range(runs):
        y = rng.integers(1, 10, 40)
        x = 100 + 10.0 * y + rng.normal(0, 10, 40)
        low, high = stats.t.interval(0.95, 39, (x / y).mean(), stats.sem(x / y))
        hits += low <= 150 / 5 <= high
    assert hits < 0.5 * runs


def test_costs_per_pig_are_not_below_nothing():
    x, y = np.array([0.0, 0.0, 1.0, 30.0]), np.array([0.0, 1.0, 0.0, 2.0])
    free, kept = ratio_of_means(x, y), ratio_of_means(x, y, at_least=0.0)
    assert free.low == -math.inf
    assert kept.low >= 0
    assert kept.high == math.inf
    assert kept.why == "no upper limit: at 95 % the mean of y may be 0"
    assert kept.to_json() == {
        "estimate": pytest.approx(31 / 3),
        "low": kept.low,
        "high": None,
        "level": 0.95,
        "why": kept.why,
    }


def test_too_little_to_go_by_is_said():
    for x, y, why in (
        ([], [], "no campaigns"),
        ([5.0, 6.0], [0.0, 0.0], "the mean of y is 0"),
        ([5.0], [2.0], "one campaign has no known spread"),
        ([5.0, 5.0], [2.0, 2.0], "campaigns that are all alike have no known spread"),
    ):
        found = ratio_of_means(x, y)
        assert found.why == why
        assert math.isnan(found.low)
        assert not found.bounded
    assert ratio_of_means([5.0, 5.0], [2.0, 2.0]).estimate == 2.5
    cancelled = ratio_of_means([1.0, 2.0, 4.0], [-1.0, 0.0, 1.0])
    assert math.isnan(cancelled.estimate)
    assert cancelled.why.startswith("the mean of y is 0; no ")


def test_bad_columns_are_refused():
    for x, y, words in (
        ([1.0, 2.0], [1.0], "x and y differ in number: 2 and 1"),
        ([1.0, math.nan], [1.0, 2.0], "x has nan or infinity in it"),
        ([[1.0]], [1.0], r"x has shape \(1, 1\)"),
    ):
        with pytest.raises(ValueError, match=words):
            ratio_of_means(x, y)
    with pytest.raises(ValueError, match=r"level is 1\.5"):
        ratio_of_means([1.0, 2.0], [1.0, 2.0], 1.5)


def test_large_and_small_units_do_no_harm():
    x, y = campaigns(np.random.default_rng(4), 50)
    one = ratio_of_means(x, y)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        far = ratio_of_means(x * 1e200, y * 1e-100)
    assert far.high == pytest.approx(one.high * 1e300)
