"""From a scenario to its solved openings, solved no more often than the steel changes."""

from collections.abc import Callable
from math import inf, isnan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soundergate.mechanics import setup
from soundergate.mechanics.latches.release_probability import probability
from soundergate.mechanics.materials import gate_mass
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table, with_values
from soundergate.scenario.schema import Scenario

Trap = Callable[..., Scenario]
ANIMAL = {"kind": "pin", "puller": "animal"}


def misses() -> int:
    return setup._solve_opening.cache_info().misses


def test_the_numbers_of_a_plain_trap(trap: Trap) -> None:
    scenario = trap()
    (opening,) = setup.solve(scenario).openings
    mass = 3.125 * 4 * 3 * 0.45359237
    mu = scenario.opening[0].latch.friction.median
    assert opening.mass == pytest.approx(mass)
    assert opening.holding_load == pytest.approx(mass * GRAVITY)
    assert opening.pull_required == pytest.approx(2.0 * mu * mass * GRAVITY)
    assert opening.margin == pytest.approx(opening.pull_available / opening.pull_required)
    plain = probability(
        LogNormal(opening.pull_required, opening.pull_required_sigma),
        LogNormal(opening.pull_available, opening.pull_available_sigma),
    )
    # The seals' drag does not scatter with the supply, which weakens the low tail a little.
    assert plain - 1e-5 < opening.release_probability < plain
    assert (opening.gate_kind, opening.latch_kind, opening.puller) == (
        "drop", "pin", "air cylinder"
    )  # fmt: skip
    assert opening.locked
    assert not opening.jams


def test_behaviour_never_re_solves_steel(trap: Trap) -> None:
    setup._solve_opening.cache_clear()
    scenario = trap()
    first = setup.solve(scenario)
    assert misses() == 1
    for change in (
        {"sounder.sows": 6},
        {"sounder.boars": 2},
        {"entry.clock": "99 s"},
        {"trigger.height": "22 in"},
        {"corral.diameter": "30 ft"},
        {"corral.bait_distance": "9 ft"},
        {"opening.bearing": "40 deg"},
        {"opening.gate.lock_fails": 0.5},
        {"opening.gate.late_entry": 0.5},
        {"holding.gate_clock": "9 s"},
        {"startle.bolt_share": 0.9},
        {"title": "another night"},
    ):
        assert setup.solve(with_values(scenario, change)).openings == first.openings
    assert misses() == 1
    setup.solve(with_values(scenario, {"opening.width": "5 ft"}))
    setup.solve(with_values(scenario, {"opening.latch.pressure": "80 psi"}))
    assert misses() == 3


def test_openings_alike_share_one_solution(trap: Trap) -> None:
    setup._solve_opening.cache_clear()
    pair = setup.solve(trap(openings=2)).openings
    assert len(pair) == 2
    assert pair[0] is pair[1]
    assert misses() == 1


def test_who_comes_matters_only_where_an_animal_pulls(trap: Trap) -> None:
    scenario = trap(latch=ANIMAL)
    before = setup.solve(scenario).openings[0]
    after = setup.solve(with_values(scenario, {"sounder.sows": 0})).openings[0]
    assert before.release_probability > after.release_probability
    assert before.pull_available == 0.0
    assert isnan(before.margin)


def test_a_lever_trades_force_for_travel(trap: Trap) -> None:
    plain = setup.solve(trap()).openings[0]
    levered = setup.solve(
        trap(latch={"kind": "pin", "puller": "air cylinder", "lever": 4})
    ).openings[0]
    assert levered.pull_required == pytest.approx(plain.pull_required / 4)
    assert levered.trip_travel == pytest.approx(plain.trip_travel * 4)
    assert levered.margin == pytest.approx(4 * plain.margin)


def test_a_lever_that_leaves_too_little_travel_releases_nothing(trap: Trap) -> None:
    table = {"kind": "pin", "puller": "air cylinder", "stroke": "3 in", "engaged": "0.5 in"}
    just = setup.solve(trap(latch={**table, "lever": 6})).openings[0]
    short = setup.solve(trap(latch={**table, "lever": 6.1})).openings[0]
    assert just.release_probability > 0.99
    assert short.release_probability == 0.0


def test_a_jam_is_a_result(trap: Trap) -> None:
    jammed = setup.solve(trap(gate={"kind": "drop", "drag": "60 lbf"})).openings[0]
    assert jammed.jams
    assert jammed.curve.shut_time == inf
    assert jammed.hang_probability > 0.5


@given(width=st.floats(1.0, 12.0), wider=st.floats(1.02, 1.6))
@settings(deadline=None, max_examples=25)
def test_load_and_pull_rise_with_width(trap: Trap, width: float, wider: float) -> None:
    narrow = setup.solve(trap(width=f"{width} ft")).openings[0]
    wide = setup.solve(trap(width=f"{width * wider} ft")).openings[0]
    assert narrow.holding_load < wide.holding_load
    assert narrow.pull_required < wide.pull_required
    assert narrow.margin > wide.margin
    assert narrow.set_weight < wide.set_weight


@pytest.mark.parametrize(
    ("gate", "kg"),
    [
        ({"mass": "30 kg"}, 30.0),
        ({"sheet": "14 gauge", "galvanized": True}, 3.281 * 12 * 0.45359237),
        ({"sheet": "2 mm"}, 15.7 * 1.2192 * 0.9144),
        ({"plywood": "0.75 in"}, 2.25 * 12 * 0.45359237),
        ({"mesh": "4 kg/m^2"}, 4.0 * 1.2192 * 0.9144),
        ({"mesh": "4 gauge 100x100 mm"}, 4.0387 * 1.2192 * 0.9144),
        (
            {"plywood": "0.75 in", "frame": "2x4 lumber"},
            (2.25 * 12 + 14 * 1.5 * 3.5 / 144 * 35) * 0.45359237,
        ),
        ({"sheet": "14 gauge", "frame": "2 kg/m"}, 3.125 * 12 * 0.45359237 + 2 * 14 * 0.3048),
    ],
)
def test_gate_mass_from_its_materials(trap: Trap, gate: dict, kg: float) -> None:
    scenario = trap(gate={"kind": "drop", **gate})
    opening = scenario.opening[0]
    assert gate_mass(opening.gate, opening.width, opening.height) == pytest.approx(kg, rel=2e-4)


@pytest.mark.parametrize(
    ("gate", "key", "word"),
    [
        ({"sheet": "21 gauge"}, "opening.1.gate.sheet", "no sheet gauge"),
        ({"mesh": "1 gauge 2x4 in"}, "opening.1.gate.mesh", "unknown wire gauge"),
        ({"frame": "9x9 lumber"}, "opening.1.gate.frame", "no known lumber"),
    ],
)
def test_unknown_materials_are_named(trap: Trap, gate: dict, key: str, word: str) -> None:
    scenario = trap(gate={"kind": "drop", **gate})
    with pytest.raises(ScenarioError, match=word) as caught:
        setup.solve(scenario)
    assert caught.value.key == key
    assert caught.value.value == next(iter(gate.values()))


def test_a_resolved_scenario_solves_the_same(trap: Trap) -> None:
    scenario = trap()
    again = from_table(scenario.resolved())
    assert setup.solve(again).openings[0].pull_required == pytest.approx(
        setup.solve(scenario).openings[0].pull_required, rel=1e-15
    )
    assert setup.solve(again).openings[0].curve.time == pytest.approx(
        setup.solve(scenario).openings[0].curve.time
    )
