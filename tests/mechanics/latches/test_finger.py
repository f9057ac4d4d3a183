"""The finger latch: moments about its pivot."""

from collections.abc import Callable
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.latches.finger import finger, least_friction, release_ratio
from soundergate.mechanics.model import LatchSolution
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]


def latch(friction: float = 0.3, offset: float = 0.0, sigma: float = 0.0) -> LatchSolution:
    return finger(
        1000.0,
        LogNormal(friction, sigma),
        0.012,
        contact_arm=0.02,
        pull_arm=0.1,
        offset=offset,
        pin_radius=0.005,
    )


def test_moments_about_the_pivot() -> None:
    assert latch().pull_required * 0.1 == pytest.approx(1000.0 * 0.3 * (0.02 + 0.005))
    assert latch(offset=0.01).pull_required * 0.1 == pytest.approx(1000.0 * (0.01 + 0.3 * 0.025))


def test_no_work_is_gained_on_the_load_side() -> None:
    """Pull times its travel is the friction's work at the tip plus that at the pin."""
    turn = 0.012 / 0.02
    work = latch().pull_required * latch().trip_travel
    assert work == pytest.approx(1000.0 * 0.3 * (0.012 + 0.005 * turn))


@given(st.floats(-0.02, 0.02), st.floats(0.0, 0.8))
def test_it_holds_when_friction_is_enough(offset: float, friction: float) -> None:
    needed = least_friction(0.02, offset, 0.005)
    if abs(friction - needed) > 1e-9:
        assert latch(friction, offset).holds == (friction > needed or offset > 0.0)


def test_notes_warn_of_a_finger_held_by_friction_alone() -> None:
    held = latch(0.3, offset=-0.002)
    assert held.holds
    assert any("a shake can let it go" in note for note in held.notes)
    slipping = latch(0.05, offset=-0.005)
    assert not slipping.holds
    assert (slipping.pull_required, slipping.trip_travel) == (0.0, 0.0)
    assert any("unless the coefficient of friction exceeds 0.2" in note for note in slipping.notes)


@given(st.floats(0.05, 0.8), st.floats(0.0, 0.02))
def test_scatter_is_the_slope_of_ln_pull(friction: float, offset: float) -> None:
    step = 1e-5
    ratios = [release_ratio(friction * k, 0.02, 0.1, offset, 0.005) for k in (1 + step, 1 - step)]
    slope = log(ratios[0] / ratios[1]) / (2 * step)
    found = latch(friction, offset, sigma=0.35).pull_required_sigma
    assert found == pytest.approx(0.35 * slope, rel=1e-4)


def test_from_a_scenario(trap: Trap) -> None:
    table = {"kind": "finger", "puller": "animal", "hold_arm": "20 mm", "trip_arm": "100 mm"}
    table |= {"diameter": "10 mm", "friction": 0.3, "engaged": "12 mm"}  # type: ignore[dict-item]
    (opening,) = setup.solve(trap(latch=table)).openings
    expected = latch().pull_required / 1000.0
    assert opening.pull_required == pytest.approx(expected * opening.holding_load)
    (leaning,) = setup.solve(trap(latch={**table, "offset": "-15 mm"})).openings
    assert not leaning.latch.holds
