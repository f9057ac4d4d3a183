"""Sizes of field trials: against a handbook's table, exact enumeration, and trials played."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from soundergate.studies.compare import Comparison, compare
from soundergate.studies.errors import StudyError
from soundergate.studies.trial_size import (
    MOST,
    least_sounders,
    share_power,
    trial_sizes,
    welch_power,
)

VARIANCES = st.floats(0.01, 4.0)


@pytest.mark.parametrize(("d", "n"), [(0.2, 394), (0.5, 64), (0.8, 26), (1.0, 17)])
def test_sizes_of_the_handbook(d: float, n: int) -> None:
    """Cohen 1988, Statistical Power Analysis, table 2.4.1 (two sides, 5 %, power 0.8), from memory;
    its 393 for d = 0.2 rounds where 394 is the first with that power."""
    assert least_sounders(lambda k: welch_power(d, 1, 1, k), 0.8) == n


@pytest.mark.parametrize(
    ("n", "variance", "other", "gap"),
    [(20, 1.0, 4.0, 1.2), (8, 0.2, 0.1, 0.5), (50, 1.0, 1.0, 0.4)],
)
def test_trials_that_are_played_settle_as_often(n, variance, other, gap) -> None:
    """20,000 trials by SciPy's Welch test; four and a half standard errors, 7 in a million."""
    rng = np.random.default_rng(3)
    one = rng.normal(0.0, math.sqrt(variance), (20_000, n))
    two = rng.normal(gap, math.sqrt(other), (20_000, n))
    settled = (stats.ttest_ind(one, two, axis=1, equal_var=False).pvalue < 0.05).mean()
    power = welch_power(gap, variance, other, n)
    assert abs(settled - power) < 4.5 * math.sqrt(power * (1 - power) / 20_000) + 0.004


def fisher_power(p: float, q: float, n: int) -> float:
    """By enumeration of every outcome and SciPy's hypergeometric distribution."""
    x = np.arange(n + 1)
    px, qx = stats.binom.pmf(x, n, p), stats.binom.pmf(x, n, q)
    power = 0.0
    for total in range(2 * n + 1):
        ks = np.arange(max(0, total - n), min(n, total) + 1)
        chance = stats.hypergeom.pmf(ks, 2 * n, total, n)
        sides = np.array([chance[chance <= c * (1 + 1e-7)].sum() for c in chance])
        power += float(np.sum((px[ks] * qx[total - ks])[sides <= 0.05]))
    return power


