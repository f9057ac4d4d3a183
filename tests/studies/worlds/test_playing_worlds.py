"""Setups in plausible worlds: each world's own nights, common between arms, stacked anyhow."""

from __future__ import annotations

import numpy as np
import pytest

from soundergate.engine import play
from soundergate.report.words.world_answers import left_out
from soundergate.scenario import examples
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import loads, with_values
from soundergate.studies.arms import Arm
from soundergate.studies.players import plan_of
from soundergate.studies.worlds import playing
from soundergate.studies.worlds import robust as robust_room
from soundergate.studies.worlds.further import AGAIN
from soundergate.studies.worlds.playing import Stacked
from soundergate.studies.worlds.robust import robust
from soundergate.studies.worlds.worlds import draw, in_world, unknowns

SEED, NIGHTS, WORLDS = 6, 10, 20
RESTLESS = {
    "bait.space": "100 m^2",
    "movement.retry": {"fixed": "1e-12 s"},
    "movement.travel": "0 s",
    "arrival.first": {"fixed": "100 s"},
    "leaving.clock": "never",
    "visit.patience": "never",
}
"""Animals that find no room at the bait and try again at once."""


@pytest.fixture(scope="module")
def arms():
    line = loads(examples.text("line"))
    return [Arm("as it is", line), Arm("low", with_values(line, {"trigger.height": "10 in"}))]


DOUBTFUL = [2, 5, 11, 19]


def doubt(gains, noise, *_):
    """As if some worlds never told what they are asked."""
    return np.isin(np.arange(WORLDS), DOUBTFUL)[:, None] & np.ones_like(gains, bool)


@pytest.fixture
def doubtful(monkeypatch):
    monkeypatch.setattr(robust_room, "in_doubt", doubt)


@pytest.fixture(scope="module")
def found(arms):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(robust_room, "in_doubt", doubt)
        return robust(arms, WORLDS, NIGHTS, SEED, keep_nights=True)


def test_each_world_is_the_setup_in_it_on_nights_of_its_own(arms, found):
    what = unknowns([arm.scenario for arm in arms])
    places, more = draw(what, WORLDS, SEED), (AGAIN - 1) * NIGHTS
    assert found.longer == [row + 1 for row in DOUBTFUL]
    assert found.further.played == len(DOUBTFUL) * len(arms) * more
    for arm in arms:
        for world in range(1, WORLDS + 1):
            plan = plan_of(in_world(arm.scenario, what, places[world - 1].tolist()))
            kept, first = found.nights_kept[arm.name][world], (world - 1) * NIGHTS
            assert kept.rows(0, NIGHTS) == play(plan, SEED, first, NIGHTS)
            if world in found.longer:
                start = WORLDS * NIGHTS + (world - 1) * more
                assert kept.rows(NIGHTS, AGAIN * NIGHTS) == play(plan, SEED, start, more)
            else:
                assert len(kept) == NIGHTS


@pytest.mark.parametrize(("at_once", "kept"), [(1, 0), (2, 30)])
@pytest.mark.usefixtures("doubtful")
def test_how_worlds_are_stacked_never_shows(arms, found, monkeypatch, at_once, kept):
    monkeypatch.setattr(playing, "_PLANS", {"batch": at_once})
    monkeypatch.setattr(playing, "_KEPT", kept)
    again = robust(arms, WORLDS, NIGHTS, SEED, keep_nights=True, workers=at_once)
    assert again.nights_kept == found.nights_kept
    assert again.to_json() == found.to_json()
    assert again.to_worlds_csv() == found.to_worlds_csv()


def test_both_engines_play_the_same_worlds(arms):
    what = unknowns([arm.scenario for arm in arms])
    given = arms, what, draw(what, 3, SEED)
    asked = SEED, [0, 2], [50, 70], 3
    assert Stacked(*given, "batch")(*asked) == Stacked(*given, "reference")(*asked)


def test_worlds_that_cannot_be_are_told_by_their_arm_and_leave_the_others(arms):
    """One is not built; that the nights of another have no end shows only when they are played."""
    what = unknowns([arm.scenario for arm in arms])
    places, asked = draw(what, 5, SEED), (SEED, range(5), range(0, 50, 10), 10)
    whole = Stacked(arms, what, places, "batch")(*asked)
    stacked = Stacked(arms, what, places, "batch")
    right = stacked._made[1]

    def world(u):
        if u == places[1].tolist():
            raise ScenarioError("cannot be built")
        return with_values(right(u), RESTLESS) if u == places[3].tolist() else right(u)

    stacked._made[1] = world
    there = stacked(*asked)
    assert there[1] == "low: cannot be built"
    alone = Stacked([Arm("", arms[0].scenario)], what, places, "batch")
    alone._made[0] = world
    assert alone(*asked)[1] == "cannot be built"
    assert ": :" not in left_out({2: alone(*asked)[1]}, 5)
    assert there[3].startswith("low: movement.retry: night ")
    assert "does not come to an end" in there[3]
    assert [there[i] for i in (0, 2, 4)] == [whole[i] for i in (0, 2, 4)]
