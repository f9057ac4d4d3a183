"""The search for a release rule: what it looks up is what the engine plays; it finds the best."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine import play
from soundergate.study.release_rule import (
    NEVER,
    SEARCH_FROM,
    STAGES,
    Played,
    Rule,
    Step,
    alone,
    best_rule,
    counts_of,
    play_stages,
    plays_of,
    with_rule,
)

SEED = 77
NIGHTS = 60
PERSON = {"kind": "person", "dropout": 0, "awake": 1.0}
BASE = {
    "title": "Invented: a person watches",
    "sounder": {"sows": 1, "juveniles": 4, "piglets": 2},
    "opening": [
        {
            "width": "4 ft",
            "height": "3 ft",
            "gate": {"kind": "drop", "sheet": "14 gauge"},
            "latch": {
                "kind": "pin",
                "puller": "solenoid",
                "pull": "25 lbf",
                "lever": 4,
                "engaged": "1/8 in",
            },
        }
    ],
}


@pytest.fixture(scope="module")
def plan(plan_of):
    return plan_of(BASE, trigger=PERSON)


def share(outcomes):
    return outcomes["caught"] / outcomes["group_size"]


@pytest.fixture(scope="module")
def played(plan) -> Played:
    return play_stages(plan, share, SEED, NIGHTS)


def chosen_of(played: Played, counts: tuple[int, ...]):
    return np.array([played.counts.index(count) for count in counts])


def test_what_is_looked_up_is_what_is_played(plan, played: Played) -> None:
    """Any rule that asks for fewer as time passes, against the engine on the same nights."""
    rng = np.random.default_rng(5)
    differ = set()
    for _ in range(40):
        chosen = np.sort(rng.integers(0, len(played.counts), len(STAGES)))[::-1]
        steps = [(step.after, float(step.count)) for step in played.rule(chosen).steps]
        outcomes = play(with_rule(plan, steps), SEED, SEARCH_FROM, NIGHTS)
        assert played.worth(chosen) == pytest.approx(share(outcomes).mean(), abs=1e-12)
        differ.add(round(played.worth(chosen), 9))
    assert len(differ) > 10


def test_the_best_is_the_best_of_all(played: Played) -> None:
    """Against every rule that asks for fewer as time passes, on a search small enough for that."""
    few = Played(
        played.stages[:4],
        (*played.counts[:4], NEVER),
        played.when[:, :4][:, :, [0, 1, 2, 3, -1]],
        played.gain[:, :4][:, :, [0, 1, 2, 3, -1]],
    )
    every = itertools.combinations_with_replacement(range(4, -1, -1), 4)
    best = max(few.worth(np.array(chosen)) for chosen in every)
    found = best_rule(few)
    counts = tuple(expanded(found, few.stages))
    assert few.worth(chosen_of(few, counts)) == pytest.approx(best, abs=1e-12)


def expanded(rule: Rule, stages) -> list[int]:
    """The count of every stage."""
    return [next(step.count for step in rule.steps[::-1] if step.after <= at) for at in stages]


@given(st.data())
def test_no_constant_rule_is_better_and_counts_fall(data) -> None:
    shape = 8, 3, 4
    numbers = st.floats(0, 1)
    values = data.draw(st.lists(numbers, min_size=96, max_size=96))
    gain = np.array(values).reshape(shape)
    when = np.array(data.draw(st.lists(numbers, min_size=96, max_size=96))).reshape(shape)
    some = Played((0.0, 60.0, 120.0), (1, 2, 3, NEVER), when, gain)
    found = expanded(best_rule(some), some.stages)
    assert found == sorted(found, reverse=True)
    worth = some.worth(chosen_of(some, tuple(found)))
    assert worth >= max(some.worth(np.full(3, c)) for c in range(4)) - 1e-12
    assert worth <= some.with_hindsight.mean() + 1e-12


def test_hindsight_is_never_behind(played: Played) -> None:
    found = expanded(best_rule(played), played.stages)
    worth = played.worth(chosen_of(played, tuple(found)))
    assert worth <= played.with_hindsight.mean()
    assert played.with_hindsight.mean() <= 1.0


def test_who_never_leaves_is_waited_for(plan_of) -> None:
    """A known answer: where all come in and none goes out, nothing is lost by waiting for all."""
    stay = plan_of(
        BASE,
        trigger=PERSON | {"undercount": 0.0, "overcount": 0.0, "infrared_range": "100 m"},
        entry={"shy_share": 0.0, "clock": {"dist": "exponential", "mean": "5 min"}},
        leaving={"clock": "never"},
        visit={"patience": {"dist": "fixed", "value": "11 h"}},
    )
    stages = (0.0, 1800.0, 3600.0)
    some = play_stages(stay, share, SEED, 40, stages)
    n = stay.group_size
    all_of_them = some.worth(chosen_of(some, (n, n, n)))
    first = some.worth(chosen_of(some, (1, 1, 1)))
    found = chosen_of(some, tuple(expanded(best_rule(some), stages)))
    assert first < all_of_them <= some.worth(found) <= all_of_them + 0.05


def test_steps_are_said_once() -> None:
    rule = Rule.of((0, 300, 600, 900), (9, 9, 4, 4))
    assert rule.steps == (Step(0.0, 9), Step(600.0, 4))
    assert rule.values() == [{"after": "0 min", "count": 9}, {"after": "10 min", "count": 4}]
    assert rule.toml() == 'rule = [{after = "0 min", count = 9}, {after = "10 min", count = 4}]'
    assert Rule.of((0, 300), (NEVER, 4)).toml().endswith("]  # 10000: wait")


def test_a_stage_is_played_by_itself() -> None:
    stages = (0.0, 300.0, 600.0)
    assert alone(stages, 0, 5) == [(0.0, 5.0), (300.0, NEVER)]
    assert alone(stages, 1, 5) == [(0.0, NEVER), (300.0, 5.0), (600.0, NEVER)]
    assert alone(stages, 2, 5) == [(0.0, NEVER), (600.0, 5.0)]


@given(st.integers(1, 200))
def test_counts_reach_from_one_to_all(group: int) -> None:
    counts = counts_of(group)
    assert counts[0] == 1
    assert counts[-2:] == (group, NEVER)
    assert len(counts) <= 17
    assert list(counts) == sorted(set(counts))
    assert plays_of(group) == 1 + len(STAGES) * (len(counts) - 1)


def test_progress_counts_every_night(plan) -> None:
    told: list[int] = []
    play_stages(plan, share, SEED, 5, (0.0, 600.0), told=told.append)
    assert sum(told) == 5 * plays_of(plan.group_size, 2)
