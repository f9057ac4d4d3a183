"""Confidence intervals from one number a night.

Yes/no a night: Wilson's score interval, or Clopper and Pearson's where at least the stated level
is wanted whatever the truth. Means over nights: Student's t, or the bootstrap. Differences on
common nights: t on the per-night differences, or Newcombe's interval for paired proportions.

What cannot be below 0 or above 1 has no limit there. The mean of such a measure gets t limits on
the scale of its log-odds between its bounds, or of its logarithm where only one side has a bound
(`mean_within`); with many nights those are the plain t limits. Differences are cut off at what they
can be, which never costs coverage. No interval covers what the nights have not met: of few nights
of a rare and large event it covers less than its level (tests/studies/test_support.py measures how
much).

Degenerate data get an honest answer, never a zero-width interval by accident:

- no nights at all: a share may be anything, (0, 1); a mean is unknown, nan;
- one night: a mean has no known spread, nan;
- every night the same value: the t interval would shrink to a point and claim certainty. Where the
  measure has known bounds, the share p of nights that could still differ is at most
  1 - (alpha/2)^(1/n) (Clopper and Pearson's limit for none of n), and the mean is then within p of
  the way to either bound. Without two bounds: nan.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from soundergate.studies.estimates.moments import Moments

Bounds = tuple[float, float]


class Interval(NamedTuple):
    """Limits of a two-sided confidence interval and its level, such as 0.95."""

    low: float
    high: float
    level: float

    @property
    def half_width(self) -> float:
        """Half the distance between the limits; nan if there are none."""
        return (self.high - self.low) / 2

    @property
    def ends(self) -> tuple[float | None, float | None]:
        """Both limits as JSON can hold them: None for nan and infinity."""
        return finite(self.low), finite(self.high)


def finite(value: Any) -> Any:
    """The value as JSON can hold it: None for a float that is nan or infinite."""
    return None if isinstance(value, float) and not math.isfinite(value) else value


def wilson(k: int, n: int, level: float = 0.95) -> Interval:
    """Score interval for a share, k nights of n (Wilson 1927, J. Am. Stat. Assoc. 22:209)."""
    _check_counts(k, n)
    z = _normal_quantile(level)
    if n == 0:
        return Interval(0.0, 1.0, level)
    share = k / n
    centre = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    low = 0.0 if k == 0 else max(0.0, centre - half)
    high = 1.0 if k == n else min(1.0, centre + half)
    return Interval(low, high, level)


def clopper_pearson(k: int, n: int, level: float = 0.95) -> Interval:
    """Exact interval for a share, from beta quantiles (Clopper & Pearson 1934, Biometrika 26:404).

    Covers at least as often as stated, usually more.
    """
    from scipy.special import betaincinv

    _check_counts(k, n)
    tail = _tail(level)
    if n == 0:
        return Interval(0.0, 1.0, level)
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, tail))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1 - tail))
    return Interval(low, high, level)


def mean_t(x: ArrayLike, level: float = 0.95, bounds: Bounds | None = None) -> Interval:
    """Student's t interval for the mean of x, shape (n,), one value a night."""
    moments = Moments.of(_one_dimension(x))
    return mean_t_from(moments.n, moments.mean, moments.variance, level, bounds)


def mean_t_from(
    n: int, mean: float, variance: float, level: float = 0.95, bounds: Bounds | None = None
) -> Interval:
    """The same from n, mean and variance (divisor n - 1), clipped to the measure's bounds."""
    tail = _tail(level)
    if n < 2:
        return Interval(math.nan, math.nan, level)
    if variance == 0:
        return _all_the_same(n, mean, tail, level, bounds)
    half = t_quantile(n, level) * math.sqrt(variance / n)
    return _clipped(mean - half, mean + half, level, bounds)


def mean_within(
    n: int, mean: float, variance: float, level: float = 0.95, bounds: Bounds | None = None
) -> Interval:
    """Interval for a mean that lies strictly within the bounds of what it measures.

    Student's t on the log-odds of the mean's place between two bounds, or on its logarithm above
    one (``bounds`` with inf), by the delta method; e.g. Agresti 2002, Categorical Data Analysis,
    section 3.1.6, for the log-odds of a share (from memory). Where the upper limit of a logarithm
    would be more than one unit away, it goes on along the tangent there: two nights would otherwise
    reach to the moon. Plain t limits, cut off, without bounds or where all nights are the same.
    """
    low, high = bounds or (-math.inf, math.inf)
    if n < 2 or variance == 0 or not low < mean < high or math.isinf(low):
        return mean_t_from(n, mean, variance, level, bounds)
    half = t_quantile(n, level) * math.sqrt(variance / n)
    if math.isinf(high):
        step = half / (mean - low)
        up = math.exp(step) if step <= 1 else math.e * step
        return Interval(low + (mean - low) * math.exp(-step), low + (mean - low) * up, level)
    place = (mean - low) / (high - low)
    step = half / (high - low) / (place * (1 - place))
    odds = math.log(place) - math.log1p(-place)
    return Interval(
        min(low + (high - low) * _logistic(odds - step), mean),
        max(low + (high - low) * _logistic(odds + step), mean),
        level,
    )


