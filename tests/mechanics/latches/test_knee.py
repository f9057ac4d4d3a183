"""The knee latch: holding, releasing, travel, and what friction does to all three."""

from collections.abc import Callable
from math import log, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.latches.knee import (
    friction_angle,
    holds_itself,
    knee,
    pull_sensitivity,
    release_ratio,
    release_travel,
)
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
SHAPE = {"link": 0.15, "first_radius": 0.006, "second_radius": 0.006}


def pull(friction: float, angle: float, load: float = 1000.0) -> float:
    return knee(load, LogNormal(friction), angle=angle, **SHAPE).pull_required


@given(st.floats(0.0, 0.5), st.floats(0.001, 0.7), st.floats(1.0, 1e4))
def test_the_pull_is_the_load_times_the_release_ratio(
    friction: float, angle: float, load: float
) -> None:
    psi = friction_angle(friction, 0.006, 0.006, 0.15)
    assert pull(friction, angle, load) == pytest.approx(load * release_ratio(angle, psi))


def test_more_friction_or_more_angle_asks_more() -> None:
    assert pull(0.1, 0.05) < pull(0.2, 0.05) < pull(0.2, 0.1)


def test_at_centre_and_on_the_wrong_side() -> None:
    psi = friction_angle(0.3, 0.006, 0.006, 0.15)
    assert holds_itself(-0.5 * psi, psi)
    assert not holds_itself(-1.5 * psi, psi)
    assert release_ratio(-2.0 * psi, psi) == 0.0
    shaky = knee(1000.0, LogNormal(0.3), angle=-0.5 * psi, **SHAPE)
    assert shaky.holds
    assert any("a shake can let it go" in note for note in shaky.notes)
    slipping = knee(1000.0, LogNormal(0.3), angle=-2.0 * psi, **SHAPE)
    assert not slipping.holds
    assert slipping.pull_required == 0.0
    assert slipping.trip_travel == 0.0


def test_travel_runs_from_the_stop_to_beyond_centre() -> None:
    psi = friction_angle(0.3, 0.006, 0.006, 0.15)
    assert release_travel(0.15, 0.1, psi) == pytest.approx(0.15 * (sin(0.1) + sin(psi)))
    assert release_travel(0.15, -psi, psi) == pytest.approx(0.0)


@given(st.floats(0.05, 0.5), st.floats(0.005, 0.6))
def test_scatter_is_the_slope_of_ln_pull(friction: float, angle: float) -> None:
    step = 1e-5
    slope = log(pull(friction * (1 + step), angle) / pull(friction * (1 - step), angle))
    latch = knee(1000.0, LogNormal(friction, 0.4), angle=angle, **SHAPE)
    assert latch.pull_required_sigma == pytest.approx(0.4 * slope / (2 * step), rel=1e-4)
    assert pull_sensitivity(-1.0, 0.1) == 0.0


def test_links_too_short_for_their_pins() -> None:
    with pytest.raises(ValueError, match="too thick for the link"):
        friction_angle(1.0, 0.1, 0.1, 0.15)


def test_from_a_scenario(trap: Trap) -> None:
    table = {"kind": "knee", "puller": "air cylinder", "over_centre": "4 deg", "link": "150 mm"}
    (opening,) = setup.solve(trap(latch={**table, "diameter": "12 mm", "friction": 0.2})).openings
    psi = friction_angle(0.2, 0.006, 0.006, 0.15)
    assert opening.pull_required == pytest.approx(
        opening.holding_load * release_ratio(radians(4), psi)
    )
    assert any("fingers clear" in line for line in opening.cautions)
    assert opening.latch.releases


def test_pins_too_thick_in_a_scenario(trap: Trap) -> None:
    table = {"kind": "knee", "puller": "animal", "link": "1 in", "diameter": "3 in"}
    with pytest.raises(ScenarioError, match=r"latch\.diameter.*too thick for links"):
        setup.solve(trap(latch=table))


def test_no_pull_straightens_links_that_stand_square_to_the_load() -> None:
    """Over centre by a right angle the pull works along the load's own line: no lever is left."""
    square = knee(1000.0, LogNormal(0.0), angle=radians(90.0), **SHAPE)
    assert square.holds
    assert not square.releases
    assert knee(1000.0, LogNormal(0.0), angle=radians(89.9), **SHAPE).releases
    assert not knee(1000.0, LogNormal(0.3), angle=radians(89.9), **SHAPE).releases
