"""Top-hinged gates: what they hold, when they move, how they shut, what opens them."""

from collections.abc import Callable
from dataclasses import replace
from math import cos, inf, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.balances import energy_error
from shared.plates import swing_rate, swing_time
from soundergate.mechanics import setup
from soundergate.mechanics.gates.top_hinged import (
    TopHinged,
    angle_at_clear,
    clear_height,
    contact_angle,
    from_table,
)
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
GATE = TopHinged(1.2, 0.9, 20.0)
WEIGHT = 20.0 * GRAVITY


def gust_load(gate: TopHinged, speed: float) -> float:
    """What a gust adds to the latch's load (N): its moment about the hinge over the latch's arm."""
    return abs(float(gate.wind_moment(gate.set_angle, speed))) / gate.arm


@pytest.mark.parametrize("angle", [1.0, pi / 2.0, 2.5, 3.0])
def test_holding_load_is_a_sine(angle: float) -> None:
    """W (L/2) sin a / r: half of the weight held level at the edge, all of it at the middle."""
    gate = replace(GATE, set_angle=angle)
    assert gate.holding_load() == pytest.approx(WEIGHT / 2.0 * sin(angle))
    assert replace(gate, latch_arm=0.45).holding_load() == pytest.approx(WEIGHT * sin(angle))


@given(st.floats(0.0, 0.9))
def test_clear_height_and_back(clear: float) -> None:
    assert clear_height(0.9, angle_at_clear(0.9, clear)) == pytest.approx(clear, abs=1e-12)
    assert clear_height(0.9, 3.0) == 0.9


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0.3, 3.05),
    st.floats(0.0, 10.0),
    st.floats(0.0, 0.5),
    st.floats(-6.0, 6.0),
    st.floats(2.0, 60.0),
)
def test_energy_balance(
    angle: float, torque: float, friction: float, wind: float, mass: float
) -> None:
    gate = TopHinged(1.2, 0.9, mass, angle, LogNormal(torque), LogNormal(friction), 0.01, wind)
    motion = gate.fall()
    assert energy_error(motion, gate.swing) < 1e-6
    assert motion.shut or motion.stopped


def test_the_curve_without_losses_is_the_exact_solution() -> None:
    gate = replace(GATE, solidity=0.0, set_angle=radians(160))
    curve = gate.curve()
    angles = [angle_at_clear(0.9, c) for c in curve.clear]
    exact = [swing_time(0.9, radians(160), a) for a in angles]
    np.testing.assert_allclose(curve.time, exact, rtol=1e-8)
    for i in (1, 20, 64):
        rest = [swing_time(0.9, angles[i], a) for a in angles[:i]]
        np.testing.assert_allclose(curve.rest_time[i, :i], rest, rtol=1e-7)
    lost = [20.0 * GRAVITY * 0.45 * (cos(a) - cos(radians(160))) for a in angles]
    np.testing.assert_allclose(curve.energy, lost, rtol=1e-7)


def test_above_level_the_opening_stays_clear_and_below_it_never_was() -> None:
    assert replace(GATE, set_angle=radians(170)).curve().time[-1] > 0.3
    low = replace(GATE, set_angle=radians(60))
    curve = low.curve()
    assert (curve.time[curve.clear >= 0.45] == 0.0).all()
    assert (curve.time[curve.clear < 0.44] > 0.0).all()
    assert any("0.45 m (1.5 ft) is clear" in note for note in low.solution().notes)


def test_near_upright_hinge_friction_holds_it() -> None:
    """It moves only when W (L/2) sin a exceeds mu r W."""
    dry = replace(GATE, friction=LogNormal(0.4), pin_radius=0.01)
    limit = np.arcsin(0.4 * 0.01 / 0.45)
    assert not replace(dry, set_angle=pi - 0.99 * limit).starts()
    free = replace(dry, set_angle=pi - 1.01 * limit)
    assert free.starts()
    stuck = replace(dry, set_angle=pi - 0.99 * limit).solution()
    assert stuck.jams
    assert stuck.curve.shut_time == inf
    assert any("so near upright" in note for note in stuck.notes)


def test_uncertain_friction_hangs_it_as_often_as_it_exceeds_the_weight() -> None:
    balance = float(GATE.gravity_moment(radians(175)))
    gate = replace(GATE, set_angle=radians(175), hinge_torque=LogNormal(balance, 0.5))
    assert gate.hang_probability() == pytest.approx(0.5)
    less = replace(gate, hinge_torque=LogNormal(balance * np.exp(-0.5), 0.5))
    assert less.hang_probability() == pytest.approx(0.158655, abs=1e-6)  # one sigma
    assert replace(gate, hinge_torque=LogNormal(0.9 * balance)).hang_probability() == 0.0
    assert replace(gate, wind=-40.0).hang_probability() == 1.0


def test_gusts_hold_load_and_lift() -> None:
    gate = replace(GATE, set_angle=radians(175))
    gust = gate.holding_gust()
    assert not replace(gate, wind=-1.01 * gust).starts()
    assert replace(gate, wind=-0.99 * gust).starts()
    assert gate.lifting_gust() == pytest.approx(gust)
    loaded = replace(gate, wind=5.0).holding_load() - gate.holding_load()
    assert loaded == pytest.approx(gust_load(gate, 5.0))
    assert replace(gate, wind=-1.2 * gust).holding_load() == 0.0
    assert replace(GATE, solidity=0.0).holding_gust() == inf
    assert GATE.holding_gust() == inf  # level, a wind along it does nothing
    rubbed = replace(gate, hinge_torque=LogNormal(1e3))
    assert rubbed.holding_gust() == 0.0


