"""Nights that would go on for ever are given up by both engines, at a count."""

from __future__ import annotations

import pytest

from soundergate.engine import codes as k
from soundergate.engine import endless, play
from soundergate.engine.kernel.batch import play_counted
from soundergate.engine.work.folding import ArmRefused
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.examples import text
from soundergate.scenario.register import register
from soundergate.studies.compare import compare
from soundergate.studies.estimate import run


@pytest.fixture
def restless(scenario_of):
    """Animals that find no room at the bait and try again at once."""
    return scenario_of(
        text("line"),
        bait={"space": "100 m^2"},
        movement={"retry": {"fixed": "1e-12 s"}, "travel": "0 s"},
        arrival={"first": {"fixed": "100 s"}},
        leaving={"clock": "never"},
        visit={"patience": "never"},
    )


def test_the_batch_engine_gives_up_at_a_count(restless, plan_of):
    with pytest.raises(ScenarioError, match="night 3 does not come to an end") as caught:
        play(plan_of(restless), 1, 3, 5)
    assert caught.value.key == "movement.retry"
    assert f"{k.MOST_EVENTS:,}" in str(caught.value)


@pytest.mark.slow
def test_the_reference_engine_gives_up_at_the_same(restless, plan_of):
    with pytest.raises(ScenarioError, match="night 3 does not come to an end") as caught:
        play(plan_of(restless), 1, 3, 1, "reference")
    assert caught.value.key == "movement.retry"


@pytest.mark.parametrize("engine", ["batch", pytest.param("reference", marks=pytest.mark.slow)])
def test_a_screen_that_is_counted_anew_without_end(engine, scenario_of, plan_of):
    watched = scenario_of(text("watch"), trigger={"kind": "person", "refresh": "1e-9 s"})
    with pytest.raises(ScenarioError, match="does not come to an end") as caught:
        play(plan_of(watched), 1, 0, 20, engine)
    assert caught.value.key == "trigger.person.refresh"


def test_a_person_cannot_look_without_end(scenario_of, plan_of):
    """The reference plays every look, and would not come to an end."""

    def watched(every: str):
        return scenario_of(text("watch"), trigger={"kind": "person", "frame_interval": every})

    with pytest.raises(ScenarioError, match="look at the picture without end") as caught:
        plan_of(watched("1 ms"))
    assert caught.value.key == "trigger.person.frame_interval"
    plan_of(watched("0 s"))


def test_every_key_that_is_named_is_one(restless):
    for key in endless.TIMES.values():
        without_default = hasattr(restless.movement, key.removeprefix("movement."))
        assert key in register() or without_default, key


def test_a_run_and_a_comparison_say_it_as_bad_input(restless, scenario_of):
    with pytest.raises(ScenarioError, match="does not come to an end") as caught:
        run(restless, 4, workers=1)
    assert caught.value.file == restless.source
    with pytest.raises(ScenarioError, match="does not come to an end"):
        compare([restless, scenario_of(text("line"))], nights=4, workers=1, names=["a", "b"])


def test_the_refusal_of_an_arm_travels_between_processes():
    import pickle

    refused = ArmRefused(2, ScenarioError("breaks", file="a.toml", key="b", hint="mend it"))
    again = pickle.loads(pickle.dumps(refused))
    assert (again.arm, again.reason, str(again)) == (2, refused.reason, str(refused))
    assert (again.file, again.key, again.hint) == ("a.toml", "b", "mend it")


def test_ordinary_nights_are_far_from_the_bound(plan_of):
    for name in ("line", "watch", "curl", "many"):
        _, events = play_counted(plan_of(text(name)), 1, 0, 200)
        assert events.max() < k.MOST_EVENTS / 20, name


def test_one_that_finds_no_room_all_night_draws_its_waits_anew(scenario_of, plan_of):
    """However often it tries: a wait that was drawn short once is not waited again and again."""
    crowded = scenario_of(
        text("line"),
        sounder={"sows": 0, "juveniles": 3, "piglets": 0},
        trigger={"kind": "counter", "count": 9},
        bait={"space": "100 m^2"},
        movement={"retry": {"dist": "exponential", "mean": "1 s"}, "travel": "0 s"},
        entry={"clock": "1 s", "shy_share": 0},
        arrival={"first": {"fixed": "10 s"}},
        leaving={"clock": "never"},
        visit={"patience": "never"},
    )
    nights, events = play_counted(plan_of(crowded), 1, 0, 40)
    assert (nights["night_s"] == crowded.visit.check).all()
    per_wait = 2 * 2 * crowded.visit.check  # two wait for a second, and each try is two events
    assert 0.9 * per_wait < events.min() <= events.max() < 1.1 * per_wait
