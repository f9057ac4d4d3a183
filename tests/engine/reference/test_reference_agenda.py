"""Exact times, settled ties, timers that supersede, and clocks that move only when they must."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.codes import RANK_STEP
from soundergate.engine.reference.agenda import Clock, NightEnvironment, Timer


@pytest.fixture
def env() -> NightEnvironment:
    return NightEnvironment()


def run(env: NightEnvironment) -> None:
    while env.peek() < math.inf:
        env.step()


def test_an_event_happens_at_its_own_time_to_the_last_bit() -> None:
    """SimPy schedules by delay, and now + (t - now) need not be t."""
    start, goal = 3.3, 13.6
    assert start + (goal - start) != goal
    env, heard = NightEnvironment(start), []
    Timer(env, lambda _: heard.append(env.now)).set(goal, 0, 0)
    run(env)
    assert heard == [goal]


@given(st.permutations([(r, n) for r in range(3) for n in range(3)]))
def test_ties_go_by_rank_then_number_whatever_was_planned_first(order) -> None:
    env, heard = NightEnvironment(), []
    for rank, number in order:
        Timer(env, lambda n, r=rank: heard.append((r, n))).set(5.0, rank, number)
    run(env)
    assert heard == sorted(order)


def test_a_rank_outweighs_any_number(env) -> None:
    heard: list[int] = []
    Timer(env, heard.append).set(1.0, 1, 0)
    Timer(env, heard.append).set(1.0, 0, RANK_STEP - 1)
    run(env)
    assert heard == [RANK_STEP - 1, 0]


def test_setting_again_supersedes_and_cancelling_forgets(env) -> None:
    heard: list[tuple[float, int]] = []
    timer = Timer(env, lambda n: heard.append((env.now, n)))
    timer.set(1.0, 0, 1)
    timer.set(2.0, 0, 2)
    assert timer.pending
    env.step()
    assert heard == []  # the superseded one rings and is ignored
    run(env)
    assert heard == [(2.0, 2)]
    assert not timer.pending
    timer.set(3.0, 0, 3)
    timer.cancel()
    timer.set(math.inf, 0, 4)
    run(env)
    assert heard == [(2.0, 2)]


def clock(env: NightEnvironment) -> tuple[Clock, list[tuple[float, int]]]:
    heard: list[tuple[float, int]] = []

    def due(number: int) -> None:
        found.drop(number)
        heard.append((env.now, number))
        found.settle(found.speed, env.now)

    found = Clock(Timer(env, due), 0)
    return found, heard


def test_a_clock_rings_for_each_when_it_has_grown_by_its_amount(env) -> None:
    found, heard = clock(env)
    for number, amount in enumerate((30.0, 10.0, 20.0)):
        found.join(number, amount, 0.0)
    found.settle(2.0, 0.0)
    run(env)
    assert heard == [(5.0, 1), (10.0, 2), (15.0, 0)]


def test_a_change_of_speed_moves_what_is_left(env) -> None:
    found, heard = clock(env)
    found.join(0, 10.0, 0.0)
    found.settle(1.0, 0.0)
    Timer(env, lambda _: found.settle(3.0, env.now)).set(4.0, 9, 0)
    run(env)
    assert heard == [(4.0 + 6.0 / 3.0, 0)]


def test_a_clock_at_rest_rings_for_nobody(env) -> None:
    found, heard = clock(env)
    found.join(0, 0.0, 0.0)
    found.settle(0.0, 0.0)
    run(env)
    assert heard == []


def test_an_unchanged_speed_leaves_the_clock_where_it_was(env) -> None:
    found, _ = clock(env)
    found.settle(0.1, 0.0)
    for now in (1.0, 2.0, 3.0):
        found.settle(0.1, now)
    assert (found.t0, found.h0) == (0.0, 0.0)
    found.settle(0.2, 3.0)
    assert (found.t0, found.h0) == (3.0, 0.1 * 3.0)


def test_one_that_joins_again_at_the_same_reading_is_due_again(env) -> None:
    found, times = None, []

    def due(number: int) -> None:
        found.drop(number)
        times.append(env.now)
        if len(times) < 4:
            found.join(number, 0.0, env.now)
        found.settle(1.0, env.now)

    found = Clock(Timer(env, due), 0)
    found.join(7, 0.0, 0.0)
    found.settle(1.0, 0.0)
    run(env)
    assert times == [0.0] * 4


def test_of_two_due_together_the_lower_number_is_first(env) -> None:
    found, heard = clock(env)
    for number in (5, 2, 8):
        found.join(number, 1.0, 0.0)
    found.settle(1.0, 0.0)
    run(env)
    assert heard == [(1.0, 2), (1.0, 5), (1.0, 8)]
