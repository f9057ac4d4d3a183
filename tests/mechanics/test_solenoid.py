"""The solenoid: circuit, saturation, plunger motion, and what a scenario makes of it."""

from collections.abc import Callable
from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.coil import (
    Coil,
    cable_resistance,
    copper_resistance,
    gap_force,
)
from soundergate.mechanics.solenoid import (
    coil_of,
    pull_in,
    rise_time,
    stated_response,
)
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
COIL = Coil(1000, 3e-4, 8e-3, 0.1, 12.0, 2.0)
LBF = 4.4482216152605


def test_current_is_volts_over_the_whole_circuit() -> None:
    coil = replace(COIL, temperature=333.15, outside=0.4)
    assert coil.current == pytest.approx(12.0 / (copper_resistance(2.0, 333.15) + 0.4))
    assert cable_resistance(20.0, 14) == pytest.approx(2.0 * cable_resistance(10.0, 14))


def test_pull_rises_as_the_gap_closes_and_iron_limits_it() -> None:
    gaps = np.linspace(COIL.gap, 0.0, 30)
    pulls = [COIL.pull(gap) for gap in gaps]
    assert (np.diff(pulls) > 0.0).all()
    ideal = gap_force(COIL.turns * COIL.current, COIL.area, COIL.gap + COIL.residual_gap)
    assert pulls[0] < ideal
    assert pulls[0] == pytest.approx(ideal, rel=0.01)  # no saturation across the open gap
    assert pulls[-1] < 0.01 * gap_force(6000.0, COIL.area, COIL.residual_gap)


@settings(max_examples=30, deadline=None)
@given(st.floats(3.0, 24.0), st.floats(0.0, 60.0), st.floats(0.0, 8000.0), st.floats(1e-3, 8e-3))
def test_energy_balance(volts: float, load: float, spring: float, travel: float) -> None:
    coil = replace(COIL, volts=volts)
    went = pull_in(coil, load, travel, spring)
    if went.time < inf or went.stalled:
        assert went.energy_error(coil, load, spring) < 1e-6
    assert (went.time < inf) or went.stalled or coil.pull() <= load


def test_energy_balance_sees_a_wrong_load() -> None:
    assert pull_in(COIL, 20.0, 6e-3).energy_error(COIL, 25.0) > 1e-3


def test_more_load_takes_longer_and_too_much_is_never_pulled() -> None:
    times = [pull_in(COIL, load, 6e-3).time for load in (0.0, 20.0, 60.0, 90.0)]
    assert (np.diff(times) > 0.0).all()
    assert pull_in(COIL, 1.01 * COIL.pull(), 6e-3).time == inf
    assert pull_in(COIL, 1.01 * COIL.pull(), 6e-3).response == inf


def test_a_moving_plunger_dips_the_current() -> None:
    """The voltage of motion eats into the rise: the current falls while the plunger runs."""
    went = pull_in(COIL, 20.0, 7e-3)
    moving = went.current[went.position > 1e-4]
    assert moving[-1] < 0.6 * moving.max()


def test_a_stiff_spring_stalls_it_and_travel_beyond_the_gap_is_never_done() -> None:
    weak = replace(COIL, volts=4.0)
    stalled = pull_in(weak, 8.0, 6e-3, spring_rate=10000.0)
    assert stalled.stalled
    assert stalled.time == inf
    assert stalled.response < inf
    assert 0.0 < stalled.position[-1] < 6e-3
    assert pull_in(COIL, 20.0, 9e-3).time == inf


def test_a_dead_battery_pulls_nothing() -> None:
    dead = replace(COIL, volts=0.0)
    assert dead.pull() == 0.0
    assert pull_in(dead, 1.0, 1e-3).time == inf


def test_stated_response() -> None:
    """Half the current gives a quarter of the pull, after tau ln 2."""
    still = stated_response(100.0, 25.0, 0.02, 0.0, 0.01)
    assert still == pytest.approx(rise_time(0.02, 0.5))
    moving = stated_response(100.0, 25.0, 0.02, 0.3, 0.01) - still
    assert 0.5 * (75.0 / 0.3) * moving**2 == pytest.approx(0.01)
    assert stated_response(100.0, 100.0, 0.02, 0.1, 0.01) == inf


def test_a_stated_pull_in_a_scenario(trap: Trap) -> None:
    table = {"kind": "pin", "puller": "solenoid", "pull": "25 lbf", "lever": 4, "supply": 0.9}
    (opening,) = setup.solve(trap(latch=table)).openings
    assert opening.pull_available == pytest.approx(0.9 * 25.0 * LBF)
    assert opening.pull.stroke == inf
    assert any("write its stroke as gap" in note for note in opening.notes)
    assert 0.01 < opening.release_delay.median() < 0.1
    (short,) = setup.solve(trap(latch={**table, "gap": "0.5 in"})).openings
    assert short.release_probability == 0.0  # the lever asks two inches
    (slow,) = setup.solve(trap(latch={**table, "delay": "0.4 s"})).openings
    assert slow.release_delay.median() == pytest.approx(0.4)
    (none,) = setup.solve(trap(latch={**table, "pull": "0 lbf"})).openings
    assert none.release_probability == 0.0


def test_a_long_thin_cable_is_worth_a_word(trap: Trap) -> None:
    table = {"kind": "pin", "puller": "solenoid", "wire_length": "100 ft", "wire_gauge": 20}
    (opening,) = setup.solve(trap(latch=table)).openings
    assert any("cable and battery leave" in note for note in opening.notes)


def test_a_coil_in_a_scenario(trap: Trap) -> None:
    table = {"kind": "knee", "puller": "solenoid", "turns": 1000, "plunger_area": "3 cm^2"}
    table |= {"gap": "20 mm", "over_centre": "1 deg", "supply": 0.8}  # type: ignore[dict-item]
    scenario = trap({"kind": "top-hinged"}, table)
    coil = coil_of(scenario.opening[0].latch)
    (opening,) = setup.solve(scenario).openings
    assert opening.pull_available == pytest.approx(0.8 * coil.pull())
    assert opening.pull.stroke == pytest.approx(0.02)
    sagged = replace(coil, volts=12.0 * sqrt(0.8))
    expected = pull_in(
        sagged, min(opening.pull_required, 0.95 * sagged.pull()), opening.trip_travel
    )
    assert opening.release_delay.median() == pytest.approx(0.01 + expected.time, rel=1e-6)
    default = trap(latch={"puller": "solenoid", "turns": 1000, "plunger_area": "3 cm^2"})
    assert default.opening[0].latch.gap == pytest.approx(0.0127)


def test_too_weak_a_coil_still_has_a_time(trap: Trap) -> None:
    table = {"puller": "solenoid", "turns": 200, "plunger_area": "1 cm^2"}
    (opening,) = setup.solve(trap(latch=table)).openings
    assert opening.margin < 0.1
    assert 0.0 < opening.release_delay.median() < 1.0
