"""Plates: limits, symmetry and the air on them."""

from math import cos, inf, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from shared.plates import period_ratio, swing_rate, swing_time
from soundergate.mechanics.gates.plate import (
    AIR_DENSITY,
    air_moment,
    edge_inertia,
    hinge_reaction,
)
from soundergate.scenario.constants import GRAVITY

ANGLES = st.floats(0.05, 3.1)


def test_a_balanced_plate_never_falls_and_a_still_one_is_there() -> None:
    assert swing_time(1.0, pi) == inf
    assert swing_time(1.0, 1.0, 1.0) == 0.0
    assert swing_time(1.0, 1.0, 1.5) == 0.0


@given(st.floats(0.2, 3.0), ANGLES)
def test_a_quarter_of_the_period(length: float, start: float) -> None:
    """A uniform plate swings like a simple pendulum of two thirds its length."""
    period = 2.0 * pi * (2.0 * length / (3.0 * GRAVITY)) ** 0.5 * period_ratio(start)
    assert swing_time(length, start) == pytest.approx(period / 4.0, rel=1e-9)


@given(ANGLES, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_times_add_up(start: float, one: float, two: float) -> None:
    upper, lower = start * max(one, two), start * min(one, two)
    difference = swing_time(1.0, start, lower) - swing_time(1.0, start, upper)
    assert difference >= -1e-12
    passing = quad(lambda a: 1.0 / swing_rate(1.0, start, a), lower, upper, limit=200)
    if upper < 0.99 * start:  # the integrand has no end at rest
        assert difference == pytest.approx(passing[0], rel=1e-6, abs=1e-9)


@given(st.floats(0.2, 3.0), ANGLES, st.floats(0.0, 1.0))
def test_rate_is_that_of_the_lost_height(length: float, start: float, share: float) -> None:
    angle = share * start
    energy = 0.5 * edge_inertia(1.0, length) * swing_rate(length, start, angle) ** 2
    height = 0.5 * length * (cos(angle) - cos(start))
    assert energy == pytest.approx(GRAVITY * height, abs=1e-9)


@given(st.floats(0.3, 2.0), st.floats(-10.0, 10.0), st.floats(-20.0, 20.0))
def test_air_moment_is_the_sum_over_strips(length: float, rate: float, wind: float) -> None:
    def strip(x: float) -> float:
        flow = wind - rate * x
        return 0.5 * AIR_DENSITY * 1.3 * 2.0 * flow * abs(flow) * x

    turn = wind / rate if abs(rate) > 1e-9 else -1.0
    points = [turn] if 0.0 < turn < length else None
    summed = quad(strip, 0.0, length, points=points)[0]
    assert air_moment(2.0, length, 1.3, rate, wind) == pytest.approx(summed, rel=1e-7, abs=1e-7)


def test_air_moment_of_arrays_is_that_of_each() -> None:
    rates, winds = np.array([0.0, 2.0, 5.0, -1.0]), np.array([3.0, 1.0, 0.0, -4.0])
    whole = air_moment(1.0, 1.0, 1.2, rates, winds)
    each = [air_moment(1.0, 1.0, 1.2, r, w) for r, w in zip(rates, winds, strict=True)]
    np.testing.assert_allclose(whole, np.array(each, dtype=float), rtol=1e-14)


def test_the_air_alone_resists_and_wind_alone_pushes() -> None:
    assert air_moment(1.0, 1.0, 1.17, rate=3.0) == pytest.approx(
        -AIR_DENSITY * 1.17 * 9.0 / 8.0, rel=1e-12
    )
    assert air_moment(1.0, 2.0, 1.17, wind=3.0) == pytest.approx(AIR_DENSITY * 1.17 * 9.0)


def test_hinge_reaction_of_a_falling_plate() -> None:
    """Released level a plate hangs by a quarter of its weight; passing shut from there by 2.5."""
    assert hinge_reaction(10.0, 1.0, pi / 2.0) == pytest.approx(10.0 * GRAVITY / 4.0)
    rate = swing_rate(1.0, pi / 2.0, 0.0)
    assert hinge_reaction(10.0, 1.0, 0.0, rate) == pytest.approx(2.5 * 10.0 * GRAVITY)
