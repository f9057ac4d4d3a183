"""Swinging plates and leaves against exact solutions, a printed table and handbook formulas.

Where no source is named the number was computed with 20 digits (mpmath, K and F) and agrees with
the table of pendulum periods at http://physics.gmu.edu/~mrseth/pass6.html to all its digits.
A popular on-line calculator prints T/T0 = 1.017362 at 30 degrees beside its own K = 1.598142; its
K contradicts it, and 1.0174088 is right.
"""

from math import cos, pi, radians, sqrt

import pytest

from shared.plates import period_ratio, swing_rate, swing_time, unit_time
from soundergate.mechanics.gates.drop import DropGate
from soundergate.mechanics.gates.plate import drag_coefficient
from soundergate.mechanics.gates.side_hinged import (
    SideHinged,
    Spring,
    Weight,
    hinge_friction,
)
from soundergate.mechanics.gates.top_hinged import TopHinged, angle_at_clear
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal

RATIOS = {30: 1.017408798, 60: 1.073182007, 90: 1.180340599, 120: 1.372880501, 150: 1.762203730}


@pytest.mark.parametrize(("degrees", "ratio"), RATIOS.items())
def test_pendulum_period_ratio(degrees: int, ratio: float) -> None:
    assert period_ratio(radians(degrees)) == pytest.approx(ratio, abs=5e-10)


def arithmetic_geometric_mean(a: float, b: float) -> float:
    for _ in range(12):  # the digits double at each step
        a, b = (a + b) / 2.0, sqrt(a * b)
    return a


@pytest.mark.parametrize("degrees", [1, 30, 90, 150, 179])
def test_period_ratio_by_the_arithmetic_geometric_mean(degrees: int) -> None:
    """T/T0 = 1 / AGM(1, cos(a/2)) (Gauss; DLMF 19.8.5)."""
    mean = arithmetic_geometric_mean(1.0, cos(radians(degrees) / 2.0))
    assert period_ratio(radians(degrees)) == pytest.approx(1.0 / mean, rel=1e-13)


PERIODS = {
    10: 2.00989262729860,
    20: 2.02145125782458,
    30: 2.04098988951913,
    40: 2.06893785189359,
    50: 2.10593461928364,
    60: 2.15287466688052,
    70: 2.21097618054218,
    80: 2.28188592401964,
}
"""Period (s) of a simple pendulum, 1 m, g = 9.81: http://physics.gmu.edu/~mrseth/pass6.html"""


@pytest.mark.parametrize(("degrees", "period"), PERIODS.items())
def test_printed_table_of_periods(degrees: int, period: float) -> None:
    assert 2.006066680710647 * period_ratio(radians(degrees)) == pytest.approx(period, rel=1e-13)


def plate(length: float, set_angle: float, mass: float = 20.0, **keys: float) -> TopHinged:
    return TopHinged(1.0, length, mass, radians(set_angle), **keys)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("length", "angle", "seconds"),
    [
        (0.6, 30, 0.322764),
        (0.6, 90, 0.374453),
        (1.0, 45, 0.425928),
        (1.0, 60, 0.439529),
        (1.0, 90, 0.483416),
        (1.0, 120, 0.562272),
        (1.2, 90, 0.529556),
        (1.5, 90, 0.592062),
        (1.0, 150, 0.721722),
        (1.0, 170, 0.999057),
        (1.0, 175, 1.178566),
        (1.0, 179, 1.597707),
    ],
)
def test_plate_to_hanging(length: float, angle: float, seconds: float) -> None:
    """Exact solution, and the differential equation without air against it."""
    assert swing_time(length, radians(angle)) == pytest.approx(seconds, abs=6e-7)
    fall = plate(length, angle, solidity=0.0).fall()
    assert fall.shut
    assert fall.time[-1] == pytest.approx(swing_time(length, radians(angle)), rel=1e-8)


@pytest.mark.parametrize(
    ("length", "rate", "tip"),
    [(0.6, 7.00238, 4.20143), (1.0, 5.42402, 5.42402), (1.2, 4.95143, 5.94171)],
)
def test_end_rate_from_level(length: float, rate: float, tip: float) -> None:
    assert swing_rate(length, pi / 2.0, 0.0) == pytest.approx(rate, abs=6e-6)
    curve = plate(length, 90, solidity=0.0).curve()
    assert curve.speed[0] == pytest.approx(tip, abs=6e-6)


@pytest.mark.parametrize(
    ("off_upright", "seconds"),
    [(1, 1.367893), (2, 1.187206), (5, 0.948479), (10, 0.768109), (20, 0.587729), (30, 0.481148)],
)
def test_from_nearly_upright_to_level(off_upright: float, seconds: float) -> None:
    start = pi - radians(off_upright)
    assert swing_time(1.0, start, pi / 2.0) == pytest.approx(seconds, abs=6e-7)
    curve = plate(1.0, 180.0 - off_upright, solidity=0.0).curve()
    assert curve.time[-1] == pytest.approx(seconds, abs=6e-7)