def test_a_wind_that_helps_at_first_stops_it_below_level() -> None:
    gate = replace(GATE, set_angle=radians(150))
    balance = gate.stopping_gust(radians(45))
    windy = replace(gate, wind=1.3 * balance)
    motion = windy.fall()
    assert motion.stopped
    assert 0.0 < motion.angle[-1] < radians(45)
    assert windy.solution().jams


def test_a_back_in_the_sweep_props_it() -> None:
    assert contact_angle(0.9, 0.5, 0.4) == pytest.approx(pi / 4.0)
    assert tan(contact_angle(0.9, 0.5, 0.2)) == pytest.approx(0.5)
    assert contact_angle(0.9, 0.5, 0.9) == 0.0  # out of reach
    assert GATE.sweep_depth() == 0.9
    assert replace(GATE, set_angle=radians(30)).sweep_depth() == pytest.approx(0.45)


def test_prying_takes_half_the_weight_times_the_sine() -> None:
    solution = replace(GATE, hinge_torque=LogNormal(0.9)).solution()
    assert solution.pry_force == pytest.approx(1.0)  # shut, only the hinge resists
    assert solution.pry_by_clear is not None
    assert solution.pry_by_clear[-1] == pytest.approx(WEIGHT / 2.0 + 1.0)
    assert solution.set_weight == pytest.approx(WEIGHT / 2.0)


def test_rebound_only_without_a_catch() -> None:
    assert GATE.solution().rebound == 0.0
    free = replace(GATE, lock=False, solidity=0.0, restitution=0.3)
    solution = free.solution()
    # The bounce keeps e^2 of the energy, so of the height of the plate's middle: L/2 e^2.
    assert solution.rebound == pytest.approx(0.3**2 * 0.9, rel=1e-6)
    assert solution.rebound_time > 0.2
    swinging = replace(free, framed=False).solution()
    assert swinging.rebound == pytest.approx(0.9, rel=1e-6)
    assert any("nosed open" in note for note in solution.notes)


def test_bad_measures_are_refused() -> None:
    with pytest.raises(ValueError, match="mass must be positive"):
        TopHinged(1.0, 1.0, 0.0)
    with pytest.raises(ValueError, match="not be beyond upright"):
        TopHinged(1.0, 1.0, 1.0, 3.2)


def test_from_a_scenario(trap: Trap) -> None:
    table = {"kind": "top-hinged", "mass": "20 kg", "set_angle": "170 deg", "wind": "10 mph"}
    scenario = trap(table)
    opening = scenario.opening[0]
    gate = from_table(opening.gate, opening)
    assert gate.mass == 20.0
    assert gate.arm == pytest.approx(opening.height)
    (solved,) = setup.solve(scenario).openings
    windward = gust_load(gate, gate.wind) + replace(gate, wind=0.0).holding_load()
    assert solved.holding_load == pytest.approx(windward)
    stated = trap({"kind": "top-hinged", "hinge_friction": "3 N*m"}).opening[0]
    assert from_table(stated.gate, stated).friction_moment(1.0, 0.0) == pytest.approx(3.0)


def test_cautions(trap: Trap) -> None:
    heavy = trap({"kind": "top-hinged", "mass": "80 kg", "set_angle": "175 deg"})
    (solved,) = setup.solve(heavy).openings
    said = " ".join(solved.cautions)
    assert "suspended load" in said
    assert "more than one person" in said
    assert (
        replace(GATE, set_angle=radians(175), mass=3.0).solution().cautions[1].startswith("Set 5")
    )


def test_hinge_rubs_with_what_it_carries() -> None:
    """At rest the whole weight; just let go level a quarter of it; passing shut two and a half."""
    dry = replace(GATE, friction=LogNormal(0.3), pin_radius=0.01)
    arm = 0.3 * 0.01 * WEIGHT
    assert dry.friction_moment(pi / 2.0, 0.0) == pytest.approx(arm)
    assert dry.friction_moment(pi / 2.0, 1e-9) == pytest.approx(0.25 * arm)
    rate = swing_rate(0.9, pi / 2.0, 0.0)
    assert dry.friction_moment(0.0, rate) == pytest.approx(2.5 * arm)


def test_nearly_upright_it_stays(trap: Trap) -> None:
    """A hair off upright friction holds a gate; that is a result."""
    scenario = trap({"kind": "top-hinged", "set_angle": "179.9 deg", "stop": "180 deg"})
    (opening,) = setup.solve(scenario).openings
    assert opening.holding_load > 0.0
    assert opening.jams
    assert opening.curve.shut_time == inf


def test_a_latch_beyond_the_edge_is_refused(trap: Trap) -> None:
    with pytest.raises(ScenarioError, match=r"hold_distance.*beyond the gate's edge"):
        setup.solve(trap({"kind": "top-hinged", "hold_distance": "4 ft"}))
