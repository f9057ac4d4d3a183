"""Side-hinged gates: closers, gaps, friction, wind, and what a scenario makes of them."""

from collections.abc import Callable
from dataclasses import replace
from math import acos, inf, pi, radians, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.balances import energy_error
from soundergate.mechanics import setup
from soundergate.mechanics.gates.side_hinged import (
    Closer,
    RisingHinge,
    SideHinged,
    Spring,
    Weight,
    angle_at_gap,
    clear_gap,
    from_table,
    hinge_friction,
)
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
GATE = SideHinged(1.2, 0.9, 20.0, Spring(15.0, radians(45)), solidity=0.0)
CLOSERS: tuple[Closer, ...] = (Spring(15.0, 0.5), RisingHinge(0.06), Weight(9.0, 0.15))


def test_gap_of_one_leaf_and_of_two() -> None:
    """One leaf of the whole width clears it at 60 degrees, two of half of it at 90."""
    assert clear_gap(1.2, 1, radians(60)) == pytest.approx(1.2)
    assert clear_gap(1.2, 1, radians(30)) == pytest.approx(2.4 * np.sin(radians(15)))
    assert clear_gap(1.2, 2, radians(60)) == pytest.approx(0.6)
    assert clear_gap(1.2, 2, radians(120)) == 1.2


@given(st.floats(0.0, 1.2), st.sampled_from([1, 2]))
def test_gap_and_back(gap: float, leaves: int) -> None:
    assert clear_gap(1.2, leaves, angle_at_gap(1.2, leaves, gap)) == pytest.approx(gap, abs=1e-12)


@pytest.mark.parametrize("closer", CLOSERS)
@settings(max_examples=15, deadline=None)
@given(st.floats(0.3, 3.0), st.floats(0.0, 8.0), st.floats(-8.0, 8.0), st.sampled_from([1, 2]))
def test_energy_balance(
    closer: Closer, angle: float, torque: float, wind: float, leaves: int
) -> None:
    gate = SideHinged(1.2, 0.9, 20.0, closer, leaves, angle, LogNormal(torque), wind=wind)
    motion = gate.fall()
    assert energy_error(motion, gate.swing) < 1e-6
    assert motion.shut or motion.stopped


def sprung(inertia: float, k: float, p: float, start: float) -> tuple[float, float, float]:
    """(time, rate at shut, angle of rest) of a leaf on a spring, friction already taken off p.

    Harmonic motion about -p: t = sqrt(I / k) acos(p / (a + p)), w = sqrt(k / I) sqrt((a + p)^2 -
    p^2); it stops at -2 p - a, or at shut, whichever comes first. Time inf where it stops short.
    """
    if start + p <= 0.0:
        return inf, 0.0, start
    rate = sqrt(k / inertia * max(0.0, (start + p) ** 2 - p * p))
    short = start + 2.0 * p < 0.0
    time = inf if short else sqrt(inertia / k) * acos(p / (start + p))
    return time, rate, max(0.0, -2.0 * p - start)


@given(st.floats(0.2, 2.0), st.floats(0.0, 1.5), st.floats(0.0, 25.0))
@settings(max_examples=40, deadline=None)
def test_spring_with_friction_is_the_closed_form(
    start: float, preload: float, friction: float
) -> None:
    gate = replace(
        GATE, closer=Spring(15.0, preload), set_angle=start, friction_torque=LogNormal(friction)
    )
    expected, rate, rest = sprung(gate.leaf_inertia, 15.0, preload - friction / 15.0, start)
    motion = gate.fall()
    if abs(start + 2.0 * (preload - friction / 15.0)) < 1e-6:
        return  # on the very edge either answer is right
    assert motion.shut == (expected < inf)
    assert motion.shut == (rest == 0.0)
    if motion.shut:
        assert motion.time[-1] == pytest.approx(expected, rel=1e-7)
        assert motion.rate[-1] == pytest.approx(rate, rel=1e-6, abs=1e-6)
    else:
        assert motion.angle[-1] == pytest.approx(rest, abs=1e-7)


def test_a_weak_spring_shuts_on_its_way_but_not_from_rest_near_shut() -> None:
    """p < M_f / k: no closing moment is left at shut, though the leaf arrives with speed."""
    weak = replace(GATE, closer=Spring(10.0, 0.1), friction_torque=LogNormal(3.0))
    solution = weak.solution()
    assert solution.curve.shuts
    assert np.isinf(solution.curve.rest_time[3, :3]).all()
    assert np.isfinite(solution.curve.rest_time[-1]).all()
    assert any("stays ajar" in note for note in solution.notes)


def test_a_weaker_one_stops_short_and_hangs() -> None:
    feeble = replace(GATE, closer=Spring(10.0, 0.0), friction_torque=LogNormal(9.0))
    solution = feeble.solution()
    assert solution.jams
    assert any("stops short" in note for note in solution.notes)
    held = replace(GATE, closer=Spring(1.0, 0.0), friction_torque=LogNormal(9.0)).solution()
    assert held.jams
    assert any("holds the leaf where it is set" in note for note in held.notes)


