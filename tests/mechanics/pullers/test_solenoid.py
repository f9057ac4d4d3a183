"""The solenoid: circuit, saturation, plunger motion, and what a scenario makes of it."""

from collections.abc import Callable
from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.balances import coil_energy_error
from soundergate.mechanics import setup
from soundergate.mechanics.pullers.coil import MU0, Coil, cable_resistance, copper_resistance
from soundergate.mechanics.pullers.solenoid import (
    Circuit,
    coil_of,
    pull_in,
    rise_time,
    stated_response,
)
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
COIL = Coil(1000, 3e-4, 8e-3, 0.1, 12.0, 2.0)
LBF = 4.4482216152605


def test_current_is_volts_over_the_whole_circuit() -> None:
    coil = replace(COIL, temperature=333.15, outside=0.4)
    assert coil.current == pytest.approx(12.0 / (copper_resistance(2.0, 333.15) + 0.4))
    assert cable_resistance(20.0, 14) == pytest.approx(2.0 * cable_resistance(10.0, 14))


def gap_force(ampere_turns: float, area: float, gap: float) -> float:
    """Pull (N) with ideal iron, (N i)^2 mu0 A / (2 g^2)."""
    return ampere_turns**2 * MU0 * area / (2.0 * gap * gap)


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
        assert coil_energy_error(went, coil, load, spring) < 1e-6
    assert (went.time < inf) or went.stalled or coil.pull() <= load


def test_energy_balance_sees_a_wrong_load() -> None:
    assert coil_energy_error(pull_in(COIL, 20.0, 6e-3), COIL, 25.0) > 1e-3


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
    assert opening.pull.stroke == pytest.approx(0.0127)
    assert opening.release_probability == 0.0  # the lever asks two inches
    table["gap"] = "2 in"
    (opening,) = setup.solve(trap(latch=table)).openings
    # The cable by the wire table: 16 AWG has 4.016 ohm in 1000 ft at 20 degrees C, 10 ft there and
    # back. The coil has 2 ohm cold and 2.1572 ohm at 40 degrees C.
    outside = 2 * 10 * 4.016e-3 + 0.03 + 0.05
    left = (2.0 / (2.0 * (1 + 0.00393 * 20) + outside)) ** 2
    assert opening.pull_available == pytest.approx(0.9 * 25.0 * LBF * left, rel=1e-3)
    said = " ".join(opening.notes)
    assert "at 12 V, with a cold coil" in said
    assert "90 % is counted on" in said
    assert "that share is assumed" in said
    assert 0.01 < opening.release_delay.median() < 0.1
    (slow,) = setup.solve(trap(latch={**table, "delay": "0.4 s"})).openings
    assert slow.release_delay.median() == pytest.approx(0.4)
    (none,) = setup.solve(trap(latch={**table, "pull": "0 lbf"})).openings
    assert none.release_probability == 0.0


def test_a_long_thin_cable_is_worth_a_word(trap: Trap) -> None:
    table = {"kind": "pin", "puller": "solenoid", "wire_length": "100 ft", "wire_gauge": 20}
    (opening,) = setup.solve(trap(latch=table)).openings
    assert any("thicker or shorter cable gives more" in note for note in opening.notes)
    (near,) = setup.solve(trap(latch={"kind": "pin", "puller": "solenoid"})).openings
    assert not any("thicker or shorter" in note for note in near.notes)


def test_a_long_thin_cable_leaves_a_stated_pull_a_sixth(trap: Trap) -> None:
    """100 ft of 22 AWG (16.14 ohm in 1000 ft, wire table): 3.228 ohm there and back.

    i / i0 = 2 / (2.157 + 3.228 + 0.08); its square is 0.134.
    """
    table = {"kind": "pin", "puller": "solenoid", "pull": "25 lbf", "supply": 1.0}
    (opening,) = setup.solve(
        trap(latch={**table, "wire_length": "100 ft", "wire_gauge": 22})
    ).openings
    assert opening.pull_available / (25 * LBF) == pytest.approx(0.134, abs=5e-4)
    assert opening.release_probability < 0.001


