"""Rules of at most two unknowns: planted ones are found, noise is seldom told."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy import stats

from soundergate.scenario.register import UNKNOWN, register
from soundergate.studies.worlds.boxes import find_box
from soundergate.studies.worlds.inputs import Input

UNKNOWNS = [Input(n, (n,), e) for n, e in register().items() if e.role == UNKNOWN][:60]


def places(worlds: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).random((worlds, len(UNKNOWNS)))


def labels(rng: np.random.Generator, held: np.ndarray, inside: float, outside: float) -> np.ndarray:
    return rng.random(len(held)) < np.where(held, inside, outside)


def test_a_planted_limit_is_found_and_told_in_the_unknowns_own_unit():
    u = places(400, 1)
    held = u[:, 7] < 0.4
    box = find_box(UNKNOWNS, u, labels(np.random.default_rng(2), held, 0.9, 0.2))
    assert box is not None
    (side,) = box.sides
    assert (side.unknown.id, side.below) == (UNKNOWNS[7].id, True)
    assert side.place == pytest.approx(0.4, abs=0.06)
    assert side.value == UNKNOWNS[7].at(side.place)
    assert box.inside == pytest.approx(0.9, abs=0.12)
    assert box.outside == pytest.approx(0.2, abs=0.12)
    assert box.worlds == 200
    json.dumps(box.to_json(), allow_nan=False)


def test_a_planted_corner_of_two_is_found():
    u = places(400, 3)
    held = (u[:, 4] > 0.45) & (u[:, 30] < 0.6)
    box = find_box(UNKNOWNS, u, labels(np.random.default_rng(4), held, 0.95, 0.1))
    assert box is not None
    assert {(side.unknown.id, side.below) for side in box.sides} == {
        (UNKNOWNS[4].id, False),
        (UNKNOWNS[30].id, True),
    }


@pytest.mark.parametrize(
    ("studies", "unknowns"), [(60, 12), pytest.param(400, 60, marks=pytest.mark.slow)]
)
def test_noise_is_told_in_five_studies_of_a_hundred_at_most(studies, unknowns):
    """The most that come by chance once in 1,000 at a true rate of 5 % (binomial)."""
    told = 0
    for seed in range(studies):
        label = np.random.default_rng([seed, 1]).random(200) < 0.5
        told += find_box(UNKNOWNS[:unknowns], places(200, seed)[:, :unknowns], label) is not None
    assert told <= stats.binom.isf(1e-3, studies, 0.05)


def test_a_box_told_by_the_worlds_it_was_fitted_to_would_be_too_good():
    """Negative control: in noise the share in the fitted half is far above the true one."""
    from soundergate.studies.worlds.boxes import _held, _searched

    shares = []
    for seed in range(6):
        u, label = places(200, seed), np.random.default_rng([seed, 1]).random(200) < 0.5
        shares.append(label[_held(u, _searched(u, label))].mean())
    assert np.mean(shares) > 0.65


def test_the_same_worlds_give_the_same_box():
    u = places(200, 5)
    label = u[:, 2] > 0.5
    assert find_box(UNKNOWNS, u, label) == find_box(UNKNOWNS, u, label)


@pytest.mark.parametrize("every", [True, False])
def test_where_all_worlds_agree_there_is_nothing_to_tell(every):
    assert find_box(UNKNOWNS, places(100, 1), np.full(100, every)) is None


def test_worlds_at_one_place_come_to_an_end():
    """Of which nothing can be peeled off."""
    u = np.round(places(100, 1)[:, :3])
    label = np.random.default_rng(2).random(100) < 0.5
    assert find_box(UNKNOWNS[:3], u, label) is None