def test_friction_hangs_it_as_often_as_it_eats_the_closers_work() -> None:
    spring = Spring(10.0, 0.2)
    work = 0.5 * 10.0 * ((pi / 2.0 + 0.2) ** 2 - 0.2**2)
    limit = work / (pi / 2.0)
    gate = replace(GATE, closer=spring, friction_torque=LogNormal(limit, 0.4))
    assert gate.hang_probability() == pytest.approx(0.5)
    for share, shuts in ((0.999, True), (1.001, False)):
        assert replace(gate, friction_torque=LogNormal(share * limit)).fall().shut is shuts
        sure = replace(gate, friction_torque=LogNormal(share * limit))
        assert sure.hang_probability() == (0.0 if shuts else 1.0)


def test_rising_hinge_and_weight_pull_with_a_steady_torque() -> None:
    rising = replace(GATE, closer=RisingHinge(0.05))
    assert rising.closing_moment(0.2) == rising.closing_moment(1.0)
    assert rising.closing_moment(1.0) == pytest.approx(20.0 * GRAVITY * 0.05)
    assert rising.swing.inertia == pytest.approx(rising.leaf_inertia + 20.0 * 0.05**2)
    hung = replace(GATE, closer=Weight(10.0, 0.2), leaves=2)
    assert hung.closing_moment(1.0) == pytest.approx(10.0 * GRAVITY * 0.2)
    assert hung.swing.inertia == pytest.approx(10.0 * 0.6**2 / 3.0 + 10.0 * 0.2**2)
    # What strikes is the leaf; the weight's rope goes slack.
    curve = hung.curve()
    rate = curve.speed[0] / hung.leaf_width
    assert curve.energy[0] == pytest.approx(2 * 0.5 * hung.leaf_inertia * rate**2)


def test_two_leaves_halve_mass_and_width() -> None:
    one, two = GATE, replace(GATE, leaves=2)
    assert two.leaf_inertia == pytest.approx(one.leaf_inertia / 8.0)
    assert two.curve().shut_time < one.curve().shut_time
    assert two.curve().measure == "gap"
    moment = 15.0 * (pi / 2.0 + radians(45))
    assert two.holding_load() == pytest.approx(2.0 * moment / 0.6)
    assert one.holding_load() == pytest.approx(moment / 1.2)


def test_forces_at_the_edge() -> None:
    solution = replace(GATE, friction_torque=LogNormal(1.2)).solution()
    assert solution.pry_force == pytest.approx((15.0 * radians(45) + 1.2) / 1.2)
    assert solution.set_weight == pytest.approx((15.0 * (pi / 2.0 + radians(45)) + 1.2) / 1.2)
    assert solution.pry_by_clear is not None
    assert (np.diff(solution.pry_by_clear) > 0.0).all()


def test_wind_shuts_it_or_holds_it() -> None:
    calm, windy = replace(GATE, solidity=1.0), replace(GATE, solidity=1.0, wind=5.0)
    assert windy.curve().shut_time < calm.curve().shut_time
    assert replace(windy, wind=-5.0).curve().shut_time > calm.curve().shut_time
    assert replace(windy, wind=-30.0).solution().jams


def test_rebound_only_without_a_catch() -> None:
    assert GATE.solution().rebound == 0.0
    solution = replace(GATE, lock=False).solution()
    assert solution.rebound > 0.0
    assert solution.rebound_time > 0.0


def test_gap_when_set_narrow() -> None:
    narrow = replace(GATE, set_angle=radians(30)).solution()
    assert any("of the width is clear" in note for note in narrow.notes)


def test_bad_measures_are_refused() -> None:
    with pytest.raises(ValueError, match="leaves must be 1 or 2"):
        replace(GATE, leaves=3)
    with pytest.raises(ValueError, match="beyond half a turn"):
        replace(GATE, set_angle=1.01 * pi)
    with pytest.raises(ValueError, match="width must be positive"):
        replace(GATE, width=0.0)


def test_from_a_scenario(trap: Trap) -> None:
    def gate(**keys: object) -> SideHinged:
        opening = trap({"kind": "side-hinged", "mass": "20 kg", **keys}).opening[0]
        return from_table(opening.gate, opening)

    sprung = gate(spring_rate="20 N*m", preload="30 deg", leaves=2)
    assert sprung.closer == Spring(20.0, pytest.approx(radians(30)))
    width, height = 4 * 0.3048, 3 * 0.3048
    expected = hinge_friction(10.0, width / 2.0, 0.6 * height, 0.25 * 0.0254, 0.3)
    assert sprung.friction_torque.median == pytest.approx(expected)
    rising = gate(closer="rising hinge", rise="60 mm", set_angle="90 deg")
    assert rising.closer == RisingHinge(pytest.approx(0.06 / (pi / 2.0)))
    assert gate(closer="weight", arm="0.2 m").closer.arm == pytest.approx(0.2)  # type: ignore[union-attr]
    assert gate(hinge_friction="2 N*m").friction_torque.median == pytest.approx(2.0)
    (solved,) = setup.solve(trap({"kind": "side-hinged"})).openings
    assert solved.curve.measure == "gap"
    assert solved.curve.height == pytest.approx(width)


def test_hinges_further_apart_than_the_gate_are_refused(trap: Trap) -> None:
    with pytest.raises(ScenarioError, match=r"hinge_spacing.*further apart"):
        setup.solve(trap({"kind": "side-hinged", "hinge_spacing": "4 ft"}))


def test_folded_right_back_a_leaf_still_shuts(trap: Trap) -> None:
    (opening,) = setup.solve(trap({"kind": "side-hinged", "set_angle": "180 deg"})).openings
    assert opening.curve.shuts
    assert opening.curve.time[-1] > 0.0
