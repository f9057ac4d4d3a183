"""Outings and places in a disc: within bounds, each from a draw of its own."""

from __future__ import annotations

import math

import numpy as np
import pytest

from soundergate.engine import codes as k
from soundergate.engine.place.disc import in_disc
from soundergate.engine.place.outings import MOST, aim, pause


@pytest.fixture
def times(base_table, plan_of):
    return plan_of(base_table).all_times()


def test_places_keep_within_the_disc_and_the_fence() -> None:
    found = np.array([in_disc(3.0, 0.0, 2.0, 4.0, 1, 2, 3, 4, n) for n in range(2000)])
    assert (np.hypot(found[:, 0] - 3.0, found[:, 1]) <= 2.0).all()
    assert (np.hypot(*found.T) <= 4.0).all()
    assert len(np.unique(found, axis=0)) == len(found)


def test_a_disc_of_no_size_is_its_middle() -> None:
    assert in_disc(1.0, -2.0, 0.0, 4.0, 1, 2, 3, 4, 0) == (1.0, -2.0)


def test_a_disc_outside_the_fence_is_its_middle() -> None:
    """Nothing that is drawn will do."""
    assert in_disc(9.0, 0.0, 1.0, 4.0, 1, 2, 3, 4, 0) == (9.0, 0.0)


def test_pauses_are_of_the_stated_distribution(times) -> None:
    waits = [pause(times, 1, night, 0, 0, 0)[0] for night in range(4000)]
    assert np.log(waits).mean() == pytest.approx(math.log(120.0), abs=0.06)
    assert np.log(waits).std() == pytest.approx(0.8, abs=0.05)


def test_no_outing_comes_after_the_last(times) -> None:
    assert pause(times, 1, 1, 0, 0, MOST - 1)[0] < math.inf
    assert pause(times, 1, 1, 0, 0, MOST) == (math.inf, 1.0)


@pytest.mark.parametrize(("share", "reach", "most"), [(0.0, 1.5, 1.5), (1.0, 1.5, 9.0)])
def test_how_far_an_outing_goes(times, share, reach, most) -> None:
    far = [
        aim(0.5, times, share, reach, 5.0, 2.0, 1.0, 2.0, 1, night, 0, 0, 0)
        for night in range(1000)
    ]
    x, y, seconds = np.array(far).T
    apart = np.hypot(x - 1.0, y - 2.0)
    assert apart.max() <= most
    assert apart.max() > 0.8 * min(most, 5.0)
    np.testing.assert_allclose(seconds, apart / 2.0)
    assert (np.hypot(x, y) <= 5.0).all()


def test_stays_and_outings_do_not_share_draws(times) -> None:
    waits = {pause(times, 1, 1, 0, stay, n)[0] for stay in range(3) for n in range(50)}
    assert len(waits) == 150
    assert k.D_OUTING != k.D_AIM
