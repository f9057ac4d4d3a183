"""Setups meet the same luck: what a gate or a trigger changes, it changes only from its release on.

Also: a night can be played again alone, and every animal of every night has one fate.
"""

from __future__ import annotations

import math

import pytest

from shared.identities import check_identities
from soundergate.engine import play
from soundergate.engine.trace.one_night import trace_night

SEED = 20260105
NIGHTS = 40

OF_PIGS = {
    "arrives", "comes to the opening", "steps in", "is inside", "reaches the bait", "feeds",
    "heads out", "waits to leave", "steps out", "is out", "goes away", "bait level", "visit ends",
}  # fmt: skip
"""What is told of animals; the rest is told of lines, people and gates."""

TRIGGERS = {
    "line": {"kind": "line", "height": "20 in", "distance": "12 ft"},
    "line beyond": {"kind": "line", "height": "14 in", "distance": "22 ft"},
    "container": {"kind": "bait"},
    "counter": {"kind": "counter", "count": 5},
    "person": {"kind": "person", "share": 0.8, "frame_interval": "5 s"},
    "none": {"kind": "none"},
    "false": {"kind": "none", "false_release": "20 1/h"},
}


def opening(gate: dict, latch: dict | None = None) -> list[dict]:
    latch = latch or {"kind": "pin", "puller": "air cylinder"}
    return [{"width": "4 ft", "height": "3 ft", "gate": gate, "latch": latch}]


GATES = {
    "light drop": opening({"kind": "drop", "mass": "15 kg"}),
    "heavy drop": opening({"kind": "drop", "mass": "60 kg"}, {"kind": "pin", "lever": 3,
                                                             "puller": "air cylinder"}),
    "top-hinged": opening({"kind": "top-hinged"}, {"kind": "knee", "puller": "air cylinder"}),
    "late": opening({"kind": "drop"}, {"kind": "pin", "puller": "air cylinder", "delay": "9 s"}),
}  # fmt: skip


def story(told: list, until: float) -> list:
    """What the animals did before ``until``."""
    return [one for one in told if one[0] < until and one[1] in OF_PIGS]


def moved(told: list) -> float:
    """When the first gate moved."""
    return min((time for time, kind, *_ in told if kind == "gate moves"), default=math.inf)


@pytest.mark.parametrize("name", [n for n in TRIGGERS if n != "none"])
def test_another_trigger_changes_nothing_before_it_acts(name, base_table, plan_of, tell) -> None:
    """Against the night in which nothing is ever released."""
    free = plan_of(base_table, trigger=TRIGGERS["none"])
    set_ = plan_of(base_table, trigger=TRIGGERS[name])
    acted = told_of = 0
    for number in range(NIGHTS):
        quiet, night = tell(free, SEED, number), tell(set_, SEED, number)
        until = moved(night)
        assert story(night, until) == story(quiet, until)
        acted += until < math.inf
        told_of += len(story(night, until))
    assert acted > NIGHTS / 4
    assert told_of > 5 * NIGHTS


@pytest.mark.parametrize("name", [n for n in GATES if n != "light drop"])
def test_another_gate_changes_nothing_before_it_moves(name, base_table, plan_of, tell) -> None:
    one = plan_of(base_table, opening=GATES["light drop"])
    other = plan_of(base_table, opening=GATES[name])
    acted = 0
    for number in range(NIGHTS):
        a, b = tell(one, SEED, number), tell(other, SEED, number)
        until = min(moved(a), moved(b))
        assert story(a, until) == story(b, until)
        acted += until < math.inf
    assert acted > NIGHTS / 2


def test_a_change_of_behaviour_does_change_the_story(base_table, plan_of, tell) -> None:
    """The negative control of the two above."""
    one = plan_of(base_table, trigger=TRIGGERS["none"])
    other = plan_of(base_table, trigger=TRIGGERS["none"], entry={"social_pull": 0.3})
    pairs = [(tell(one, SEED, n), tell(other, SEED, n)) for n in range(NIGHTS)]
    assert sum(story(a, math.inf) != story(b, math.inf) for a, b in pairs) > NIGHTS / 2


def test_arrivals_are_the_same_whatever_is_set(base_table, plan_of, tell) -> None:
    def arrivals(plan, number):
        return [(t, who) for t, kind, who, _ in tell(plan, SEED, number) if kind == "arrives"]

    one = plan_of(base_table)
    other = plan_of(
        base_table,
        opening=GATES["top-hinged"] + GATES["late"],
        trigger=TRIGGERS["none"],
        entry={"clock": {"fixed": "5 s"}, "frailty_cv": 2.0},
        movement={"crossing": {"dist": "gamma", "mean": "4 s", "cv": 1}},
    )
    for number in range(NIGHTS):
        mine, other_s = arrivals(one, number), arrivals(other, number)
        assert mine == other_s[: len(mine)]
        assert len(other_s) == 7


def test_a_larger_group_leaves_the_first_animals_as_they_were(base_table, plan_of, tell) -> None:
    def when(plan, number, who):
        return [t for t, kind, i, _ in tell(plan, SEED, number) if kind == "arrives" and i == who]

    small = plan_of(base_table, trigger=TRIGGERS["none"])
    large = plan_of(base_table, trigger=TRIGGERS["none"], sounder={"piglets": 9})
    for number in range(10):
        for who in range(7):
            assert when(small, number, who) == when(large, number, who)


# ---- any night again, alone ----------------------------------------------------------------


@pytest.mark.parametrize("engine", ["batch", "reference"])
def test_one_night_alone_is_its_row_of_many(engine, base_table, plan_of) -> None:
    plan = plan_of(base_table)
    many = play(plan, SEED, 0, 60, "batch")
    for number in (0, 1, 17, 59):
        assert play(plan, SEED, number, 1, engine) == many.rows(number, number + 1)


def test_a_traced_night_is_its_row_of_many(sampled_night, base_table, plan_named, scenario_of):
    """The written night tells of the very night that the batch engine counted."""
    batch = play(plan_named(sampled_night), SEED, 0, 3)
    scenario = scenario_of(base_table, **sampled_night.change)
    for number in range(3):
        row = trace_night(scenario, SEED, number).row
        for name in batch:
            mine, counted = row[name], batch[name][number].item()
            assert mine == counted or (math.isnan(mine) and math.isnan(counted)), name


# ---- fates ---------------------------------------------------------------------------------


def test_every_animal_has_one_fate(sampled_night, plan_named) -> None:
    plan = plan_named(sampled_night)
    nights = play(plan, SEED, 0, 1000)
    check_identities(nights)
    held, caught = nights["inside_at_release"], nights["caught"]
    got_away = nights["escaped_during"] + nights["escaped_after"]
    # Of those inside at the release each is caught or gets away.
    assert (nights["escaped_during"] <= held).all()
    assert (caught + got_away >= held).all()
    assert (nights["educated"] <= nights["group_size"] - caught).all()
    assert (nights["night_s"] <= plan.behaviour["check"]).all()
    if not (plan.openings["one_way"] != 0).any():
        # Without a one-way entrance nobody is held until a gate has shut.
        assert (caught[~nights["released"]] == 0).all()
        assert (nights["escaped_after"][~nights["released"]] == 0).all()


def test_without_a_trigger_nobody_is_caught(base_table, plan_of) -> None:
    nights = play(plan_of(base_table, trigger=TRIGGERS["none"]), SEED, 0, 500)
    assert not nights["released"].any()
    assert nights["caught"].sum() == 0
    assert (nights["operator_min"] == 0.0).all()
    assert (nights["escaped_before"] + nights["never_entered"] == nights["group_size"]).all()
