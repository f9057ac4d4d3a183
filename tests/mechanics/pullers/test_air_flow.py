"""Air: flow, series, filling, the piston, and how many releases a tank holds."""

from collections.abc import Callable
from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.balances import air_energy_error, air_mass_error
from soundergate.mechanics import setup
from soundergate.mechanics.pullers.air_flow import (
    ATMOSPHERE,
    GAMMA,
    AirPull,
    Conductance,
    filling_time,
    hose,
    hose_volume,
    in_series,
    mass_flow,
    release,
    releases_in_tank,
)
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
VALVE = Conductance(2e-8, 0.3)
PULL = AirPull(
    area=1e-3,
    dead_volume=1e-4,
    load=300.0,
    mass=1.0,
    travel=0.03,
    supply=7e5,
    path=VALVE,
    seal_friction=30.0,
    tank=4e-3,
)


def test_flow_never_runs_back_and_is_smooth_near_equal_pressures() -> None:
    assert mass_flow(VALVE, 1e5, 2e5) == 0.0
    assert mass_flow(VALVE, 2e5, 2e5) == 0.0
    near = [mass_flow(VALVE, 2e5, 2e5 * r) for r in (0.9985, 0.99899, 0.99901, 0.9995)]
    assert (np.diff(near) < 0.0).all()
    assert near[1] == pytest.approx(near[2], rel=0.03)


def through_both(one: Conductance, two: Conductance, ratio: float) -> float:
    """Flow of two parts in a row found by halving the pressure between them."""
    low, high = ratio * 7e5, 7e5
    for _ in range(100):
        middle = 0.5 * (low + high)
        into, out = mass_flow(one, 7e5, middle), mass_flow(two, middle, ratio * 7e5)
        low, high = (middle, high) if into > out else (low, middle)
    return into


@settings(max_examples=30)
@given(st.floats(0.3, 5.0), st.floats(0.1, 0.5), st.floats(0.1, 0.5), st.floats(0.05, 0.95))
def test_parts_in_a_row(scale: float, b1: float, b2: float, ratio: float) -> None:
    one, two = Conductance(2e-8, b1), Conductance(2e-8 * scale, b2)
    joint = mass_flow(in_series(one, two), 7e5, ratio * 7e5)
    assert joint == pytest.approx(through_both(one, two, ratio), rel=0.08)
    choked = mass_flow(in_series(one, two), 7e5, 1.0)
    assert choked == pytest.approx(through_both(one, two, 1e-6), rel=1e-6)


def test_one_part_alone_and_none() -> None:
    assert in_series(VALVE) == VALVE
    wide = Conductance(1.0, 0.5)
    assert in_series(wide, VALVE).c == pytest.approx(VALVE.c, rel=1e-6)
    with pytest.raises(ValueError, match="at least one part"):
        in_series()


def test_a_longer_or_thinner_hose_passes_less() -> None:
    assert hose(0.006, 10.0).c < hose(0.006, 2.0).c < hose(0.008, 2.0).c
    assert hose_volume(0.01, 2.0) == pytest.approx(1.5708e-4, rel=1e-4)


def test_filling_that_cannot_or_need_not_be() -> None:
    assert filling_time(VALVE, 5e5, 1e5, 6e5, 1e-3) == inf
    assert filling_time(VALVE, 5e5, 3e5, 2e5, 1e-3) == 0.0
    assert GAMMA * filling_time(VALVE, 7e5, 1e5, 6e5, 1e-3) == pytest.approx(
        filling_time(VALVE, 7e5, 1e5, 6e5, 1e-3, adiabatic=False)
    )


@settings(max_examples=25, deadline=None)
@given(st.floats(50.0, 500.0), st.floats(0.2, 5.0), st.floats(1e-3, 2e-2), st.floats(0.005, 0.06))
def test_air_balance(load: float, mass: float, tank: float, travel: float) -> None:
    """Energy when no heat passes, air mass when the walls keep the temperature."""
    pull = replace(PULL, load=load, mass=mass, tank=tank, travel=travel)
    went = release(pull)
    assert air_energy_error(went, pull) < 1e-6
    slow = replace(pull, adiabatic=False)
    assert air_mass_error(release(slow), slow) < 1e-6


