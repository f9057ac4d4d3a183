"""Populations over years: expectations, and branching processes with exact answers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import chi2, norm

from soundergate.seasons.population.outlook import Catch
from soundergate.seasons.population.projection import (
    MOST_PIGS,
    NONE,
    Dynamics,
    Projection,
    Ranges,
    Removal,
    expected,
    project,
    years_below_the_most,
    years_until,
)
from soundergate.seasons.population.removal_share import (
    AFTER,
    BEFORE,
    TIMINGS,
    Timing,
    stopping_shares,
)
from soundergate.studies.errors import StudyError

FALSE_ALARM = 1e-6
"""Chance that one statistical test of this file fails though the code is right."""
Z = float(norm.isf(FALSE_ALARM / 2))

FACTORS = st.floats(0.2, 5.0)
SHARES = st.floats(0.0, 1.0)
TIMED = st.sampled_from(TIMINGS)


@given(FACTORS, st.integers(1, 11))
def test_growth_is_geometric_without_arrivals(factor: float, years: int) -> None:
    start = Dynamics(7, factor)
    assert expected(start, years=years)[-1] == pytest.approx(7 * factor**years)


@given(FACTORS, SHARES, st.floats(0.0, 1.0), TIMED)
def test_a_share_each_year_follows_the_linear_recurrence(
    factor: float, i: float, share: float, timing: Timing
) -> None:
    """x' = a x + b has x_n = a^n x_0 + b (1 + a + ... + a^(n-1))."""
    a = factor * (1 - share)
    b = 50 * i * (1.0 if timing == AFTER else 1 - share)
    last = expected(Dynamics(50, factor, i, timing), Removal(share=share), 6)[-1]
    assert last == pytest.approx(a**6 * 50 + b * sum(a**k for k in range(6)), abs=1e-9)


def test_growth_that_runs_away_is_refused() -> None:
    # 100 pigs become 10^9 in log(10^7) / log(2.94) = 14.95 years
    with pytest.raises(StudyError, match=r"years = 30.*by year 15.*ask for 14 years at most"):
        expected(Dynamics(100, 2.94), years=30)
    with pytest.raises(StudyError, match="by year"):
        project(Dynamics(55, 1.1), years=30, ranges=Ranges((0.1, 1.94), (0.0, 1.0)))


def test_years_until_a_share_is_left() -> None:
    start = Dynamics(100, 1.0)
    assert years_until(start, Removal(pigs=10), 0.5) == 5
    assert years_until(start, Removal(share=0.5), 0.25) == 2
    assert years_until(start, Removal(pigs=10), 1.0) == 0
    assert years_until(Dynamics(100, 1.5), Removal(pigs=10), 0.5) == math.inf


# --- whole pigs --------------------------------------------------------------------------------


def near(k: int, n: int, p: float) -> bool:
    """Whether k of n may come of the chance p (normal approximation, `FALSE_ALARM`)."""
    return abs(k - n * p) <= Z * math.sqrt(n * p * (1 - p)) + 0.5


def died_out(factor: float, ratio: float, share: float, years: int) -> float:
    """Chance that the line of one pig is gone: the generating function, iterated (Harris 1963)."""

    def generating(z: float) -> float:
        inner = 1 - (1 - share) * (1 - z)  # each pig left is kept with chance 1 - share
        if ratio == 1:
            return math.exp(factor * (inner - 1))
        return (1 + (ratio - 1) * (1 - inner)) ** (-factor / (ratio - 1))

    q = 0.0
    for _ in range(years):
        q = generating(q)
    return q


def runs_of(factor: float, ratio: float = 1.0, share: float = 0.0, **more: int) -> Projection:
    start = Dynamics(more.get("pigs", 1), factor, variance_ratio=ratio)
    removal = Removal(share=share)
    return project(start, removal, more.get("years", 25), runs=more.get("runs", 20_000), seed=11)


