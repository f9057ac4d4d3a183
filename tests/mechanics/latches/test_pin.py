"""The pin: friction over every reaction, in both supports."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.latches.pin import double_shear_pull, overhung_pull, pin, stress
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.schema import Scenario

LOADS = st.floats(1.0, 5000.0)
FRICTIONS = st.floats(0.01, 1.0)


@given(load=LOADS, mu=FRICTIONS, a=st.floats(0.0, 0.2), c=st.floats(0.01, 0.3))
def test_overhung_pull_is_the_sum_over_the_reactions(
    load: float, mu: float, a: float, c: float
) -> None:
    """Reactions from the two equations of statics: at the guide's mouth and at its far end."""
    far = load * a / c
    mouth = load + far
    assert overhung_pull(load, mu, a, c) == pytest.approx(mu * (load + mouth + far))


@given(load=LOADS, mu=FRICTIONS)
def test_no_overhang_is_double_shear(load: float, mu: float) -> None:
    assert overhung_pull(load, mu, 0.0, 0.05) == double_shear_pull(load, mu) == 2 * mu * load


def test_pull_scatters_as_friction_and_grows_with_load() -> None:
    friction = LogNormal(0.42, 0.3)
    light, heavy = pin(100.0, friction, 0.025), pin(200.0, friction, 0.025)
    assert heavy.pull_required == 2 * light.pull_required == pytest.approx(168.0)
    assert light.pull_required_sigma == 0.3
    assert light.trip_travel == 0.025


def test_overhung_needs_more_than_double_shear() -> None:
    friction = LogNormal(0.42)
    overhung = pin(100.0, friction, 0.025, support="overhung", overhang=0.05, guide=0.05)
    assert overhung.pull_required == pytest.approx(2 * 84.0)


def test_refusals() -> None:
    with pytest.raises(ValueError, match="guide must be positive"):
        overhung_pull(100.0, 0.4, 0.05, 0.0)
    with pytest.raises(ValueError, match="support must be"):
        pin(100.0, LogNormal(0.4), 0.02, support="glued")


def test_stress_of_a_pin() -> None:
    """Textbook beams: shear W/(2A) with A = pi d^2/4, and a cantilever's 32 M/(pi d^3)."""
    assert stress(1000.0, 0.01) == pytest.approx(1000.0 / (2 * 78.5398e-6), rel=1e-6)
    assert stress(1000.0, 0.01, 0.05) == pytest.approx(50.0 / 98.1748e-9, rel=1e-6)


def test_a_thin_overhung_pin_is_cautioned() -> None:
    measures = {"support": "overhung", "overhang": 0.05, "guide": 0.05}
    thin = pin(400.0, LogNormal(0.4), 0.02, diameter=0.008, **measures)
    thick = pin(400.0, LogNormal(0.4), 0.02, diameter=0.02, **measures)
    assert "can bend and drop the gate" in thin.cautions[0]
    assert thick.cautions == ()
    assert pin(400.0, LogNormal(0.4), 0.02, diameter=0.008).cautions == ()


def test_what_is_said_of_a_support_is_said_of_that_support() -> None:
    """Overhung by 50 mm on a guide of 25 mm: 1 + 50/25 = 3 times the pull; double shear: nothing.

    The overhang that a double-shear pin's table may still carry counts for neither pull nor stress.
    """
    measures = {"overhang": 0.05, "guide": 0.025, "diameter": 0.012}
    held = pin(500.0, LogNormal(0.4), 0.02, support="double shear", **measures)
    overhung = pin(500.0, LogNormal(0.4), 0.02, support="overhung", **measures)
    assert held.pull_required == pytest.approx(400.0)
    assert overhung.pull_required == pytest.approx(1200.0)
    assert held.notes == ()
    assert overhung.notes == (
        "the pin overhangs its guide, which takes 3 times the pull of one held on both sides of "
        "the load",
    )
    # Cantilever: 500 N x 50 mm over pi d^3 / 32 = 169.65 mm^3 is 147 MPa, below 165; at 600 N 177.
    assert overhung.cautions == ()
    assert pin(600.0, LogNormal(0.4), 0.02, support="overhung", **measures).cautions
    assert pin(600.0, LogNormal(0.4), 0.02, support="double shear", **measures).cautions == ()


@pytest.mark.parametrize(("support", "times"), [("double shear", 1.0), ("overhung", 1.5)])
def test_the_support_of_a_scenario_is_the_one_that_is_solved(
    trap: Callable[..., Scenario], support: str, times: float
) -> None:
    """By default the load is 1 in off a guide of 2 in: half as much again for an overhung pin."""
    latch = {"kind": "pin", "puller": "air cylinder", "support": support}
    (opening,) = setup.solve(trap(latch=latch)).openings
    assert opening.pull_required == pytest.approx(2 * 0.4 * opening.holding_load * times)
    assert any("overhangs" in note for note in opening.notes) == (support == "overhung")
