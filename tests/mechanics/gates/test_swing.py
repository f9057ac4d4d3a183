"""The motion of a leaf: energy balance, stops, bounces, wind from either side."""

from dataclasses import dataclass, replace
from math import inf, pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.balances import energy_error
from soundergate.mechanics.gates import curve as curves
from soundergate.mechanics.gates.swing import (
    Swing,
    bounce,
    closing_curve,
    in_wind_from_either_side,
    move,
)
from soundergate.mechanics.model import GateSolution


def sprung(rate: float = 10.0, friction: float = 0.0, drag: float = 0.0) -> Swing:
    return Swing(
        inertia=5.0,
        moment=lambda angle: rate * (angle + 0.3),
        potential=lambda angle: 0.5 * rate * (angle + 0.3) ** 2,
        friction=lambda *_: friction,
        air=lambda _, w: -drag * w * np.abs(w),
    )


@settings(max_examples=60)
@given(st.floats(1.0, 200.0), st.floats(0.0, 20.0), st.floats(0.0, 5.0), st.floats(0.1, 2.5))
def test_energy_is_accounted_for(rate: float, friction: float, drag: float, start: float) -> None:
    swing = sprung(rate, friction, drag)
    motion = move(swing, start)
    assert energy_error(motion, swing) < 1e-6
    assert motion.shut or motion.stopped
    opening = move(swing, 0.0, -2.0)
    assert energy_error(opening, swing) < 1e-6


def test_a_broken_law_is_seen_by_the_energy_balance() -> None:
    swing = sprung(friction=2.0)
    forgetful = replace(swing, potential=lambda angle: 5.0 * angle)
    assert energy_error(move(swing, 1.0), forgetful) > 1e-2


def test_at_rest_under_friction() -> None:
    motion = move(sprung(friction=14.0), 1.0)
    assert motion.stopped
    assert not motion.shut
    assert motion.angle[-1] == 1.0
    assert motion.state(np.array([0.0, 3.0]))[0].tolist() == [1.0, 1.0]
    assert energy_error(motion, sprung()) == 0.0


def test_a_bounce_opens_by_the_energy_that_is_left() -> None:
    swing = sprung()
    rate, share = 1.5, 0.4
    back = bounce(swing, rate, share)
    energy = 0.5 * swing.inertia * (share * rate) ** 2
    assert swing.potential(back.angle) - swing.potential(0.0) == pytest.approx(energy, rel=1e-7)
    assert back.time > 0.0
    assert bounce(swing, rate, 0.0).angle == 0.0


def test_friction_may_hold_a_bounced_leaf_open() -> None:
    stuck = bounce(sprung(friction=4.0), 0.6, 0.5)
    assert stuck.angle > 0.0
    assert stuck.time == inf


def test_the_curve_is_the_motion() -> None:
    swing = sprung(friction=1.0, drag=0.2)
    clear = curves.clearances(1.0)
    curve = closing_curve(swing, 1.2, clear, clear, swing.inertia, 1.0)
    motion = move(swing, 1.2)
    assert curve.shut_time == pytest.approx(motion.time[-1], rel=1e-8)
    assert curve.energy[0] == pytest.approx(0.5 * swing.inertia * motion.rate[-1] ** 2, rel=1e-8)
    again = move(swing, float(clear[40]))
    assert curve.rest_time[40, 0] == pytest.approx(again.time[-1], rel=1e-8)


@dataclass(frozen=True)
class Vane:
    """A gate that shuts in 1 s + wind, or not at all above a wind of ``limit``."""

    wind: float
    limit: float = inf

    def solution(self) -> GateSolution:
        hangs = self.wind > self.limit
        curve = curves.never(1.0) if hangs else timed(1.0 + self.wind)
        return GateSolution("vane", 1.0, 1.0, 10.0 + self.wind, curve, 0.0, 0.0, 0.0, jams=hangs)


def timed(seconds: float) -> curves.ClosingCurve:
    return replace(
        curves.never(1.0),
        rest_time=np.zeros((curves.GRID, curves.GRID)),
        time=np.linspace(seconds, 0.0, curves.GRID),
    )


def test_wind_from_either_side_takes_the_worse() -> None:
    both = in_wind_from_either_side(Vane(0.5))
    assert both.curve.shut_time == 1.5
    assert both.holding_load == 10.5
    assert both.hang_probability == 0.0


def test_a_wind_that_holds_the_gate_from_one_side_hangs_it_half_the_time() -> None:
    one = in_wind_from_either_side(Vane(0.5, limit=0.2))
    assert one.hang_probability == 0.5
    assert not one.jams
    assert one.curve.shut_time == 0.5
    assert any("one side only" in note for note in one.notes)
    assert in_wind_from_either_side(Vane(0.5, limit=-1.0)).jams
    assert in_wind_from_either_side(Vane(0.0)).notes == ()


def test_long_motions_end() -> None:
    """Balanced a hair off: the pendulum takes long, and is still followed to the end."""
    swing = Swing(1.0, np.sin, lambda angle: -np.cos(angle))
    motion = move(swing, pi - radians(1e-6))
    assert motion.shut
    assert motion.time[-1] > 15.0