def _logistic(odds: float) -> float:
    """The share with these log-odds; no overflow at either end."""
    return 1 / (1 + math.exp(-odds)) if odds >= 0 else math.exp(odds) / (1 + math.exp(odds))


def t_quantile(n: int, level: float = 0.95) -> float:
    """Standard errors on either side of a mean of n values that make its interval; n >= 2."""
    from scipy.special import stdtrit

    return float(stdtrit(n - 1, 1 - _tail(level)))


def bootstrap_mean(
    x: ArrayLike,
    level: float = 0.95,
    *,
    seed: int = 0,
    resamples: int = 4999,
    bounds: Bounds | None = None,
) -> Interval:
    """Bias-corrected and accelerated bootstrap interval for the mean (Efron 1987).

    x has shape (n,), one value a night; nights are resampled, never animals. ``seed`` makes it
    repeatable. Use where nights are few and skewed; for thousands of nights t does the same.
    """
    from scipy.stats import bootstrap

    values = _one_dimension(x)
    if len(values) < 2 or np.all(values == values[0]):
        return mean_t(values, level, bounds)
    _tail(level)
    result = bootstrap(
        (values,),
        np.mean,
        confidence_level=level,
        n_resamples=resamples,
        batch=max(1, 4_000_000 // len(values)),
        method="BCa",
        rng=np.random.default_rng(seed),
    )
    limits = result.confidence_interval
    return _clipped(float(limits.low), float(limits.high), level, bounds)


def paired_proportions(
    both: int, only_a: int, only_b: int, neither: int, level: float = 0.95
) -> Interval:
    """Newcombe's method 10 (1998, Stat. Med. 17:2635) from the four counts of nights.

    Squares and adds the distances to the Wilson limits of the two shares, with their correlation
    phi reduced by half a night where it is positive.
    """
    n = both + only_a + only_b + neither
    if min(both, only_a, only_b, neither) < 0:
        raise ValueError(f"counts of nights are negative: {(both, only_a, only_b, neither)}")
    if n == 0:
        _tail(level)
        return Interval(-1.0, 1.0, level)
    a_yes, b_yes = both + only_a, both + only_b
    p_a, p_b = a_yes / n, b_yes / n
    low_a, high_a, _ = wilson(a_yes, n, level)
    low_b, high_b, _ = wilson(b_yes, n, level)
    phi = _reduced_phi(both, only_a, only_b, neither)
    down, up = p_a - low_a, high_b - p_b
    below = math.sqrt(max(0.0, down * down - 2 * phi * down * up + up * up))
    down, up = p_b - low_b, high_a - p_a
    above = math.sqrt(max(0.0, down * down - 2 * phi * down * up + up * up))
    estimate = (only_a - only_b) / n
    return _clipped(estimate - below, estimate + above, level, (-1.0, 1.0))


def bonferroni(level: float, count: int) -> float:
    """Level of each of ``count`` intervals so that all hold together at least at ``level``."""
    _check_family(level, count)
    return 1 - (1 - level) / count


def _reduced_phi(both: int, only_a: int, only_b: int, neither: int) -> float:
    n = both + only_a + only_b + neither
    margins = (both + only_a) * (only_b + neither) * (both + only_b) * (only_a + neither)
    if margins == 0:
        return 0.0
    cross = both * neither - only_a * only_b
    if cross > 0:
        return max(cross - n / 2, 0.0) / math.sqrt(margins)
    return cross / math.sqrt(margins)


def _all_the_same(
    n: int, value: float, tail: float, level: float, bounds: Bounds | None
) -> Interval:
    if bounds is None or not all(map(math.isfinite, bounds)):
        return Interval(math.nan, math.nan, level)
    other = -math.expm1(math.log(tail) / n)  # 1 - tail^(1/n), the share of nights not yet seen
    low, high = value - other * (value - bounds[0]), value + other * (bounds[1] - value)
    return Interval(low, high, level)


def _clipped(low: float, high: float, level: float, bounds: Bounds | None) -> Interval:
    if bounds is None:
        return Interval(low, high, level)
    return Interval(max(low, bounds[0]), min(high, bounds[1]), level)


def _tail(level: float) -> float:
    if not 0 < level < 1:
        raise ValueError(f"level is {level!r}; a confidence level is between 0 and 1, such as 0.95")
    return (1 - level) / 2


def _normal_quantile(level: float) -> float:
    from scipy.special import ndtri

    return -float(ndtri(_tail(level)))


def _check_counts(k: int, n: int) -> None:
    if not 0 <= k <= n:
        raise ValueError(f"{k} nights of {n}: a count is between 0 and the number of nights")


def _check_family(level: float, count: int) -> None:
    _tail(level)
    if count < 1:
        raise ValueError(f"a family of {count} intervals; there must be at least one")


def _one_dimension(x: ArrayLike) -> np.ndarray:
    values = np.asarray(x, dtype=float)
    if values.ndim != 1:
        raise ValueError(f"values have shape {values.shape}; wanted one number a night")
    if not np.isfinite(values).all():
        raise ValueError("values contain nan or infinity; leave those nights out and say so")
    return values
