"""A person's rule in steps, and the chance of seeing m when n are inside."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import stats

from shared.tiers import few_first
from soundergate.engine.luck.draws import least_count
from soundergate.mechanics.setup import solve
from soundergate.triggers import person

WAY = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop"}}


@pytest.fixture
def watched(scenario_of):
    """A scenario with so many sows and this person."""

    def made(sows: int = 10, diameter: str = "26 ft", **trigger):
        return scenario_of(
            {
                "sounder": {"sows": sows},
                "corral": {"diameter": diameter},
                "opening": [WAY],
                "trigger": {"kind": "person", **trigger},
            }
        )

    return made


@pytest.fixture
def watcher(watched):
    return lambda **trigger: watched(**trigger).trigger


def seen(scenario) -> np.ndarray:
    return person.seen_distribution(scenario.trigger, scenario)


# ---- rules ---------------------------------------------------------------------------------


def counts(trigger, size: int) -> list[tuple[float, float]]:
    """(seconds, least count) for a group of this size."""
    return [(t, least_count(n, share, size)) for t, n, share in person.rule_steps(trigger)]


def test_by_default_all_of_the_group_then_seven_tenths(watcher) -> None:
    assert counts(watcher(), 10) == [(0.0, 10.0), (1200.0, 7.0)]


def test_a_count_then_fewer_after_patience(watcher) -> None:
    trigger = watcher(count=8, patience="5 min", min_count=3)
    assert counts(trigger, 10) == [(0.0, 8.0), (300.0, 3.0)]


def test_patience_never_asks_for_more(watcher) -> None:
    assert counts(watcher(count=2, min_count=5), 10) == [(0.0, 2.0), (1200.0, 2.0)]


@pytest.mark.parametrize(
    ("share", "count"), [(0.3, 3), (0.31, 4), (0.7, 7), (1.0, 10), (0.01, 1), (0.1, 1), (0.9, 9)]
)
def test_a_share_is_rounded_up_to_whole_animals(share, count, watcher) -> None:
    assert counts(watcher(share=share), 10)[0] == (0.0, float(count))


@pytest.mark.parametrize(("size", "count"), [(4, 2), (9, 5), (20, 10)])
def test_a_share_is_of_the_group_of_that_night(size, count, watcher) -> None:
    assert counts(watcher(share=0.5), size)[0] == (0.0, float(count))


def test_after_patience_the_lesser_of_count_and_share(watcher) -> None:
    trigger = watcher(share=0.9, min_count=6)
    assert counts(trigger, 10)[1] == (1200.0, 6.0)
    assert counts(trigger, 4)[1] == (1200.0, 4.0)


@given(st.integers(1, 200), st.integers(1, 200))
def test_an_exact_share_asks_for_no_animal_more(part, size) -> None:
    if part <= size:
        assert least_count(math.inf, part / size, size) == part


def test_a_rule_is_taken_as_written(watcher) -> None:
    rule = [
        {"after": "0 s", "count": 9},
        {"after": "2 min", "count": 6},
        {"after": "1 h", "count": 8},
    ]
    assert counts(watcher(rule=rule), 10) == [(0.0, 9.0), (120.0, 6.0), (3600.0, 8.0)]


# ---- the count on the screen ---------------------------------------------------------------


def by_hand(n: int, hidden: float, twice: float) -> np.ndarray:
    """P(counted = m) for m = 0 .. 2n by going through every way to see n animals."""
    law = np.zeros(2 * n + 1)
    chances = (hidden, (1 - hidden) * (1 - twice), (1 - hidden) * twice)
    for way in itertools.product((0, 1, 2), repeat=n):
        law[sum(way)] += math.prod(chances[seen] for seen in way)
    return law


@pytest.mark.parametrize(("hidden", "twice"), [(0.3, 0.0), (0.0, 0.2), (0.25, 0.15), (1.0, 0.5)])
def test_seen_distribution_against_every_way_to_see_them(hidden, twice, watched) -> None:
    table = seen(watched(6, undercount=hidden, overcount=twice))
    assert table.shape == (7, 13)
    for n in range(7):
        expected = np.cumsum(np.pad(by_hand(n, hidden, twice), (0, 2 * (6 - n))))
        np.testing.assert_allclose(table[n], expected, atol=1e-12)


def test_hidden_animals_make_it_binomial(watched) -> None:
    table = seen(watched(30, undercount=0.2, overcount=0.0))
    for n in (1, 7, 30):
        law = stats.binom.cdf(np.arange(n + 1), n, 0.8)
        np.testing.assert_allclose(table[n, : n + 1], law, atol=1e-12)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(1, 40), st.floats(0, 1), st.floats(0, 1))
def test_every_row_is_a_distribution(watched, size, hidden, twice) -> None:
    table = seen(watched(size, undercount=hidden, overcount=twice))
    assert (np.diff(table, axis=1) >= 0.0).all()
    assert (table >= 0.0).all()
    assert (table[:, -1] == 1.0).all()  # a search for u below 1 always ends
    assert (table <= 1.0).all()


def test_an_exact_count_is_marked_so(watched) -> None:
    def exact(**trigger) -> bool:
        scenario = watched(**trigger)
        return person.is_exact(scenario.trigger, scenario)

    assert exact(undercount=0, overcount=0)
    assert not exact(undercount=0.01, overcount=0)
    assert not exact(undercount=0, overcount=0.01)
    assert not exact(undercount=0, overcount=0, infrared_range="20 ft")


# ---- what infrared does not reach ----------------------------------------------------------


@pytest.mark.parametrize("reach", few_first([0.05, 1.0, 3.0, 5.0, 7.99, 7.0]))
def test_out_of_sight_against_points_strewn_over_the_corral(reach) -> None:
    """Four million points; a right share is missed with probability 1e-4 (fixed seed)."""
    rng = np.random.default_rng(20260110)
    n = 4_000_000
    r, turn = 4.0 * np.sqrt(rng.random(n)), 2 * math.pi * rng.random(n)
    far = (4.0 - r * np.cos(turn)) ** 2 + (r * np.sin(turn)) ** 2 > reach * reach
    error = math.sqrt(max(far.mean() * (1 - far.mean()), 1e-6) / n)
    assert abs(person.out_of_sight(8.0, reach) - far.mean()) < 3.9 * error


def test_out_of_sight_at_its_ends() -> None:
    assert person.out_of_sight(8.0, 8.0) == 0.0
    assert person.out_of_sight(8.0, 50.0) == 0.0
    assert person.out_of_sight(8.0, 1e-4) == pytest.approx(1.0, abs=1e-9)
    shares = [person.out_of_sight(8.0, 0.1 * j) for j in range(1, 80)]
    assert shares == sorted(shares, reverse=True)


def test_hidden_behind_others_or_beyond_reach(watched) -> None:
    scenario = watched(undercount=0.2, infrared_range="5 m", diameter="8 m")
    beyond = person.out_of_sight(8.0, 5.0)
    assert 0.1 < beyond < 0.9
    found = person.hidden_share(scenario.trigger, scenario)
    assert found == pytest.approx(0.2 + 0.8 * beyond, rel=1e-12)


def test_no_refresh_is_never(scenario_of) -> None:
    def row(refresh: str) -> dict:
        scenario = scenario_of(
            {
                "sounder": {"sows": 1},
                "opening": [WAY],
                "trigger": {"kind": "person", "refresh": refresh, "frame_interval": "2 s"},
            }
        )
        return person.row(scenario.trigger, scenario, solve(scenario))

    assert row("0 s")["refresh"] == math.inf
    assert row("30 s")["refresh"] == 30.0
    assert row("30 s")["frame_interval"] == 2.0
