"""How sure a release is over plausible worlds: each world is that of every other command."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from shared.traps import SOLENOID_DROP
from soundergate.mechanics.advice.check import passes
from soundergate.mechanics.setup import solve
from soundergate.report.tables.margins import unknowns_tables
from soundergate.report.words.steel_answers import steel_answer
from soundergate.scenario import examples
from soundergate.scenario.loading import loads
from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.phrases import named
from soundergate.studies.worlds.steel import ASKED, steel_over_worlds
from soundergate.studies.worlds.worlds import draw, in_world, unknowns, worlds_of

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


@pytest.mark.parametrize("name", ["bucket", "line"])
def test_nothing_hangs_on_what_steel_does_not_read(name):
    """What is not read changes no opening if it alone moves; it is never among what moves one."""
    scenario = loads(examples.text(name))
    found = steel_over_worlds(scenario, 20, seed=4)
    made = worlds_of(scenario, found.unknowns)
    middle = np.full(len(found.unknowns), 0.5)
    as_it_is = solve(made(middle.tolist())).openings
    assert 0 < found.read.sum() < len(found.read)
    changed = set()
    for number, read in enumerate(found.read):
        for end in (0.02, 0.98):
            there = middle.copy()
            there[number] = end
            for one, other in zip(as_it_is, solve(made(there.tolist())).openings, strict=True):
                differs = any(getattr(one, what) != getattr(other, what) for what in ASKED)
                assert read or not differs, found.unknowns[number].id
                changed |= {number} if differs else set()
    assert changed
    told = {one.unknown.id for n in found.latched for one in found.movers(n)}
    read = {one.id for one, kept in zip(found.unknowns, found.read, strict=True) if kept}
    assert told <= read
    assert not any(one.startswith("movement.") for one in read)


def test_a_table_lists_what_is_shown_and_nothing_else(scenario_of, two):
    found = steel_over_worlds(scenario_of(two), 60)
    shown = [one for one in found.movers(1) if one.shown]
    assert 0 < len(shown) < len(found.movers(1))
    table = unknowns_tables(found)[-1]
    assert [row[0] for row in table.rows] == [named(one.unknown.id) for one in shown][:6]
    assert "shown" not in table.columns
    told = steel_answer(replace(found, read=np.zeros_like(found.read)))
    assert not any("hangs" in line for line in told)
    by_chance = np.random.default_rng(5).random(found.found[ASKED[0]].shape)
    nothing = replace(found, found=dict.fromkeys(ASKED, by_chance))
    assert not any(one.shown for n in (0, 1) for one in nothing.movers(n))
    assert unknowns_tables(nothing) == []
    assert sum("no single thing that is shown" in line for line in steel_answer(nothing)) == 2


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