PARTIAL = {75: 0.72443021, 60: 1.02805680, 45: 1.26654233, 30: 1.47494154, 15: 1.66788434}
"""From level down to an angle off hanging, in units of sqrt(2 L / 3 g), to eight decimals."""


@pytest.mark.parametrize(("angle", "units"), PARTIAL.items())
def test_partial_travel_from_level(angle: float, units: float) -> None:
    seconds = swing_time(1.0, pi / 2.0, radians(angle))
    assert seconds / unit_time(1.0) == pytest.approx(units, abs=6e-9)


@pytest.mark.parametrize(
    ("mass", "seconds"), [(30.0, 0.486027), (20.0, 0.487337), (10.0, 0.491291), (5.0, 0.499294)]
)
def test_plate_with_drag(mass: float, seconds: float) -> None:
    """1 m by 1 m from level with torque (1/8) rho Cd w L^4 w^2, Cd 1.17, rho 1.204 (computed)."""
    assert plate(1.0, 90, mass).fall().time[-1] == pytest.approx(seconds, abs=6e-7)


def test_drag_coefficients_of_the_handbook() -> None:
    """Square 1.17, long 1.98: Aeronautical Engineer's Data Book, figure 5.13b."""
    assert drag_coefficient(1.0, 1.0) == pytest.approx(1.17)
    assert drag_coefficient(1000.0, 1.0) == pytest.approx(1.98, rel=1e-3)


def test_three_feet_of_plate_against_three_feet_of_fall() -> None:
    """0.9144 m without losses: from level ahead of a drop gate at 0.4 m clear (0.274 against
    0.324 s), behind it when shut (0.462 against 0.432 s); 1.127 s from 5 degrees off upright."""
    length = 0.9144
    start = pi / 2.0
    level = swing_time(length, start, angle_at_clear(length, 0.4))
    drop = DropGate(1.2, length, 20.0, 2.0 * length, friction=LogNormal(0.0)).closing_curve()
    assert level == pytest.approx(0.274, abs=5e-4)
    assert sqrt(2.0 * (length - 0.4) / GRAVITY) == pytest.approx(0.324, abs=5e-4)
    assert drop.time_to(0.4) == pytest.approx(0.324, abs=1e-3)
    assert swing_time(length, start) == pytest.approx(0.462, abs=5e-4)
    assert drop.shut_time == pytest.approx(0.432, abs=5e-4)
    assert swing_time(length, radians(175)) == pytest.approx(1.127, abs=5e-4)


@pytest.mark.parametrize(
    ("preload", "seconds", "rate", "joules"),
    [
        (0, 1.282550, 1.923825, 12.3370),
        (45, 1.005074, 2.720699, 24.6740),
        (90, 0.855033, 3.332162, 37.0110),
    ],
)
def test_spring_closed_leaf(preload: float, seconds: float, rate: float, joules: float) -> None:
    """20 kg, 1 m, 10 N m/rad from 90 degrees: harmonic motion, t = sqrt(I/k) acos(p/(a + p))."""
    leaf = SideHinged(1.0, 1.0, 20.0, Spring(10.0, radians(preload)), solidity=0.0)
    curve = leaf.curve()
    assert curve.shut_time == pytest.approx(seconds, abs=6e-7)
    assert curve.speed[0] == pytest.approx(rate, abs=6e-7)
    assert curve.energy[0] == pytest.approx(joules, abs=1e-4)


def test_constant_torque_leaf() -> None:
    """sqrt(2 I a / M) = 1.447203 s and 2.170804 rad/s for 10 N m (here a weight on a short arm)."""
    light = Weight(1000.0, 10.0 / (1000.0 * GRAVITY))  # a short arm: next to no inertia
    leaf = SideHinged(1.0, 1.0, 20.0, light, solidity=0.0)
    moving = leaf.swing.inertia
    curve = leaf.curve()
    assert curve.shut_time == pytest.approx(sqrt(2.0 * moving * (pi / 2.0) / 10.0), rel=1e-8)
    factor = sqrt(moving / (20.0 / 3.0))
    assert curve.shut_time / factor == pytest.approx(1.447203, abs=6e-7)
    assert curve.speed[0] * factor == pytest.approx(2.170804, abs=6e-7)


def test_couple_at_the_hinges() -> None:
    """20 kg, 1 m wide, hinges 0.6 m apart: 163.4 N sideways at each (statics)."""
    thrust_free = hinge_friction(20.0, 1.0, 0.6, 0.01, 1.0) - 2.0 / 3.0 * 0.01 * 20.0 * GRAVITY
    assert thrust_free / (2.0 * 0.01) == pytest.approx(163.4, abs=0.05)
