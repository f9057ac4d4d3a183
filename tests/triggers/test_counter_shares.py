"""What a counter's errors make of the true number, against the nights that the engine plays."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from soundergate.engine import play
from soundergate.triggers import counter

FALSE_ALARM = 1e-4


def trap(count: int, miss: float, double: float) -> dict[str, object]:
    """Five sows that all go straight in, each on its own, and stay."""
    return {
        "sounder": {"sows": 5},
        "corral": {"space_per_pig": "0 m^2"},
        "opening": [{"width": "4 ft", "height": "6 ft", "gate": {"kind": "drop"},
                     "latch": {"puller": "solenoid", "pull": "2000 lbf"}}],
        "trigger": {"kind": "counter", "count": count, "miss": miss, "double": double},
        "arrival": {"first": {"fixed": "10 s"}, "offset": "0 s", "spread": {"dist": "exponential",
                                                                 "mean": "10 min"}},
        "entry": {"clock": {"fixed": "1 s"}, "shy_share": 0, "frailty_cv": 0, "social_pull": 0},
        "leaving": {"clock": "never"},
        "visit": {"patience": "never"},
    }  # fmt: skip


@pytest.fixture
def counter_of(scenario_of):
    return lambda **keys: scenario_of(trap(5, 0.0, 0.0) | {"trigger": {"kind": "counter", **keys}})


def test_an_exact_counter_counts_what_is_there(counter_of) -> None:
    trigger = counter_of(count=3, miss=0, double=0).trigger
    assert [counter.released_by(trigger, n) for n in range(5)] == [0.0, 0.0, 0.0, 1.0, 1.0]
    counts, mass = counter.net_counts(trigger, 4, 1)
    assert mass[counts == 3] == 1.0


def test_misses_alone_are_binomial(counter_of) -> None:
    trigger = counter_of(count=4, miss=0.2, double=0).trigger
    for n in range(8):
        assert counter.released_by(trigger, n) == pytest.approx(binom.sf(3, n, 0.8), abs=1e-12)


def test_double_counts_never_exceed_what_is_not_missed(counter_of) -> None:
    trigger = counter_of(count=1, miss=0.7, double=0.6).trigger
    assert counter.passage_shares(trigger) == pytest.approx([0.7, 0.0, 0.3])


def test_mean_and_variance_of_the_net_count(counter_of) -> None:
    """Each passage adds (or takes) 1 - m + d on average; variances add."""
    trigger = counter_of(count=1, miss=0.1, double=0.05).trigger
    counts, mass = counter.net_counts(trigger, 7, 3)
    mean = counts @ mass
    assert mass.sum() == pytest.approx(1.0)
    assert mean == pytest.approx(4 * 0.95)
    one = 0.85 + 4 * 0.05 - 0.95**2
    assert (counts - mean) ** 2 @ mass == pytest.approx(10 * one)


@pytest.mark.parametrize(("miss", "double"), [(0.15, 0.0), (0.1, 0.2), (0.6, 0.6)])
def test_the_engine_releases_as_often(plan_of, scenario_of, miss, double) -> None:
    """4,000 nights in which all five go straight in; a false alarm once in 10,000."""
    table = trap(5, miss, double)
    scenario = scenario_of(table)
    nights = play(plan_of(table), 11, 0, 4000)
    released = int(np.isfinite(nights["release_s"]).sum())
    chance = counter.released_by(scenario.trigger, 5)
    assert binomtest(released, 4000, chance).pvalue > FALSE_ALARM
    assert binomtest(released, 4000, min(chance + 0.06, 1.0)).pvalue < FALSE_ALARM
