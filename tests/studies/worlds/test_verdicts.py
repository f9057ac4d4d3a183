"""Verdicts over worlds: their bounds, and how often made-up differences are called wrongly."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy import stats

from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.verdicts import (
    AHEAD,
    DEPENDS,
    NO_MATTER,
    lower_bound,
    verdict,
)

SLOW = pytest.mark.slow


def said(gains, **more):
    return verdict("a", "b", "fraction_caught", np.asarray(gains, float), **more)


def test_alike_in_all_worlds_is_no_matter_even_where_the_mean_is_settled():
    """Asked first: a gain of one point in every world is settled, and still no matter."""
    rng = np.random.default_rng(1)
    found = said(rng.normal(0.01, 0.002, 200))
    assert (found.verdict, found.ahead) == (NO_MATTER, "")
    assert found.mean_low > 0


def test_better_in_all_worlds_is_ahead_and_the_other_way_round():
    gains = np.random.default_rng(2).normal(0.1, 0.03, 200)
    assert (said(gains).verdict, said(gains).ahead) == (AHEAD, "a")
    assert (said(-gains).verdict, said(-gains).ahead) == (AHEAD, "b")


def test_better_in_most_worlds_and_worse_in_a_fifth_depends():
    gains = np.where(np.arange(200) % 5 == 0, -0.1, 0.2)
    assert said(gains).verdict == DEPENDS
    assert said(gains).mean_low > 0, "the mean alone would have called it"


def test_never_worse_but_not_better_on_average_is_not_ahead():
    gains = np.where(np.arange(200) % 2 == 0, -0.019, 0.019)
    gains[:40] = 0.021 * np.where(np.arange(40) % 2 == 0, -0.9, 1.0)
    assert said(gains).ahead == ""


def test_bounds_are_those_of_the_binomial_test():
    """Clopper and Pearson by scipy.stats.binomtest, one-sided."""
    for hits, of in ((0, 30), (29, 30), (188, 200), (200, 200)):
        wanted = stats.binomtest(hits, of, alternative="greater").proportion_ci(0.95, "exact").low
        assert lower_bound(hits, of, 0.95) == pytest.approx(wanted)
    # 188 of 200 are the fewest that show more than nine in ten
    assert lower_bound(188, 200, 0.95) > 0.90 > lower_bound(187, 200, 0.95)


def test_more_pairs_ask_for_more():
    gains = np.full(200, 0.1)
    gains[:12] = -0.1
    assert said(gains).verdict == AHEAD
    assert said(gains, pairs=20).verdict == DEPENDS


@pytest.mark.parametrize(
    ("worlds", "studies"), [(200, 300), *(pytest.param(n, 4000, marks=SLOW) for n in (100, 400))]
)
def test_false_alarms_stay_below_five_in_a_hundred(worlds, studies):
    """Where the truth lies just short of each verdict: no more false ones than come by chance once
    in a thousand at a true rate of 5 % (binomial)."""
    rng = np.random.default_rng(3)
    most = stats.binom.isf(1e-3, studies, 0.05)
    no_matter = ahead = centred = 0
    for _ in range(studies):
        # alike in exactly nine worlds of ten
        apart = rng.random(worlds) < 0.1
        no_matter += said(np.where(apart, 0.3, 0.0)).verdict == NO_MATTER
        # a worse in exactly one world of ten, and better on average
        ahead += said(np.where(rng.random(worlds) < 0.1, -0.3, 0.3)).verdict == AHEAD
        # better by nothing on average, never worse by more than the negligible
        centred += said(rng.normal(0.0, 0.012, worlds), negligible=0.04).verdict == AHEAD
    assert no_matter <= most
    assert ahead <= most
    assert centred <= most


def test_worlds_just_beyond_the_limit_are_not_taken_for_alike():
    """A tenth of worlds lies a little beyond the limit, and nights blur on which side. Counted
    plainly, half of those pass for alike and "no matter" is said far too often; a margin of
    two and a half standard errors keeps it below 5 in 100 (300 studies; by chance once in a
    thousand at most)."""
    rng, margin, plain = np.random.default_rng(5), 0, 0
    for _ in range(300):
        true = np.where(rng.random(200) < 0.1, 0.0205, 0.0)
        gains = true + rng.normal(0, 0.005, 200)
        margin += said(gains, noise=np.full(200, 0.005**2)).verdict == NO_MATTER
        plain += said(gains).verdict == NO_MATTER
    assert margin <= stats.binom.isf(1e-3, 300, 0.05)
    assert plain > 100


def test_what_is_said_of_worlds_adds_up():
    """However little the nights tell: a is better, b is, or they are alike in each world."""
    gains = np.random.default_rng(6).normal(0.01, 0.05, 200)
    v = said(gains, noise=np.full(200, 0.03**2))
    assert v.a_better == np.mean(gains > 0.02)
    assert v.b_better == np.mean(gains < -0.02)
    assert v.a_better + v.b_better <= 1
    assert v.alike <= 1 - v.a_better - v.b_better  # the shown are among those that are


def test_it_has_power():
    """A pair that is worse in 2 % of worlds is called ahead in nearly all studies of 200 worlds."""
    rng = np.random.default_rng(4)
    called = [
        said(np.where(rng.random(200) < 0.02, -0.1, 0.1)).verdict == AHEAD for _ in range(200)
    ]
    assert np.mean(called) > 0.95


def test_it_can_be_written_and_wrong_limits_are_refused():
    json.dumps(said(np.zeros(50)).to_json(), allow_nan=False)
    for wrong in (0, -0.1, 1, "2", True, None):
        with pytest.raises(StudyError, match="negligible is"):
            said(np.zeros(50), negligible=wrong)
