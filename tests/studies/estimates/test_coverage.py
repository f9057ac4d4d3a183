"""Do intervals cover as often as they say, when animals of one night share their luck?

Each test plays many runs whose truth is known and counts the intervals that contain it. With the
true coverage at ``least``, a test fails by chance once in a million times (``count_allowed``).
Approximate methods are allowed a true coverage of 0.93 where they state 0.95. The negative control
is the interval that counts animals instead of nights: it must fail the very same check.
"""

import numpy as np
import pytest
from scipy import stats

from soundergate.studies.estimate import run_player
from soundergate.studies.estimates.intervals import (
    bootstrap_mean,
    clopper_pearson,
    mean_t,
    paired_proportions,
    wilson,
)

FALSE_ALARM = 1e-6
MEAN, CORRELATION, GROUP = 0.6, 0.5, 10


def count_allowed(runs: int, least: float) -> int:
    """Fewest covering intervals that are still believable if the true coverage is ``least``."""
    return int(stats.binom.ppf(FALSE_ALARM, runs, least))


def quality(rng, runs, nights, mean=MEAN):
    size = 1 / CORRELATION - 1
    return rng.beta(mean * size, (1 - mean) * size, (runs, nights))


def caught_shares(rng, runs, nights):
    return rng.binomial(GROUP, quality(rng, runs, nights)) / GROUP


def covering(intervals, truth) -> int:
    return sum(low <= truth <= high for low, high, *_ in intervals)


@pytest.mark.parametrize("nights", [30, 200])
def test_mean_over_nights_covers(nights):
    x = caught_shares(np.random.default_rng(101), 2000, nights)
    hits = covering((mean_t(row, bounds=(0, 1)) for row in x), MEAN)
    assert hits >= count_allowed(2000, 0.93)
    assert hits <= 2000 - count_allowed(2000, 0.03)  # nor is it far too wide


def test_bootstrap_covers():
    x = caught_shares(np.random.default_rng(102), 300, 60)
    hits = covering((bootstrap_mean(row, seed=i, resamples=999) for i, row in enumerate(x)), MEAN)
    assert hits >= count_allowed(300, 0.92)


def test_counting_animals_instead_of_nights_fails_the_same_check():
    """The negative control. Design effect 1 + (10 - 1) 0.5 = 5.5, so the pooled interval should
    cover about 2 Phi(1.96 / sqrt 5.5) - 1 = 0.60 of the time where it states 0.95."""
    x = caught_shares(np.random.default_rng(101), 2000, 200)
    pooled = [wilson(round(row.sum() * GROUP), GROUP * len(row)) for row in x]
    hits = covering(pooled, MEAN)
    assert hits < count_allowed(2000, 0.93)
    assert hits / 2000 == pytest.approx(0.597, abs=0.05)


@pytest.mark.parametrize(("share", "least"), [(wilson, 0.93), (clopper_pearson, 0.95)])
@pytest.mark.parametrize("p", [0.01, 0.3, 0.9])
def test_share_of_nights_covers_on_average_over_near_by_truths(share, least, p):
    """Coverage of a share saw-tooths with the truth; Wilson's holds on average, the exact one
    everywhere, so each run draws its own truth near p."""
    rng = np.random.default_rng(103)
    truth = p * (1 + 0.1 * (rng.random(3000) - 0.5))
    k = rng.binomial(400, truth)
    hits = sum(
        low <= t <= high
        for t, (low, high, _) in zip(truth, map(share, k, [400] * 3000), strict=True)
    )
    assert hits >= count_allowed(3000, least)


def paired_runs(seed, runs, nights):
    """Two setups on common nights: the second catches each animal a little less often."""
    rng = np.random.default_rng(seed)
    q = quality(rng, runs, nights)[:, :, None]
    luck = rng.random((runs, nights, GROUP))
    return (luck < q).sum(axis=2), (luck < 0.9 * q).sum(axis=2)


def test_paired_difference_covers_and_is_narrower_than_unpaired():
    a, b = paired_runs(104, 1500, 50)
    truth = GROUP * MEAN * 0.1
    found = [mean_t(x - y) for x, y in zip(a, b, strict=True)]
    assert covering(found, truth) >= count_allowed(1500, 0.93)
    unpaired = np.sqrt(a[0].var(ddof=1) / 50 + b[0].var(ddof=1) / 50) * 2
    assert found[0].half_width < unpaired / 2


@pytest.mark.slow
def test_paired_proportions_cover(cells):
    a, b = paired_runs(105, 2500, 60)
    whole_a, whole_b = a == GROUP, b == GROUP
    far = paired_runs(106, 500, 4000)
    truth = (far[0] == GROUP).mean() - (far[1] == GROUP).mean()  # known to about 0.0003
    found = (paired_proportions(*cells(x, y)) for x, y in zip(whole_a, whole_b, strict=True))
    assert covering(found, truth) >= count_allowed(2500, 0.93)


def test_unpaired_interval_of_proportions_is_the_mutant_that_wastes_nights(cells):
    """Breaking the pairs on purpose (shuffling one side) must widen the interval."""
    a, b = paired_runs(105, 1, 400)
    a, b = a[0] == GROUP, b[0] == GROUP
    shuffled = np.random.default_rng(1).permutation(b)
    paired, unpaired = (paired_proportions(*cells(a, other)) for other in (b, shuffled))
    assert paired.half_width < 0.8 * unpaired.half_width


@pytest.mark.slow
def test_stopping_at_a_precision_keeps_the_coverage(nights):
    """The looks cost little: with true coverage 0.93 or more this passes, as for fixed nights."""
    player = nights(MEAN, CORRELATION, GROUP)
    results = [
        run_player(player, precision=0.018, seed=seed, keep_outcomes=False) for seed in range(800)
    ]
    assert all(r.precision_reached for r in results)
    assert all(r["fraction_caught"].half_width <= 0.018 for r in results)
    assert len({r.nights for r in results}) > 10  # the number of nights follows the data
    intervals = [r.interval("fraction_caught", 0.95) for r in results]
    assert covering(intervals, MEAN) >= count_allowed(800, 0.93)


def test_all_the_same_interval_covers_rare_failures():
    """1 night in 100 loses everything: most runs of 40 nights see none, and a zero-width interval
    would then miss. At the least lucky truth the interval must still cover."""
    rng = np.random.default_rng(107)
    x = 1.0 - (rng.random((2000, 40)) < 0.01)
    same = [row for row in x if row.all()]
    assert len(same) > 1000
    assert covering((mean_t(row, bounds=(0, 1)) for row in same), 0.99) == len(same)
    assert all(np.isnan(mean_t(row).low) for row in same[:3])
