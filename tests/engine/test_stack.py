"""Worlds that are stacked play the nights that they would play alone, to the bit."""

from __future__ import annotations

import contextlib

import numpy as np
import pytest

from shared.plans import plan_of, scenario_of
from soundergate.engine import play, play_stack
from soundergate.engine.build import build, retrained
from soundergate.engine.compiled.decorators import PLAIN
from soundergate.engine.kernel import night, stacked
from soundergate.engine.kernel.scratch import scratch_for
from soundergate.engine.stack import alike, stack
from soundergate.mechanics.setup import _solve_opening, solve
from soundergate.scenario import examples
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.schema import Scenario
from soundergate.studies.worlds.inputs import inputs_of, moved
from soundergate.studies.worlds.worlds import draw, worlds_of

SEED = 77


def plans_in(name: str, count: int) -> list:
    """Plans of an example with all that nobody knows drawn, of those worlds that can be."""
    return in_worlds(loads(examples.text(name)), count)[1:]


def agree(plans: list, nights: int, engine: str = "batch") -> None:
    first = [1000 + 5 * nights * w for w in range(len(plans))]
    together = play_stack(plans, SEED, first, nights, engine)
    for plan, at, outcomes in zip(plans, first, together, strict=True):
        assert outcomes == play(plan, SEED, at, nights, "batch")


@pytest.mark.slow
@pytest.mark.parametrize("name", examples.names())
def test_all_unknowns_at_once(name: str) -> None:
    agree(plans_in(name, 3), 12)


@pytest.mark.parametrize("name", ["line", pytest.param("either", marks=pytest.mark.slow)])
def test_the_reference_engine_plays_the_same_worlds(name: str) -> None:
    agree(plans_in(name, 2), 4, "reference")


def test_worlds_of_several_setups_and_shapes_in_one_stack() -> None:
    plans = [plan for name in ("line", "twin", "watch", "line") for plan in plans_in(name, 2)]
    assert len(alike(plans)) > 1
    agree(plans, 10)
    if not PLAIN:
        assert len(stacked.play_worlds.signatures) == 1
        assert len(night.play_nights.signatures) == 1, "the night is compiled once"


def in_worlds(scenario: Scenario, count: int) -> list:
    """Its plans as it is assumed and in some worlds, of those that can be."""
    what = inputs_of(scenario)
    world, plans = worlds_of(scenario, what), [plan_of(scenario)]
    for u in draw(what, count, 5):
        with contextlib.suppress(ScenarioError):
            plans.append(plan_of(world(u.tolist())))
    return plans


def test_named_night_in_a_stack_of_worlds(sampled_night, base_table) -> None:
    """Congestion, ties and rare paths, each beside worlds in which all that is unknown moved."""
    agree(in_worlds(scenario_of(base_table, **sampled_night.change), 2), sampled_night.nights // 4)


@pytest.mark.slow
def test_all_named_nights_in_one_stack(all_named, base_table) -> None:
    agree(
        [
            plan
            for night in all_named
            for plan in in_worlds(scenario_of(base_table, **night.change), 4)
        ],
        400,
    )


@pytest.mark.parametrize(
    ("moves", "again"), [("entry.clock", False), ("opening.gate.drop.friction", True)]
)
def test_steel_is_solved_again_only_where_an_unknown_touches_it(moves: str, again: bool) -> None:
    scenario = loads(examples.text("line"))
    (one,) = (found for found in inputs_of(scenario) if found.id == moves)
    solve(scenario)
    before = solved_so_far()
    plans = []
    for share in (0.2, 0.4, 0.6):
        world = moved(scenario, {one: share})
        plans.append(build(world, solve(world)))
    assert solved_so_far() - before == (3 if again else 0)
    agree(plans, 20)


def solved_so_far() -> int:
    return _solve_opening.cache_info().misses


@pytest.mark.slow
@pytest.mark.parametrize("name", examples.names())
def test_each_unknown_alone(name: str) -> None:
    scenario = loads(examples.text(name))
    plans = []
    for one in inputs_of(scenario):
        for share in (0.02, 0.98):
            with contextlib.suppress(ScenarioError):
                plans.append(plan_of(moved(scenario, {one: share})))
    assert len(plans) > 50
    agree(plans, 10)
    agree(plans[::20], 5, "reference")


def test_a_stack_holds_the_arrays_of_each_world() -> None:
    plans = plans_in("line", 3)
    (rows,) = alike(plans)
    whole = stack(plans)
    for field in whole._fields:
        for w in rows:
            alone, there = getattr(plans[w], field), getattr(whole, field)[w]
            assert there.dtype == alone.dtype
            assert there.tobytes() == alone.tobytes(), field


def test_plans_of_different_shapes_are_not_stacked() -> None:
    with pytest.raises(ValueError, match="different shapes"):
        stack([*plans_in("line", 1), *plans_in("twin", 1)])
    with pytest.raises(ValueError, match="1 first nights for 2 worlds"):
        play_stack(plans_in("line", 2), SEED, [0], 3)
    assert play_stack([], SEED, [], 3) == []


def test_a_stack_leaves_no_trace_in_a_plan() -> None:
    (plan,) = plans_in("either", 1)
    before = [np.array(array, copy=True).tobytes() for array in plan]
    play_stack([plan], SEED, [0], 5)
    assert [np.asarray(array).tobytes() for array in plan] == before
    assert scratch_for(plan).night.state is not scratch_for(plan).night.state


@pytest.mark.parametrize("name", examples.names())
def test_more_training_changes_only_what_is_made_anew(name: str) -> None:
    scenario = loads(examples.text(name))
    setup = solve(scenario)
    plan, trained = build(scenario, setup), with_values(scenario, {"training.nights": 31})
    for got, wanted in zip(retrained(plan, trained, setup), build(trained, setup), strict=True):
        assert got.tobytes() == wanted.tobytes()


def test_each_world_of_a_stack_is_handed_to_the_kernel_whole() -> None:
    """Every array of every world, whether or not some night would show it."""
    plans = plans_in("line", 3)
    whole = stack(plans)
    for w, plan in enumerate(plans):
        for name, alone, there in zip(plan._fields, plan, stacked.plan_of(whole, w), strict=True):
            assert there.tobytes() == alone.tobytes(), name


@pytest.mark.parametrize("name", ["close_time", "entry_speed", "leave_speed", "mass"])
def test_worlds_that_differ_in_one_thing_play_differently(name: str) -> None:
    """In steel or in behaviour: the second world is not played with what the first has."""
    (plan,) = plans_in("line", 1)
    other = plan._replace(**{name: getattr(plan, name) * 40})
    agree([plan, other], 200)
    assert play_stack([plan], SEED, [0], 200) != play_stack([other], SEED, [0], 200)
