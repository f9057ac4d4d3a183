"""What opens a shut gate from inside, against statics worked by hand for each kind.

Each figure stands beside the sum that gave it: moments about a hinge, or a rigid panel in two
channels (elementary statics with Coulomb friction). g = 9.80665 m/s^2.
"""

from __future__ import annotations

from math import inf, pi, radians, sin

import numpy as np
import pytest
from scipy.optimize import linprog

from soundergate.mechanics.gates.curled_panel import CurledPanel
from soundergate.mechanics.gates.drop import DropGate
from soundergate.mechanics.gates.net_skirt import NetSkirt
from soundergate.mechanics.gates.side_hinged import SideHinged, Spring
from soundergate.mechanics.gates.top_hinged import TopHinged
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal


def drop(**change: object) -> DropGate:
    values = {"width": 1.2, "height": 0.9, "mass": 20.0, "channel_length": 1.8,
              "friction": LogNormal(0.3)} | change  # fmt: skip
    return DropGate(**values)  # type: ignore[arg-type]


def test_a_drop_gate_takes_its_weight_in_the_middle_and_more_at_a_corner() -> None:
    """W = 196.133 N; at a corner W / (1 - 0.3 * 1.2 / 0.9) = W / 0.6 = 326.888 N."""
    solved = drop().solution()
    assert solved.lift_force == pytest.approx(196.133)
    assert solved.pry_force == pytest.approx(326.888, abs=1e-3)
    # A quarter of the width off the middle: W / (1 - 0.3 * 1.2 / 1.8) = W / 0.8.
    assert drop().lift_at(0.3) == pytest.approx(245.166, abs=1e-3)


def test_a_wide_low_drop_gate_jams_when_it_is_pried_at_a_corner() -> None:
    """mu w / b = 0.3 * 3.0 / 0.9 = 1 is the limit."""
    assert drop(width=3.0001).solution().pry_force == inf
    assert drop(width=2.99).solution().pry_force > 100 * 196.0
    assert drop(width=3.0001).solution().lift_force == pytest.approx(196.133)
    assert any("jams" in note for note in drop(width=3.1).solution().notes)


@pytest.mark.parametrize("place", [0.0, 0.1, 0.45, -0.45, 0.6])
@pytest.mark.parametrize("rope", [(0.0, 0.0), (6.0, 0.2), (6.0, -0.3)])
def test_the_least_lift_of_a_rigid_panel_in_two_channels(
    place: float, rope: tuple[float, float]
) -> None:
    """The same as a linear programme: unknown corner forces on four contacts, all of which rub.

    Force and moment balance of the panel about its centre of mass; each contact pushes inward and
    rubs downward with mu times its force. The lift is the least that any set of contact forces
    with one couple (upper contact on one side, lower on the other) allows.
    """
    counterweight, e = rope
    gate = drop(offset=0.05, counterweight=counterweight, pull_offset=0.05 + e)
    b, mu, tension = 0.9, 0.3, counterweight * GRAVITY
    x = place - 0.05
    least = inf
    for turn in (1.0, -1.0):
        # Unknowns F and N >= 0: F + T = W + 2 mu N; F x + T e = turn N b.
        found = linprog(
            [1.0, 0.0],
            A_eq=[[1.0, -2.0 * mu], [x, -turn * b]],
            b_eq=[20.0 * GRAVITY - tension, -tension * e],
            bounds=[(0.0, None), (0.0, None)],
        )
        if found.success:
            least = min(least, float(found.fun))
    assert gate.lift_at(place) == pytest.approx(least, rel=1e-9)


def test_a_top_hinged_gate_hangs_shut_by_its_hinge_alone() -> None:
    """Torque of 3 N m on 0.9 m: 3.333 N at the edge, 6.667 N at the middle; raised 30 degrees the
    edge takes (W/2) sin 30 = 49.033 N more."""
    gate = TopHinged(1.2, 0.9, 20.0, hinge_torque=LogNormal(3.0))
    solved = gate.solution()
    assert solved.pry_force == pytest.approx(3.0 / 0.9)
    assert solved.lift_force == pytest.approx(3.0 / 0.45)
    assert gate.pry_force(radians(30)) == pytest.approx(49.03325 + 3.0 / 0.9)
    free = TopHinged(1.2, 0.9, 20.0).solution()
    assert free.pry_force == free.lift_force == 0.0


