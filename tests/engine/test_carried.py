"""Nights of campaigns: both engines agree, animals stay what they are, wary ones never enter."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from shared.identities import check_identities
from soundergate.engine import codes as k
from soundergate.engine import play, play_carried
from soundergate.engine.carried import carried
from soundergate.engine.reference.bodies import Bodies
from soundergate.engine.reference.facts import Facts

SEED = 20260108


def drawn_nights(plan, nights: int, seed: int):
    """Numbers, numbers of first nights and codes, any with any; at least one animal comes."""
    rng = np.random.default_rng(seed)
    number = 7_000 + np.arange(nights)
    traits = number - rng.integers(0, 4, nights)
    before = rng.integers(k.AS_DRAWN, k.WARY + 1, (nights, plan.group_size))
    before[:, 0] = rng.integers(k.WILLING, k.WARY + 1, nights)
    return carried(plan, number, traits, before)


def check_twins(plan, nights: int, seed: int = 1):
    batch, reference = (drawn_nights(plan, nights, seed) for _ in range(2))
    rows = play_carried(plan, SEED, batch, "batch")
    assert rows == play_carried(plan, SEED, reference, "reference")
    assert np.array_equal(batch.after, reference.after)
    check_identities(rows)
    return rows, batch


def test_named_night(sampled_night, plan_named) -> None:
    check_twins(plan_named(sampled_night), sampled_night.nights // 10)


def test_strength_is_a_trait(night_named, base_table, plan_of) -> None:
    """A gate that only some captives can lift: it matters which night says how strong they are."""
    change = dict(night_named("captives pry a gate without a lock").change)
    heavy = {"kind": "drop", "lock": False, "mass": "25 kg"}
    change["opening"] = [change["opening"][0] | {"gate": heavy}]
    rows, _ = check_twins(plan_of(base_table, **change), 400)
    assert 10 < rows["escaped_after"].sum() < rows["inside_at_release"].sum() - 10


@pytest.mark.slow
def test_named_night_many_times(named_night, plan_named) -> None:
    check_twins(plan_named(named_night), 5 * named_night.nights, seed=2)


@pytest.fixture(scope="module")
def plan(base_table, plan_of):
    return plan_of(base_table, trigger={"kind": "counter", "count": 4})


@pytest.mark.parametrize("engine", ["batch", "reference"])
def test_a_night_that_stands_alone_is_one_of_these(plan, engine: str) -> None:
    number = np.arange(40, 80)
    as_drawn = np.full((40, plan.group_size), k.AS_DRAWN)
    nights = carried(plan, number, number, as_drawn)
    assert play_carried(plan, SEED, nights, engine) == play(plan, SEED, 40, 40, engine)


def test_what_they_take_adds_up_to_the_outcome(plan) -> None:
    rows, nights = check_twins(plan, 300)
    there = nights.after & k.WAS_THERE != 0
    caught = nights.after & k.WAS_CAUGHT != 0
    held = nights.after & k.WAS_HELD != 0
    witness = nights.after & k.WAS_WITNESS != 0
    assert np.array_equal(there.sum(axis=1), rows["group_size"])
    assert np.array_equal(caught.sum(axis=1), rows["caught"])
    assert np.array_equal(held.sum(axis=1), rows["inside_at_release"])
    assert np.array_equal((witness & ~caught).sum(axis=1), rows["educated"])
    inside = nights.after & k.WAS_INSIDE != 0
    assert np.array_equal(there.sum(axis=1) - inside.sum(axis=1), rows["never_entered"])
    assert inside[caught | held].all()
    assert (inside & ~caught & ~held).any()
    assert np.array_equal(there[nights.before == k.ABSENT].any(), False)
    assert there[nights.before >= k.WILLING].all()
    assert (caught <= there).all()
    assert caught.any()
    assert (held & ~caught).any()


def test_wary_animals_never_enter_and_willing_ones_are_not_wary(plan) -> None:
    _, nights = check_twins(plan, 300)
    wary = nights.after & k.WAS_WARY != 0
    inside = nights.after & (k.WAS_HELD | k.WAS_CAUGHT) != 0
    assert wary[nights.before == k.WARY].all()
    assert not wary[nights.before == k.WILLING].any()
    assert not inside[nights.before == k.WARY].any()
    assert inside[nights.before == k.WILLING].any()
    drawn = wary[nights.before == k.AS_DRAWN]
    assert drawn.any()
    assert not drawn.all()


def test_animals_stay_what_they_are_and_meet_other_luck(plan) -> None:
    """By the reference, whose nights the kernel's equal: traits are those of the first night."""
    facts = Facts(plan)

    def traits(night: int, of: int | None) -> list[float]:
        bodies = Bodies(facts, SEED, night, of)
        ask = (bodies.mass, bodies.back, bodies.frailty, bodies.push)
        return [f(i) for f, i in itertools.product(ask, range(plan.group_size))]

    assert traits(12, 9) == traits(9, None) != traits(12, None)
    number = np.arange(1, 201)
    willing = np.full((200, plan.group_size), k.WILLING)
    nights = [carried(plan, number, of, willing) for of in (number, np.zeros(200, int))]
    own, one = (play_carried(plan, SEED, n) for n in nights)
    assert len(np.unique(one["release_s"])) > 100
    assert not np.array_equal(own["release_s"], one["release_s"])


def test_readiness_to_enter_is_a_trait(plan) -> None:
    """Animals that are among the first four inside on one night of a campaign are so on the next.

    2,000 campaigns of two nights; the correlation between the nights, animal by animal, and its
    mean over the animals. By luck alone its standard error is at most 1 / sqrt(2000), so that it
    passes 0.08 once in three thousand.
    """
    willing = np.full((2000, plan.group_size), k.WILLING)
    first = 2 * np.arange(2000)

    def inside(number, traits):
        nights = carried(plan, number, traits, willing)
        play_carried(plan, SEED, nights)
        return (nights.after & k.WAS_HELD != 0).astype(float)

    def alike(one, other) -> float:
        return float(
            np.mean([np.corrcoef(x, y)[0, 1] for x, y in zip(one.T, other.T, strict=True)])
        )

    one = inside(first, first)
    assert alike(one, inside(first + 1, first)) > 0.08
    assert abs(alike(one, inside(first + 1, first + 1))) < 0.08


def test_what_cannot_be_played_is_refused(plan) -> None:
    one, n = np.zeros(1, int), plan.group_size
    with pytest.raises(ValueError, match="shapes"):
        carried(plan, one, one, np.zeros((1, n + 1), int))
    with pytest.raises(ValueError, match="below 0"):
        carried(plan, one - 1, one, np.zeros((1, n), int))
    with pytest.raises(ValueError, match="other codes than 0 to 3"):
        carried(plan, one, one, np.full((1, n), 4))
    with pytest.raises(ValueError, match="engine 'both'"):
        play_carried(plan, SEED, carried(plan, one, one, np.zeros((1, n), int)), "both")
