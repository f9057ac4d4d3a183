"""What moves the answer over worlds: known curves, noise, and how often noise is told."""

from __future__ import annotations

import numpy as np
import pytest

from soundergate.scenario.register import register
from soundergate.studies.worlds.inputs import Input
from soundergate.studies.worlds.movers import movers

NAMES = ("entry.clock", "entry.shy_share", "leaving.clock", "visit.patience", "startle.delay")
UNKNOWNS = [Input(name, (name,), register()[name]) for name in NAMES]


def places(worlds: int, seed: int, count: int = len(UNKNOWNS)) -> np.ndarray:
    return np.random.default_rng(seed).random((worlds, count))


def test_a_straight_effect_is_found_with_its_ends():
    """answer = 0.2 + 0.6 u of the first, nothing of the others: 0.23 and 0.77, all of it."""
    u = places(200, 1)
    first, *others = movers(UNKNOWNS, u, 0.2 + 0.6 * u[:, 0], 1)
    assert first.unknown.id == "entry.clock"
    assert (first.low, first.high) == (10, 300)
    assert (first.at_low, first.at_high) == pytest.approx((0.23, 0.77))
    assert first.share == pytest.approx(1.0)
    assert first.shown
    assert not any(one.shown for one in others)


def test_shares_are_those_of_independent_parts():
    """Variances of a + b with a = 3 u1, b = u2: 0.9 and 0.1 (uniforms have variance 1/12)."""
    u = places(4000, 2)
    found = movers(UNKNOWNS, u, 3 * u[:, 3] + u[:, 1], 1)
    assert [one.unknown.id for one in found[:2]] == ["visit.patience", "entry.shy_share"]
    assert [one.share for one in found[:2]] == pytest.approx([0.9, 0.1], abs=0.02)


def test_one_that_works_only_in_the_middle_is_seen():
    u = places(400, 3)
    first = movers(UNKNOWNS, u, (u[:, 2] - 0.5) ** 2, 1)[0]
    assert first.unknown.id == "leaving.clock"
    assert first.share == pytest.approx(1.0)


@pytest.mark.slow
def test_noise_is_told_of_in_five_studies_of_a_hundred_at_most():
    """200 studies of pure noise: at a true rate of 5 % more than 22 false alarms come by chance
    once in a thousand (binomial)."""
    told = 0
    for seed in range(200):
        noise = np.random.default_rng([seed, 7]).normal(size=100)
        told += movers(UNKNOWNS, places(100, seed), noise, seed)[0].shown
    assert 1 <= told <= 22


def test_where_nothing_varies_nothing_moves():
    assert movers(UNKNOWNS, places(50, 1), np.full(50, 0.3), 1) == []
    assert movers([], np.empty((50, 0)), np.arange(50.0), 1) == []