@pytest.mark.parametrize(("p", "q"), [(0.25, 0.45), (0.1, 0.3), (0.4, 0.75), (0.05, 0.6)])
def test_shares_have_the_power_of_fishers_test(p: float, q: float) -> None:
    n = int(least_sounders(lambda k: share_power(p, q, k), 0.8))
    assert 0.77 < fisher_power(p, q, n) < 0.9  # in steps as wide as that where n is small
    assert fisher_power(p, q, max(n // 2, 2)) < 0.7


@given(VARIANCES, VARIANCES, st.floats(0.05, 3.0), st.integers(2, 4000))
def test_power_grows_with_the_trial_and_the_gap(variance, other, gap, n) -> None:
    power = welch_power(gap, variance, other, n)
    assert 0 <= power <= 1
    assert welch_power(gap, variance, other, 2 * n) >= power - 1e-9
    assert welch_power(1.5 * gap, variance, other, n) >= power - 1e-9
    assert welch_power(gap, other, variance, n) == pytest.approx(power, abs=1e-9)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(2, 4000))
def test_shares_too(p: float, q: float, n: int) -> None:
    power = share_power(p, q, n)
    assert 0 <= power <= 1
    assert share_power(q, p, n) == pytest.approx(power, abs=1e-12)
    if p != q:
        assert share_power(p, q, 2 * n) >= power - 1e-12


def test_no_difference_is_never_settled_more_often_than_by_chance() -> None:
    assert welch_power(0.0, 1, 1, 50, 0.9) == pytest.approx(0.1)
    assert share_power(0.3, 0.3, 50) == pytest.approx(0.05)
    assert math.isinf(least_sounders(lambda n: welch_power(0.0, 1, 1, n), 0.8))
    assert math.isinf(least_sounders(lambda n: welch_power(1e-4, 1, 1, n), 0.8))
    assert least_sounders(lambda n: 1.0, 0.8) == 2
    assert least_sounders(lambda n: float(n >= MOST), 0.8) == MOST


@pytest.fixture(scope="module")
def lines(scenario_of) -> Comparison:
    from soundergate.scenario.examples import text

    near_and_far = "trigger.distance=12 ft,22 ft"
    return compare(scenario_of(text("line")), near_and_far, nights=2000, seed=4)


def test_a_comparison_says_what_a_trial_needs(lines: Comparison) -> None:
    share, whole = trial_sizes(lines, 0.9)
    assert (share.measure, whole.measure) == ("fraction_caught", "whole_group")
    assert share.difference == lines.differences[0].estimate
    for one in (share, whole):
        assert 2 <= one.fewest <= one.sounders <= one.most
        assert (one.power, one.level) == (0.9, 0.95)
    first, second = (arm.result.tally.moments["fraction_caught"] for arm in lines.arms)
    spread = first.variance, second.variance
    gap = abs(share.difference)
    assert welch_power(gap, *spread, int(share.sounders)) >= 0.9
    assert share.sounders == 2 or welch_power(gap, *spread, int(share.sounders) - 1) < 0.9
    cheap, _ = trial_sizes(lines, 0.5)
    assert cheap.sounders <= share.sounders


def test_what_is_not_settled_may_need_no_end_of_sounders(scenario_of) -> None:
    from soundergate.scenario.examples import text

    twins = compare([scenario_of(text("line"))] * 2, nights=100, names=["a", "b"])
    for one in trial_sizes(twins):
        assert math.isinf(one.sounders)
        assert math.isinf(one.most)
        assert one.to_json()["sounders"] is None


@pytest.mark.parametrize("power", [0, 1, 80, True, "0.8", float("nan")])
def test_a_power_lies_between_0_and_1(lines: Comparison, power) -> None:
    with pytest.raises(StudyError, match="power is"):
        trial_sizes(lines, power)


class Shares:
    """Two arms of which this many nights in a thousand caught the whole group."""

    level = 0.95

    def __init__(self, first: float, second: float, low: float, high: float) -> None:
        from types import SimpleNamespace

        self.shares = {"a": first, "b": second}
        self.differences = [
            SimpleNamespace(
                a="a", b="b", measure="whole_group", estimate=first - second, low=low, high=high
            )
        ]

    def __getitem__(self, name: str):
        from types import SimpleNamespace

        from soundergate.studies.estimates.moments import Moments

        nights = np.arange(1000) < 1000 * self.shares[name]
        return SimpleNamespace(
            tally=SimpleNamespace(moments={"whole_group": Moments.of(nights.astype(int))})
        )


def test_a_trial_of_shares_is_sized_by_the_two_shares() -> None:
    """Power is that of the shares themselves, which lie half the gap on either side of the middle;
    the ends of the interval move both, and neither goes past 0 or 1."""
    (size,) = trial_sizes(Shares(0.5, 0.2, 0.26, 0.34))
    assert size.at_twenty == pytest.approx(share_power(0.2, 0.5, 20))
    for found, gap in ((size.sounders, 0.3), (size.fewest, 0.34), (size.most, 0.26)):
        wanted = least_sounders(lambda n, g=gap: share_power(0.35 - g / 2, 0.35 + g / 2, n), 0.8)
        assert found == wanted
    (high,) = trial_sizes(Shares(0.98, 0.86, 0.05, 0.2))  # middle 0.92, and 0.1 more is past 1
    assert high.fewest == least_sounders(lambda n: share_power(0.82, 1.0, n), 0.8)
    (low,) = trial_sizes(Shares(0.14, 0.02, 0.05, 0.2))  # the mirror image
    assert low.fewest == high.fewest
