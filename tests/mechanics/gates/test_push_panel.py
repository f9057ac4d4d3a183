"""Push panels: the push that was stated, and the way back."""

from math import pi, sqrt

import pytest

from shared.plates import swing_time
from soundergate.mechanics.gates.push_panel import return_spring, side_panel, top_panel
from soundergate.mechanics.gates.side_hinged import SideHinged, angle_at_gap
from soundergate.mechanics.gates.top_hinged import TopHinged
from soundergate.scenario.constants import GRAVITY


def test_top_panel_returns_as_a_plate() -> None:
    solution = top_panel(TopHinged(1.2, 0.9, 8.0, solidity=0.0), push=30.0)
    assert solution.curve.shut_time == pytest.approx(swing_time(0.9, pi / 2.0), rel=1e-8)
    half_open = 0.5 * 8.0 * GRAVITY * sqrt(0.75)  # half of the height is clear at 60 degrees
    assert solution.push_force == pytest.approx(half_open)
    assert any("its weight alone asks 34 N" in note for note in solution.notes)
    assert solution.passable
    assert not solution.locked
    assert solution.holding_load == 0.0
    light = top_panel(TopHinged(1.2, 0.9, 2.0), push=30.0)
    assert light.push_force == 30.0
    assert light.pry_force == 0.0


@pytest.mark.parametrize("leaves", [1, 2])
def test_side_panel_spring_gives_the_push_that_was_stated(leaves: int) -> None:
    spring = return_spring(30.0, 1.2, leaves, 0.5)
    panel = SideHinged(1.2, 0.9, 8.0, spring, leaves=leaves)
    wide = angle_at_gap(1.2, leaves, 1.2)
    assert panel.edge_force(wide) == pytest.approx(30.0)
    assert panel.edge_force(0.0) == pytest.approx(15.0)
    solution = side_panel(panel, 30.0)
    assert solution.curve.shuts
    assert solution.pry_force == pytest.approx(15.0)
    assert solution.sketch["hinge"] == "side"


def test_a_panel_without_a_spring_does_not_return() -> None:
    panel = SideHinged(1.2, 0.9, 8.0, return_spring(0.0, 1.2, 1, 0.5))
    assert not side_panel(panel, 0.0).curve.shuts
