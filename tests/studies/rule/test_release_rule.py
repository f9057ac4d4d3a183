"""The search for a release rule: what it looks up is what the engine plays; it finds the best."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.traps import SOLENOID_DROP
from soundergate.engine import play
from soundergate.studies.rule.release_rule import (
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
    "opening": [SOLENOID_DROP],
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


# A chain small enough to be worked out by hand. Of two pigs each is at first outside; at every
# stage one that is outside comes in with probability 1/2 and one that is inside leaves for good
# with probability 1/4. A pig caught is worth 1, one that is outside and about at the release
# costs 1, one that has left costs nothing.
OUT, IN, LEFT = 0, 1, 2
MOVES = {OUT: ((OUT, 2), (IN, 2)), IN: ((IN, 3), (LEFT, 1)), LEFT: ((LEFT, 4),)}
QUARTERS = 4
STAGES_OF_CHAIN = 4


def paid(state: tuple[int, int]) -> int:
    return state.count(IN) - state.count(OUT)


def every_story() -> list[list[tuple[int, int]]]:
    """Every course of both pigs, as often as it is likely: 4 ** (2 * stages) of them."""
    stories: list[list[tuple[int, int]]] = [[(OUT, OUT)]]
    for _ in range(STAGES_OF_CHAIN):
        stories = [
            [*story, (a, b)]
            for story in stories
            for a, times_a in MOVES[story[-1][0]]
            for b, times_b in MOVES[story[-1][1]]
            for _ in range(times_a * times_b)
        ]
    return [story[1:] for story in stories]


def by_backward_induction() -> float:
    """The most that one can come to who sees where both are and stops when it pays to."""
    states = list(itertools.product(MOVES, repeat=2))
    ahead = dict.fromkeys(states, 0.0)  # after the last stage nothing is caught
    for _ in range(STAGES_OF_CHAIN):
        now = {state: max(float(paid(state)), ahead[state]) for state in states}
        ahead = {
            (a, b): sum(
                times_a * times_b / QUARTERS**2 * now[one, other]
                for one, times_a in MOVES[a]
                for other, times_b in MOVES[b]
            )
            for a, b in states
        }
    return ahead[OUT, OUT]


def test_a_chain_worked_out_by_backward_induction() -> None:
    """The rule found reaches the exact optimum where it is one of counts that fall; here it is
    within what counting alone can reach, and of those rules it is the best by enumeration."""
    stories = every_story()
    stages = tuple(60.0 * k for k in range(STAGES_OF_CHAIN))
    counts = (1, 2, NEVER)
    shape = len(stories), len(stages), len(counts)
    when, gain = np.full(shape, np.inf), np.zeros(shape)
    for n, story in enumerate(stories):
        for k, c in itertools.product(range(len(stages)), range(2)):
            if story[k].count(IN) >= counts[c]:
                when[n, k, c], gain[n, k, c] = stages[k], paid(story[k])
    chain = Played(stages, counts, when, gain)
    found = best_rule(chain)
    best = max(
        chain.worth(np.array(chosen))
        for chosen in itertools.product(range(3), repeat=len(stages))
        if list(chosen) == sorted(chosen, reverse=True)
    )
    optimum = by_backward_induction()
    assert chain.worth(chain.chosen(found)) == pytest.approx(best, abs=1e-12)
    assert best <= optimum + 1e-12
    assert optimum <= chain.with_hindsight.mean() + 1e-12
    # By hand: let go when both are in; at the last stage also on one, for then one in and one out
    # is worth 0 and one in and one gone is worth 1.
    both_then_one = [float(paid(story[next((k for k in range(4) if story[k].count(IN) == 2), 3)]))
                     if IN in story[3] or any(s.count(IN) == 2 for s in story) else 0.0
                     for story in stories]  # fmt: skip
    assert found == Rule((Step(0.0, 2), Step(180.0, 1)))
    assert best == pytest.approx(float(np.mean(both_then_one)), abs=1e-12)


def test_an_optimum_that_counts_can_say_is_found_exactly() -> None:
    """The same pigs where leaving costs as much as staying out: then only the count matters, the
    best that can be is a rule of counts, and backward induction gives its very value."""
    states = range(3)  # how many are in; each that is out comes in with probability 1/2, none goes
    stages = tuple(60.0 * k for k in range(3))
    stories = [
        [sum(first <= k for first in entry) for k in range(3)]
        for entry in itertools.product(*[[0] * 4 + [1] * 2 + [2] + [3]] * 2)
    ]  # the first stage with probability 1/2, the second 1/4, the third 1/8, never 1/8
    counts = (1, 2, NEVER)
    when, gain = np.full((64, 3, 3), np.inf), np.zeros((64, 3, 3))
    cost = 0.25 * np.arange(3)  # what a stage of waiting costs who then lets go
    for n, story in enumerate(stories):
        for k, c in itertools.product(range(3), range(2)):
            if story[k] >= counts[c]:
                when[n, k, c], gain[n, k, c] = stages[k], 2 * story[k] - 2 - cost[k]
    chain = Played(stages, counts, when, gain)
    ahead = dict.fromkeys(states, 0.0)
    for k in (2, 1, 0):
        now = {s: max(2.0 * s - 2 - cost[k] if s else 0.0, ahead[s]) for s in states}
        ahead = {
            0: (now[0] + 2 * now[1] + now[2]) / 4,
            1: (now[1] + now[2]) / 2,
            2: now[2],
        }
    found = best_rule(chain)
    assert chain.worth(chain.chosen(found)) == pytest.approx(ahead[0], abs=1e-12)
    assert found == Rule((Step(0.0, 2),))


@given(st.data())
def test_ties_go_to_waiting(data) -> None:
    """No rule is as good that asks for more in one run of stages."""
    worths = st.sampled_from([0.0, 0.5, 1.0])
    values = data.draw(st.lists(worths, min_size=96, max_size=96))
    gain = np.array(values).reshape(8, 3, 4)
    gain[:, :, 3] = 0.0
    when = np.where(gain > 0, np.array([0.0, 60.0, 120.0])[:, np.newaxis], np.inf)
    some = Played((0.0, 60.0, 120.0), (1, 2, 3, NEVER), when, gain)
    found = some.chosen(best_rule(some))
    for chosen in itertools.combinations_with_replacement(range(3, -1, -1), 3):
        rule = np.array(chosen)
        moved = rule[rule > found]
        if (rule >= found).all() and len(moved) and len(set(moved)) == 1:
            assert some.worth(rule) < some.worth(found)


def test_what_few_nights_cannot_tell_is_a_tie() -> None:
    """One night in a hundred on which one pig is worth a little decides nothing."""
    gain, when = np.zeros((100, 1, 2)), np.full((100, 1, 2), np.inf)
    when[:, 0, 0] = 0.0
    gain[0, 0, 0] = 0.01
    few = Played((0.0,), (1, NEVER), when, gain)
    assert best_rule(few) == Rule((Step(0.0, 1),))
    assert best_rule(few, errors=1.0) == Rule((Step(0.0, NEVER),))
    gain[:, 0, 0] += 0.01
    assert best_rule(few, errors=1.0) == Rule((Step(0.0, 1),))


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
        visit={"patience": {"fixed": "11 h"}},
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
    waits = Rule.of((0, 300), (NEVER, 4))
    assert waits.toml() == 'rule = [{after = "0 min", wait = true}, {after = "5 min", count = 4}]'
    shared = Rule((Step(0.0, NEVER, 0.9), Step(60.0, 3, 0.9)))
    assert shared.values() == [
        {"after": "0 min", "share": 0.9}, {"after": "1 min", "count": 3, "share": 0.9},
    ]  # fmt: skip


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
    play_stages(plan, share, SEED, 5, (0.0, 600.0), advance=told.append)
    assert sum(told) == 5 * plays_of(plan.group_size, 2)