def test_a_stated_pull_follows_volts_circuit_and_gap(trap: Trap) -> None:
    """Each key that takes volts from the coil takes pull; more than rated is not counted on."""

    def there(**keys: object) -> float:
        latch = {"kind": "pin", "puller": "solenoid", "pull": "25 lbf", "engaged": "0.1 in", **keys}
        (opening,) = setup.solve(trap(latch=latch)).openings
        return opening.pull_available

    usual = there()
    for worse in (
        {"volts": "11 V"}, {"wire_length": "40 ft"}, {"wire_gauge": 18},
        {"battery_resistance": "0.2 ohm"}, {"relay_resistance": "0.2 ohm"},
        {"temperature": "80 degC"}, {"supply": 0.8}, {"rated_volts": "13 V"},
        {"lever": 8, "stroke": "2 in"},
    ):  # fmt: skip
        assert there(**worse) < usual, worse
    assert there(volts="6 V") == pytest.approx(usual / 4.0)
    assert there(volts="24 V") == pytest.approx(usual)  # a 24 V coil, unless the file says other
    most = 0.9 * 25 * LBF
    assert there(volts="24 V", rated_volts="12 V") == pytest.approx(most)
    assert there(temperature="-10 degC", wire_length="0 ft", volts="16 V", rated_volts="12 V") == (
        pytest.approx(most)
    )
    # Twice and more the gap: (0.5 in + r)^2 / (0.8 in + r)^2 with r = 0.3 mm.
    far = ((12.7 + 0.3) / (20.32 + 0.3)) ** 2
    assert there(lever=8, stroke="2 in") == pytest.approx(usual * far)


def test_a_stated_pull_and_its_coil_agree(trap: Trap) -> None:
    """A coil of known turns, and the pull that its maker would state for it: the same pull further
    out and through a cable, within what saturation at the stated gap makes it better."""
    circuit = {"wire_length": "60 ft", "wire_gauge": 18, "stroke": "25 mm", "gap": "10 mm"}
    latch = {"kind": "pin", "puller": "solenoid", "lever": 2, "engaged": "12 mm", **circuit}
    wound = {**latch, "turns": 1500, "plunger_area": "6 cm^2"}
    maker = Coil(1500, 6e-4, 10e-3, 0.2, 12.0, 2.0)
    stated = {**latch, "pull": f"{maker.pull()!r} N"}
    coil, plain = (setup.solve(trap(latch=table)).openings[0] for table in (wound, stated))
    assert plain.pull_available == pytest.approx(coil.pull_available, rel=0.03)
    assert plain.pull_available <= coil.pull_available
    assert coil.pull_available < 0.2 * 0.9 * maker.pull()


def test_a_stroke_below_the_gap_of_the_stated_pull_is_refused(trap: Trap) -> None:
    with pytest.raises(ScenarioError, match=r"latch\.stroke.*shorter than the gap"):
        trap(latch={"puller": "solenoid", "gap": "1 in", "stroke": "0.5 in"})


def test_the_time_constant_is_that_of_the_whole_circuit() -> None:
    """40 mH over 2 + 3 ohm: 8 ms; the coil alone would give 20 ms."""
    circuit = Circuit(volts=12.0, coil=2.0, cold=2.0, outside=3.0, rated=12.0)
    assert circuit.time_constant(0.040) == pytest.approx(0.008)
    assert circuit.current == pytest.approx(2.4)
    assert circuit.coil_volts == pytest.approx(4.8)
    assert circuit.pull_share == pytest.approx(0.16)


def test_a_long_cable_lets_the_current_rise_sooner(trap: Trap) -> None:
    """In a scenario: time from -L/R ln(1 - sqrt(load / pull)) and the travel under the spare pull,
    worked here from the wire table (16 AWG, 4.016 ohm in 1000 ft)."""
    latch = {"kind": "pin", "puller": "solenoid", "pull": "60 lbf", "friction": 0.2, "supply": 1.0,
             "relay": "0 s", "temperature": "20 degC", "wire_length": "50 ft"}  # fmt: skip
    (opening,) = setup.solve(trap(latch=latch)).openings
    resistance = 2.0 + 0.03 + 0.05 + 2 * 50 * 4.016e-3
    pull = 60 * LBF * (2.0 / resistance) ** 2
    load = 2 * 0.2 * opening.holding_load
    rise = -0.040 / resistance * np.log(1 - sqrt(load / pull))
    moves = sqrt(2 * 0.0127 * 0.5 * 0.45359237 / (pull - load))
    assert opening.release_delay.median() == pytest.approx(rise + moves, rel=2e-3)


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


def test_a_battery_that_gives_all_is_not_called_tired(trap: Trap) -> None:
    for supply, tires in ((1.0, False), (0.99, True)):
        table = {"kind": "pin", "puller": "solenoid", "pull": "25 lbf", "supply": supply}
        (opening,) = setup.solve(trap(latch=table)).openings
        assert any("a battery tires" in note for note in opening.notes) is tires
