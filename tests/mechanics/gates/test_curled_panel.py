"""A curled panel: a mass on a spring, resting on its neighbour."""

from dataclasses import replace
from math import inf, pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics.gates.curled_panel import CurledPanel

CURLED = CurledPanel(1.0, 0.9, 7.0, 50.0, 0.25)


def test_curled_panel_is_a_mass_on_a_spring() -> None:
    assert CURLED.force(CURLED.width) == pytest.approx(50.0)
    assert CURLED.force(0.0) == pytest.approx(12.5)
    solution = CURLED.solution()
    energy = 0.5 * CURLED.rate * ((1.0 + CURLED.curl) ** 2 - CURLED.curl**2)
    assert solution.curve.energy[0] == pytest.approx(energy)
    assert solution.curve.measure == "gap"
    assert solution.push_force == 50.0


def test_curled_panels_of_both_hands_are_one_type() -> None:
    left, right = CURLED.solution(), replace(CURLED, hand="right").solution()
    np.testing.assert_array_equal(left.curve.time, right.curve.time)
    assert (left.kind, left.push_force) == (right.kind, right.push_force)
    assert left.sketch["hand"] != right.sketch["hand"]


@given(st.floats(0.05, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_curled_panel_times_add_up(start: float, one: float, two: float) -> None:
    upper, lower = start * max(one, two), start * min(one, two)
    assert CURLED.return_time(start, lower) >= CURLED.return_time(start, upper)
    speed = CURLED.return_speed(start, lower)
    kinetic = 0.5 * CURLED.moving_mass * speed**2
    work = 0.5 * CURLED.rate * ((start + CURLED.curl) ** 2 - (lower + CURLED.curl) ** 2)
    assert kinetic == pytest.approx(work, abs=1e-9)


def test_a_limp_panel_stays_open() -> None:
    limp = replace(CURLED, push=0.0)
    assert limp.return_time(1.0, 0.0) == inf
    assert not limp.solution().curve.shuts


def test_a_panel_that_only_just_meets_its_neighbour_shuts_in_a_quarter_period() -> None:
    """2 pi sqrt(m / k) / 4; 33/140 of a cantilever's mass swings (Rayleigh, from memory)."""
    panel = replace(CURLED, rest_share=0.0)
    quarter = pi / 2.0 * sqrt(33.0 / 140.0 * 7.0 / 50.0)
    assert panel.return_time(1.0, 0.0) == pytest.approx(quarter)
    assert panel.solution().curve.shut_time == pytest.approx(quarter)


def test_a_curled_panel_takes_as_long_as_its_force_makes_it() -> None:
    """Stepped from Newton's law, force over mass, and not from the closed form."""
    gap, speed, step, time = 0.8, 0.0, 1e-4, 0.0
    while gap > 0.0:
        speed += CURLED.force(gap) / CURLED.moving_mass * step
        gap -= speed * step
        time += step
    assert CURLED.return_time(0.8, 0.0) == pytest.approx(time, abs=3 * step)
    assert CURLED.return_speed(0.8, 0.0) == pytest.approx(speed, rel=2e-3)