@pytest.mark.parametrize("factor", [1.2, 1.5, 1.8])
def test_poisson_lines_die_out_as_often_as_galton_and_watson_say(factor: float) -> None:
    """q = exp(m (q - 1)) (Harris 1963, Athreya & Ney 1972; from memory)."""
    q = brentq(lambda q: math.exp(factor * (q - 1)) - q, 0.0, 1 - 1e-6)
    years = 60 if factor == 1.2 else 25
    assert died_out(factor, 1, 0, years) == pytest.approx(q, abs=2e-4)
    # no more than a few hundred runs may grow at length: 1.8^25 is 2.4 million
    played = runs_of(factor, years=years, runs=20_000)
    exact = died_out(factor, 1, 0, years)
    assert near(int(np.sum(played.counts[:, -1] == 0)), 20_000, exact)
    assert near(round(20_000 * played.share_eliminated()), 20_000, exact)


@pytest.mark.parametrize(("ratio", "share"), [(1.0, 0.3), (2.0, 0.0), (2.0, 0.35), (5.0, 0.2)])
def test_lines_die_out_by_any_year_as_the_generating_function_says(
    ratio: float, share: float
) -> None:
    played = runs_of(1.32, ratio, share, years=8)
    for year in (1, 3, 8):
        exact = died_out(1.32, ratio, share, year)
        assert near(int(np.sum(played.counts[:, year] == 0)), 20_000, exact)


def test_a_wrong_generating_function_would_be_seen() -> None:
    played = runs_of(1.32, 2.0, years=8)
    assert not near(int(np.sum(played.counts[:, 8] == 0)), 20_000, died_out(1.32, 1.0, 0.0, 8))


@pytest.mark.parametrize("timing", TIMINGS)
@pytest.mark.parametrize("together", [1, 11])
def test_the_mean_is_the_expectation_where_a_share_goes(timing: Timing, together: int) -> None:
    """At the share that stops growth; whole sounders or single pigs."""
    share = stopping_shares(1.32, 0.1, timing)
    start = Dynamics(58, 1.32, 0.1, timing)
    played = project(start, Removal(share=share, together=together), 6, runs=20_000, seed=5)
    for year in (1, 6):
        pigs = played.counts[:, year]
        assert abs(pigs.mean() - 58) <= Z * pigs.std(ddof=1) / math.sqrt(20_000)


@pytest.mark.parametrize("ratio", [1.0, 2.0, 4.0])
def test_a_year_has_the_variance_asked_for(ratio: float) -> None:
    pigs = runs_of(1.32, ratio, pigs=400, years=1, runs=20_000).counts[:, 1]
    spread = pigs.var(ddof=1) / (ratio * 1.32 * 400)
    low, high = chi2.ppf([FALSE_ALARM / 2, 1 - FALSE_ALARM / 2], 19_999) / 19_999
    # nearly normal: the excess kurtosis of so many pigs' sum is below 0.02
    assert 0.99 * low < spread < 1.01 * high


def test_arrivals_into_an_emptied_property_are_poisson() -> None:
    start = Dynamics(40, 1.5, 0.05)
    pigs = project(start, Removal(share=1.0), 3, runs=20_000, seed=2).counts[:, 1:]
    for k in range(5):
        chance = math.exp(-2) * 2**k / math.factorial(k)
        assert near(int(np.sum(pigs[:, -1] == k)), 20_000, chance)


def test_cleared_is_not_empty_where_others_arrive() -> None:
    played = project(Dynamics(40, 1.5, 0.25), Removal(share=1.0), 3, runs=500, seed=2)
    assert played.share_eliminated(1) == 1.0
    assert played.table["none_at_count"].iloc[1] < 0.1
    early = project(Dynamics(40, 1.5, 0.25, BEFORE), Removal(share=1.0), 3, runs=500, seed=2)
    assert (early.counts[:, 1:] == 0).all()


@given(
    st.integers(0, 80),
    st.floats(0, 60) | st.none(),
    st.floats(0, 1),
    st.integers(1, 30),
    st.integers(0, 2**32),
)
def test_no_more_go_than_are_there(
    there: int, pigs: float | None, share: float, together: int, seed: int
) -> None:
    removal = Removal(share=share if pigs is None else None, pigs=pigs, together=together)
    gone = removal.play(np.random.default_rng(seed), np.full(50, there))
    assert (gone >= 0).all()
    assert (gone <= there).all()
    rest = there % together
    assert np.isin(gone % together, [0, rest]).all()  # whole sounders, and the last one