@pytest.mark.parametrize("leaves", [1, 2])
def test_a_side_hinged_leaf_is_pushed_at_its_edge_or_its_middle(leaves: int) -> None:
    """Spring of 10 N m/rad wound by 0.5 rad, 2 N m of friction: 7 N m on a leaf 1.2 m / leaves."""
    gate = SideHinged(
        1.2, 0.9, 20.0, Spring(10.0, 0.5), leaves=leaves, friction_torque=LogNormal(2.0)
    )
    solved = gate.solution()
    assert solved.pry_force == pytest.approx(7.0 / (1.2 / leaves))
    assert solved.lift_force == pytest.approx(14.0 / (1.2 / leaves))


def test_no_swinging_or_sliding_gate_is_lifted_as_it_is_pried() -> None:
    """Middle and edge have different arms, so the two forces differ for each kind that rubs."""
    gates = (
        drop(),
        TopHinged(1.2, 0.9, 20.0, hinge_torque=LogNormal(3.0)),
        SideHinged(1.2, 0.9, 20.0, Spring(10.0, 0.5)),
        CurledPanel(0.6, 0.9, 8.0, 60.0, 0.3),
    )
    for gate in gates:
        solved = gate.solution()
        assert solved.lift_force != pytest.approx(solved.pry_force)


def test_a_curled_panel_bears_on_its_neighbour_and_gives_only_at_its_edge() -> None:
    """60 N opens it, 30 % of that is left when it is shut: 18 N at the edge; no push opens it."""
    solved = CurledPanel(0.6, 0.9, 8.0, 60.0, 0.3).solution()
    assert solved.pry_force == pytest.approx(18.0)
    assert solved.lift_force == inf


def test_a_net_is_nosed_up_by_the_weight_of_its_skirt() -> None:
    """4.8 kg over 1.2 m x (1.0 + 0.6) m is 2.5 kg/m^2; skirt 0.6 m under a snout of 0.15 m weighs
    2.5 * 0.09 * g = 2.2065 N. At 0.3 m the tent is 0.75 m wide: 0.6 * 0.75 + 0.3 * 0.45 m^2."""
    net = NetSkirt(1.2, 1.0, 4.8, 20.0, 0.6, 0.15)
    solved = net.solution()
    assert solved.lift_force == solved.pry_force == pytest.approx(2.5 * 0.09 * GRAVITY)
    assert solved.set_weight == pytest.approx(4.8 * GRAVITY)
    assert solved.push_force == 20.0
    assert net.force_out(0.3) == pytest.approx(2.5 * (0.6 * 0.75 + 0.3 * 0.45) * GRAVITY)


def test_a_top_panel_takes_its_weight_at_half_open() -> None:
    """Half of 0.9 m clear is 60 degrees from hanging: (W/2) sin 60 for 16 kg = 67.94 N."""
    from soundergate.mechanics.gates.push_panel import top_panel

    solved = top_panel(TopHinged(0.8, 0.9, 16.0), 30.0)
    assert solved.push_force == pytest.approx(0.5 * 16.0 * GRAVITY * sin(pi / 3.0))
    assert solved.push_force == pytest.approx(67.942, abs=1e-3)
    assert top_panel(TopHinged(0.8, 0.9, 16.0), 80.0).push_force == 80.0


@pytest.mark.parametrize(("leaves", "arm"), [(1, 0.9), (2, 0.45)])
def test_the_push_at_the_edge_winds_the_return_spring(leaves: int, arm: float) -> None:
    """40 N on the leaf's own width, at the angle that clears the whole width, is the spring's
    torque there; shut, 25 % of the force is left at the edge."""
    from soundergate.mechanics.gates.push_panel import return_spring, side_panel
    from soundergate.mechanics.gates.side_hinged import clear_gap

    spring = return_spring(40.0, 0.9, leaves, 0.25)
    wide = next(a for a in np.linspace(0.1, pi, 200_001) if clear_gap(0.9, leaves, a) >= 0.9 - 1e-9)
    assert spring.rate * (wide + spring.preload) == pytest.approx(40.0 * arm, rel=1e-4)
    assert spring.rate * spring.preload == pytest.approx(0.25 * 40.0 * arm)
    solved = side_panel(SideHinged(0.9, 0.9, 16.0, spring, leaves=leaves), 40.0)
    assert solved.push_force == 40.0
    assert solved.pry_force == pytest.approx(10.0)
    assert solved.lift_force == pytest.approx(20.0)