def test_the_balances_see_a_leak() -> None:
    went = release(PULL)
    assert air_energy_error(went, replace(PULL, load=PULL.load + 50.0)) > 1e-3
    slow = replace(PULL, adiabatic=False)
    assert air_mass_error(release(slow), replace(slow, tank=1.01 * slow.tank)) > 1e-3


def test_first_the_pull_then_the_travel() -> None:
    went = release(PULL)
    assert 0.0 < went.pull_time < went.release_time < inf
    at_pull = np.searchsorted(went.time, went.pull_time)
    assert went.chamber[at_pull] == pytest.approx(PULL.needed_pressure, rel=1e-6)
    assert went.position[-1] == pytest.approx(PULL.travel)
    assert went.supply[-1] < PULL.supply
    regulated = release(replace(PULL, tank=inf))
    assert (regulated.supply == PULL.supply).all()
    assert regulated.release_time < went.release_time


@pytest.mark.parametrize(
    "change", [{"load": 600.0}, {"supply": 1.5e5}, {"load": 500.0, "tank": 1e-4}]
)
def test_too_little_air_never_pulls(change: dict[str, float]) -> None:
    went = release(replace(PULL, **change))  # type: ignore[arg-type]
    assert went.release_time == inf


def test_a_small_tank_may_pull_and_not_finish() -> None:
    """It reaches the pull, but the swept volume lets the pressure fall and the piston stops."""
    went = release(replace(PULL, load=300.0, tank=2e-4, travel=0.5, supply=8e5))
    assert went.pull_time < inf
    assert went.release_time == inf


def test_seals_hose_and_volume_cost_time() -> None:
    plain = release(PULL).release_time
    assert release(replace(PULL, seal_friction=80.0)).release_time > plain
    assert release(replace(PULL, dead_volume=3e-4)).release_time > plain
    assert release(replace(PULL, path=in_series(VALVE, hose(0.004, 10.0)))).release_time > plain
    assert release(replace(PULL, valve_delay=0.02)).release_time == pytest.approx(plain + 0.02)


def test_releases_of_a_tank() -> None:
    once = {"volume": 1e-4, "dead_volume": 5e-5}
    assert releases_in_tank(5e-3, 8e5, 9e5, **once) == 0
    assert releases_in_tank(0.0, 8e5, 3e5, **once) == 0
    blow_down = releases_in_tank(5e-3, 8e5, 4e5, **once)
    held = releases_in_tank(5e-3, 8e5, 4e5, **once, regulated=4e5)
    assert held > blow_down > 10
    used = 4e5 * 1e-4 - ATMOSPHERE * 5e-5  # Pa m^3 a release
    assert held == int((8e5 - 4e5) * 5e-3 / used)
    assert releases_in_tank(1e-2, 8e5, 4e5, **once) > 2 * blow_down - 2


def test_a_longer_hose_delays_the_release_of_a_scenario(trap: Trap) -> None:
    def delay(**keys: str) -> float:
        latch = {"kind": "pin", "puller": "air cylinder", **keys}
        return setup.solve(trap(latch=latch)).openings[0].release_delay.median()

    assert delay(hose_length="40 ft") > delay(hose_length="4 ft") > 0.015
    assert delay(conductance="4 L/(s*bar)") < delay(conductance="0.3 L/(s*bar)")


def test_a_tank_in_a_scenario(trap: Trap) -> None:
    def solved(**keys: str) -> setup.OpeningSetup:
        latch = {"kind": "pin", "puller": "air cylinder", **keys}
        return setup.solve(trap(latch=latch)).openings[0]

    endless, small = solved(), solved(tank="0.3 L")
    assert small.release_delay.median() > endless.release_delay.median()
    assert "full tank" not in endless.pull.recharge
    few, many = (solved(tank=volume).pull.recharge for volume in ("2 L", "20 L"))
    assert 0 < said(few) < said(many)
    held = solved(tank="2 L", tank_pressure="140 psi")
    assert said(held.pull.recharge) > 0
    assert held.release_delay.median() == pytest.approx(endless.release_delay.median())
    assert said(solved(tank="2 L", pressure="20 psi").pull.recharge) == 0
    with pytest.raises(ScenarioError, match="needs the tank's volume"):
        solved(tank_pressure="140 psi")
    with pytest.raises(ScenarioError, match="below the pressure that the regulator holds"):
        solved(tank="2 L", tank_pressure="50 psi")


def said(recharge: str) -> int:
    """The number of releases in the words."""
    return int(recharge.split("air for ")[1].split()[0])