def test_a_number_a_year_has_the_mean_asked_for() -> None:
    gone = Removal(pigs=12.5, together=5).play(np.random.default_rng(3), np.full(20_000, 1000))
    assert set(np.unique(gone)) == {10, 15}
    assert abs(gone.mean() - 12.5) <= Z * 2.5 / math.sqrt(20_000)


def test_the_same_seed_gives_the_same_runs_and_zero_is_a_seed() -> None:
    start = Dynamics(55, 1.32, 0.1)
    same = [project(start, NONE, 5, runs=50, seed=0).counts for _ in range(2)]
    np.testing.assert_array_equal(*same)
    assert (project(start, NONE, 5, runs=50, seed=1).counts != same[0]).any()
    fresh = project(start, NONE, 5, runs=50, seed=None)
    again = project(start, NONE, 5, runs=50, seed=fresh.seed)
    np.testing.assert_array_equal(fresh.counts, again.counts)


def test_ranges_widen_what_is_played() -> None:
    start, spans = Dynamics(55, 1.32, 0.1), Ranges((0.1, 0.5), (0.0, 0.3))
    narrow = project(start, NONE, 5, runs=4000, seed=4)
    wide = project(start, NONE, 5, runs=4000, seed=4, ranges=spans)
    assert np.ptp(wide.quantiles[[0, -1], -1]) > 1.3 * np.ptp(narrow.quantiles[[0, -1], -1])
    one = project(start, NONE, 5, runs=4000, seed=4, ranges=Ranges((0.32, 0.32), (0.1, 0.1)))
    error = math.sqrt(one.counts[:, -1].var() + narrow.counts[:, -1].var()) / math.sqrt(4000)
    assert abs(one.counts[:, -1].mean() - narrow.counts[:, -1].mean()) < Z * error
    assert "expected" not in wide.table


def test_the_interval_is_wilsons() -> None:
    """Wilson 1927 by its defining equation: |p - limit| = z sqrt(limit (1 - limit) / n)."""
    played = project(Dynamics(3, 0.9), NONE, 3, runs=400, seed=8)
    share, interval = played.share_eliminated(), played.elimination()
    assert 0 < share < 1
    for limit in (interval.low, interval.high):
        assert abs(share - limit) == pytest.approx(
            norm.ppf(0.975) * math.sqrt(limit * (1 - limit) / 400)
        )


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Removal(), "either a share or a number"),
        (lambda: Removal(share=0.1, pigs=3), "either a share or a number"),
        (lambda: Removal(share=1.2), "share = 1.2.*at most 1"),
        (lambda: Removal(pigs=-1), "pigs = -1.*at least 0"),
        (lambda: Removal(pigs=4, together=1.5), "together = 1.5: pigs come whole"),
        (lambda: Dynamics(5.5, 1.3), "pigs = 5.5: pigs come whole"),
        (lambda: Dynamics(5, 0.0), "growth_factor = 0.0.*more than 0"),
        (lambda: Dynamics(5, 1.3, variance_ratio=0.5), "variance_ratio = 0.5.*at least 1"),
        (lambda: Ranges((0.5, 0.1), (0, 0)), "growth = 0.1.*at least 0.5"),
        (lambda: Catch(8, 9, 10), "caught_low = 9.*at most 8"),
        (lambda: project(Dynamics(5, 1.1), years=0), "years = 0.*at least 1"),
        (lambda: project(Dynamics(5, 1.1), runs=2.5), "runs = 2.5: wanted a whole number"),
        (lambda: project(Dynamics(5, 1.1), seed="x"), "seed is 'x'"),
        (lambda: project(Dynamics(5, 1.1), runs=9).elimination(11), "year = 11.*at most 10"),
    ],
)
def test_bad_numbers_are_named(make, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(StudyError, match=words):
        make()


def test_years_are_cut_before_numbers_run_away() -> None:
    fast = Dynamics(100, 7.0)
    years = years_below_the_most(fast, 10)
    assert 100 * 7.0**years <= MOST_PIGS < 100 * 7.0 ** (years + 1)
    assert years_below_the_most(Dynamics(100, 1.3), 10) == 10
    assert years_below_the_most(Dynamics(10**9, 20.0), 10) == 1
