"""Who needs how much room under a closing gate."""

from collections.abc import Callable

import pytest

from soundergate.mechanics.bodies import clearance, clearances
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
