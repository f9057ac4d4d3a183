"""The two clock expressions, the look-ups of a closing curve, and when a person may act."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from soundergate.engine.rules.clocks import (
    due_time,
    first_look,
    look_up,
    look_up_from,
    reading,
    release_from,
)

times = st.floats(0.0, 1e5)
amounts = st.floats(0.0, 1e6)
speeds = st.floats(1e-6, 1e3)

# ---- clocks --------------------------------------------------------------------------------


@given(times, amounts, speeds, times)
def test_a_reading_grows_at_its_speed(t0, h0, speed, wait) -> None:
    assert reading(t0, h0, speed, t0) == h0
    assert reading(t0, h0, speed, t0 + wait) == h0 + speed * ((t0 + wait) - t0)


@given(times, amounts, times)
def test_a_clock_at_rest_stands_still(t0, h0, wait) -> None:
    assert reading(t0, h0, 0.0, t0 + wait) == h0
    assert reading(t0, h0, 0.0, math.inf) == h0


@given(times, amounts, speeds, amounts, times)
def test_never_due_before_now(t0, h0, speed, threshold, wait) -> None:
    assert due_time(t0, h0, speed, threshold, t0 + wait) >= t0 + wait


@given(times, amounts, speeds, amounts, amounts, times)
def test_a_higher_threshold_is_not_due_sooner(t0, h0, speed, one, other, wait) -> None:
    low, high = sorted((one, other))
    now = t0 + wait
    assert due_time(t0, h0, speed, low, now) <= due_time(t0, h0, speed, high, now)


@given(times, amounts, amounts, st.sampled_from([0.0, -1.0]))
def test_never_due_at_rest(t0, h0, threshold, speed) -> None:
    assert due_time(t0, h0, speed, threshold, t0) == math.inf


@given(times, amounts, speeds)
def test_never_due_for_a_threshold_without_end(t0, h0, speed) -> None:
    assert due_time(t0, h0, speed, math.inf, t0) == math.inf


@given(times, amounts, speeds, st.floats(1e-3, 1e6))
def test_at_the_due_time_the_clock_reads_the_threshold(t0, h0, speed, amount) -> None:
    threshold = h0 + amount
    when = due_time(t0, h0, speed, threshold, t0)
    slack = 4.0 * (np.spacing(threshold) + speed * np.spacing(when))
    assert reading(t0, h0, speed, when) == pytest.approx(threshold, abs=slack)


@given(times, amounts, speeds, times)
def test_a_threshold_already_passed_is_due_at_once(t0, h0, speed, wait) -> None:
    assert due_time(t0, h0, speed, h0, t0 + wait) == t0 + wait


# ---- closing curves ------------------------------------------------------------------------

falling_rows = st.lists(st.floats(0.0, 10.0), min_size=2, max_size=20).map(
    lambda row: np.array(sorted(row, reverse=True))
)


@given(falling_rows, st.floats(-0.5, 1.5))
def test_look_up_is_linear_interpolation(row, x) -> None:
    grid = np.linspace(0.0, 1.0, len(row))
    assert look_up(row, x) == pytest.approx(float(np.interp(x, grid, row)), abs=1e-9)


def test_look_up_ends_and_nodes() -> None:
    row = np.array([4.0, 3.0, 1.0])
    assert [look_up(row, x) for x in (-1.0, 0.0, 0.5, 1.0, 2.0)] == [4.0, 4.0, 3.0, 1.0, 1.0]
    assert look_up(row, 0.25) == 3.5


def test_look_up_where_the_gate_does_not_get() -> None:
    row = np.array([math.inf, math.inf, 2.0, 0.0])
    assert [look_up(row, x) for x in (0.0, 1 / 6, 0.5)] == [math.inf, math.inf, math.inf]
    assert look_up(row, 2.5 / 3) == 1.0


def plain_look_up_from(table: np.ndarray, start: float, x: float) -> float:
    """Interpolate along the row below and the row above ``start``, then between the two."""
    if start <= 0.0 or x >= start:
        return 0.0
    grid = np.linspace(0.0, 1.0, len(table))
    ends = [float(np.interp(x, grid, row)) for row in table]
    return float(np.interp(start, grid, ends))


@given(st.integers(3, 9), st.randoms(use_true_random=False), st.floats(0, 1.2), st.floats(0, 1.0))
def test_look_up_from_interpolates_both_ways(size, rng, start, x) -> None:
    table = np.zeros((size, size))
    for i in range(size):
        table[i, :i] = sorted((rng.uniform(0, 5) for _ in range(i)), reverse=True)
    assert look_up_from(table, start, x) == pytest.approx(
        plain_look_up_from(table, min(start, 1.0) if start > 1.0 else start, x), abs=1e-9
    )


def test_look_up_from_a_rest_at_which_the_gate_hangs() -> None:
    table = np.array([[0.0, 0.0, 0.0], [math.inf, 0.0, 0.0], [1.0, 0.5, 0.0]])
    assert look_up_from(table, 0.5, 0.0) == math.inf  # on the row that does not move
    assert look_up_from(table, 0.75, 0.0) == math.inf  # between it and one that does
    assert look_up_from(table, 1.0, 0.0) == 1.0


# ---- looks and rules -----------------------------------------------------------------------


@given(st.floats(0, 1e5), st.floats(0.01, 100), st.integers(0, 3000), st.floats(-1, 1))
def test_first_look_is_the_first_on_the_grid_not_before_now(start, frame, steps, part) -> None:
    now = start + frame * (steps + part)
    found = first_look(start, frame, now)
    assert start + found * frame >= now
    assert found >= 0
    assert found == 0 or start + (found - 1) * frame < now


@given(st.floats(0, 1e5), st.floats(0.01, 100), st.integers(0, 3000))
def test_a_look_is_its_own_first_look(start, frame, number) -> None:
    now = start + number * frame
    found = first_look(start, frame, now)
    assert start + found * frame == now


def plain_release_from(steps: list[tuple[float, float]], seen, began, now) -> float:
    """Try every instant at which the rule can change its mind."""

    def needed(t: float) -> float:
        in_force = [count for after, count in steps if began + after <= t]
        return in_force[-1] if in_force else math.inf

    instants = [now, *(began + after for after, _ in steps if began + after > now)]
    return min((t for t in instants if seen >= needed(t)), default=math.inf)


rules = st.dictionaries(st.sampled_from([0.0, 1.0, 10.0, 60.0, 61.5, 600.0]), st.integers(1, 9))


@given(rules, st.integers(0, 10), st.floats(0, 1e4), st.floats(0, 700.0), st.integers(0, 3))
def test_release_from_against_trying_every_instant(rule, seen, began, wait, blanks) -> None:
    assume(rule)
    steps = sorted((after, float(count)) for after, count in rule.items())
    padded = np.array(steps + [(math.inf, math.inf)] * blanks)
    found = release_from(padded, seen, began, began + wait)
    assert found == plain_release_from(steps, seen, began, began + wait)


@given(rules, st.integers(0, 10))
def test_release_from_at_the_steps_themselves(rule, seen) -> None:
    assume(rule)
    steps = sorted((after, float(count)) for after, count in rule.items())
    for after, _ in steps:
        found = release_from(np.array(steps), seen, 100.0, 100.0 + after)
        assert found == plain_release_from(steps, seen, 100.0, 100.0 + after)
