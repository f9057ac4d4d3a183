"""How sure a release is over plausible worlds: each world is that of every other command."""

from __future__ import annotations

import json

import numpy as np
import pytest

from shared.traps import SOLENOID_DROP
from soundergate.mechanics.advice.check import passes
from soundergate.mechanics.setup import solve
from soundergate.scenario import examples
from soundergate.scenario.loading import loads
from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.steel import ASKED, steel_over_worlds
from soundergate.studies.worlds.worlds import draw, in_world, unknowns

SLOW = ("swing", "leaf", "many", "twin", "weeks", "either", "watch")


@pytest.mark.parametrize(
    "name",
    [pytest.param(one, marks=pytest.mark.slow) if one in SLOW else one for one in examples.names()],
)
def test_a_world_is_that_of_all_its_unknowns(name):
    """Those that steel does not read are not moved, and would change nothing if they were."""
    scenario = loads(examples.text(name))
    found = steel_over_worlds(scenario, 20, seed=4)
    if found is None:
        assert all(one.latch is None for one in scenario.opening)
        return
    every = unknowns([scenario])
    places = draw(every, 20, 4)
    assert len(found.unknowns) < len(every)
    for world in (0, 11):
        there = solve(in_world(scenario, every, places[world].tolist())).openings
        for what in ASKED:
            assert found.found[what][world].tolist() == [getattr(one, what) for one in there]
        assert found.passes[world].tolist() == [passes(one) for one in there]


@pytest.fixture(scope="module")
def two():
    weak = SOLENOID_DROP | {"latch": SOLENOID_DROP["latch"] | {"pull": "6 lbf"}}
    return {
        "sounder": {"sows": 1},
        "opening": [SOLENOID_DROP, weak],
        "trigger": {"kind": "person"},
    }


def test_the_weaker_puller_is_less_sure_in_every_world(scenario_of, two):
    found = steel_over_worlds(scenario_of(two), 30)
    released = found.found["release_probability"]
    assert (released[:, 1] <= released[:, 0]).all()
    assert found.passing(1) < found.passing(0)
    low, middle, high = found.quantiles(1)
    assert low.estimate <= middle.estimate <= high.estimate
    assert middle.estimate == pytest.approx(np.median(released[:, 1]))
    told = json.loads(json.dumps(found.to_json(), allow_nan=False))
    assert told["openings"][1]["passes"] == found.passing(1)
    assert found.movers(1)[0].unknown.id.startswith("opening.latch.")


def test_what_is_stated_is_known(scenario_of, two):
    """With friction stated, less is left open; with nothing that steel reads, one world."""
    rusty = {**SOLENOID_DROP, "latch": {**SOLENOID_DROP["latch"], "friction": 0.4}}
    stated = scenario_of({**two, "opening": [rusty]})
    ids = {one.id for one in steel_over_worlds(stated, 20).unknowns}
    assert "opening.latch.friction" not in ids


def test_no_latch_no_release(scenario_of):
    push = {"width": "2 ft", "height": "3 ft", "gate": {"kind": "push panel"}}
    table = {"sounder": {"sows": 1}, "opening": [push], "trigger": {"kind": "none"}}
    assert steel_over_worlds(scenario_of(table), 20) is None


@pytest.mark.parametrize("worlds", [3, 0, -1, True, "many", None, 20.0])
def test_wrong_numbers(scenario_of, two, worlds):
    with pytest.raises(StudyError, match="worlds"):
        steel_over_worlds(scenario_of(two), worlds)


def test_an_opening_without_a_latch_cannot_be_asked(scenario_of, two):
    found = steel_over_worlds(scenario_of(two), 20)
    with pytest.raises(StudyError, match="no latch"):
        found.quantiles(2)
    with pytest.raises(StudyError, match="was not asked"):
        found.quantiles(0, "margin")
