"""The rotary latch: claw, pawl and pull."""

from collections.abc import Callable
from dataclasses import replace
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.latches.rotary import Rotary, pawl_force, release_pull, rotary
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
SHAPE = Rotary(0.02, 0.05, 0.01, 0.04, 0.004, 0.005)


def test_pawl_carries_a_share_of_the_load() -> None:
    assert pawl_force(SHAPE, 1000.0, 0.0) == pytest.approx(400.0)
    assert pawl_force(SHAPE, 1000.0, 0.5) == pytest.approx(1000.0 * (0.02 - 0.002) / 0.05)


def test_pull_drags_the_pawl_and_bends_the_spring() -> None:
    normal = 1000.0 * (0.02 - 0.3 * 0.004) / 0.05
    assert release_pull(SHAPE, 1000.0, 0.3) == pytest.approx(0.3 * normal * 0.014 / 0.04)
    sprung = replace(SHAPE, spring=12.0)
    more = release_pull(sprung, 1000.0, 0.3) - release_pull(SHAPE, 1000.0, 0.3)
    assert more == pytest.approx(12.0)
    assert rotary(1000.0, LogNormal(0.3), SHAPE).trip_travel == pytest.approx(0.005 * 4.0)


@given(st.floats(0.05, 0.9), st.floats(0.0, 50.0))
def test_scatter_is_the_slope_of_ln_pull(friction: float, spring: float) -> None:
    shape, step = replace(SHAPE, spring=spring), 1e-5
    pulls = [release_pull(shape, 1000.0, friction * k) for k in (1 + step, 1 - step)]
    slope = log(pulls[0] / pulls[1]) / (2 * step)
    found = rotary(1000.0, LogNormal(friction, 0.35), shape).pull_required_sigma
    assert found == pytest.approx(0.35 * slope, rel=1e-4)


def test_a_claw_on_a_thick_pin_does_not_turn() -> None:
    stuck = rotary(1000.0, LogNormal(0.6), replace(SHAPE, load_arm=0.002))
    assert not stuck.releases
    assert stuck.pull_required == 0.0
    assert stuck.pull_required_sigma == 0.0
    assert any("own pin holds it" in note for note in stuck.notes)


def test_from_a_scenario(trap: Trap) -> None:
    table = {"kind": "rotary", "puller": "air cylinder", "friction": 0.3, "lever": 2}
    (opening,) = setup.solve(trap(latch=table)).openings
    inch = 0.0254
    shape = Rotary(1 * inch, 2 * inch, 0.5 * inch, 1.5 * inch, 0.1875 * inch, 0.5 * inch)
    expected = release_pull(shape, opening.holding_load, 0.3)
    assert opening.latch.pull_required == pytest.approx(expected)
    assert opening.pull_required == pytest.approx(expected / 2.0)
    (thick,) = setup.solve(trap(latch={**table, "friction": 1.5, "hold_arm": "0.2 in"})).openings
    assert thick.release_probability == 0.0
