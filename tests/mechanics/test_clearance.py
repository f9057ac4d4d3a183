"""Who needs how much room under a closing gate."""

import math
from collections.abc import Callable

import pytest

from soundergate.mechanics.clearance import clearance, clearances, opens_with
from soundergate.mechanics.setup import solve
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]


def test_by_class_from_the_scenarios_own_body_table(trap: Trap) -> None:
    """0.178 W^0.33 m of back, 0.85 of it ducking; 0.064 W^0.33 m of shoulder."""
    scenario = trap(sounder={"sows": 1, "juveniles": 2, "mass": {"sow": "64 kg"}})
    assert list(clearances(scenario)) == ["sow", "juvenile"]
    assert clearances(scenario)["sow"] == pytest.approx(0.85 * 0.178 * 64**0.33)
    assert clearances(scenario, "gap")["sow"] == pytest.approx(0.064 * 64**0.33)
    assert clearance(scenario, "boar") > clearance(scenario, "sow")


def test_other_sounders_bring_their_classes_with_their_own_masses(trap: Trap) -> None:
    scenario = trap(sounder={"sows": 1}, other=[{"boars": 1, "sows": 1, "mass": {"boar": "90 kg"}}])
    found = clearances(scenario)
    assert list(found) == ["sow", "boar"]
    assert found["boar"] == pytest.approx(0.85 * 0.178 * 90**0.33)


def test_a_plate_is_raised_as_far_as_the_smallest_needs(trap: Trap) -> None:
    """(W/2) sin a with clear = L (1 - cos a), not what starts it: 6 kg needs 0.27 m of 0.91 m."""
    gate = {"kind": "top-hinged", "mass": "100 kg", "lock": False, "hinge_friction": "0 N*m"}
    scenario = trap(gate=gate, sounder={"piglets": 4, "mass": {"piglet": "6 kg"}})
    (opening,) = solve(scenario).openings
    needed = clearances(scenario)["piglet"]
    assert needed == pytest.approx(0.85 * 0.178 * 6**0.33)
    raised = math.acos(1.0 - needed / opening.height)
    weight = opening.mass * 9.80665
    assert min(opening.lift_force, opening.pry_force) < 0.01 * weight
    expected = 0.5 * weight * math.sin(raised)
    assert opens_with(opening, needed) == pytest.approx(expected, rel=0.03)  # the curve's grid
    piglet = 6 * 9.80665
    assert opens_with(opening, needed) > 4.0 * piglet  # no piglet of 0.8 of its weight does it


def test_a_drop_gate_weighs_its_whole_weight_from_the_first(trap: Trap) -> None:
    scenario = trap(gate={"kind": "drop", "mass": "30 kg", "lock": False})
    (opening,) = solve(scenario).openings
    for needed in (0.01, 0.3, 0.8):
        assert opens_with(opening, needed) == pytest.approx(30 * 9.80665, rel=0.2)
