"""A trip line: what the engines read of it, and what it asks of an animal typically."""

from __future__ import annotations

import math

import pytest

from soundergate.mechanics import trip_line
from soundergate.mechanics.pullers.animal import hung
from soundergate.mechanics.setup import solve
from soundergate.triggers import line as lines

BY_PIGS = {"kind": "pin", "puller": "animal"}
BY_AIR = {"kind": "pin", "puller": "air cylinder"}
WAY = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop"}}


@pytest.fixture
def scenario(scenario_of):
    def made(latch=BY_AIR, ways=1, **line):
        return scenario_of(
            {
                "sounder": {"sows": 2},
                "corral": {"diameter": "8 m", "bait_distance": "5 m"},
                "opening": [{**WAY, "latch": latch}] * ways,
                "trigger": {"kind": "line", **line},
            }
        )

    return made


# ---- what the engines read -----------------------------------------------------------------


def test_before_and_beyond_the_bait(scenario) -> None:
    """Whether one who comes to the bait by the first opening has to pass the line."""
    for distance, beyond in (("3 m", False), ("4.9 m", False), ("5.1 m", True), ("7 m", True)):
        given_ = scenario(distance=distance)
        assert lines.line_work(given_.trigger, given_, solve(given_)).beyond is beyond


def test_its_ends_are_read_from_the_plan(scenario) -> None:
    given_ = scenario(distance="3 m", span="2 m")
    row = lines.row(given_.trigger, given_, solve(given_))
    ends = [row[name] for name in ("line_ax", "line_ay", "line_bx", "line_by")]
    assert ends == pytest.approx([1.0, 1.0, -1.0, 1.0])


def test_a_powered_latch_needs_only_a_switch(scenario) -> None:
    given_ = scenario(switch_force="3 lbf")
    work = lines.line_work(given_.trigger, given_, solve(given_))
    assert work.switch
    assert lines.row(given_.trigger, given_, solve(given_))["switch_force"] == pytest.approx(
        3 * 4.4482216152605, rel=1e-12
    )


def test_an_animal_pulls_the_latch_itself(scenario) -> None:
    """The push for the latch's typical need is the one of the statics, bends included."""
    given_ = scenario(latch=BY_PIGS, tension="1 lbf")
    setup = solve(given_)
    work, line = lines.line_work(given_.trigger, given_, setup), given_.trigger
    need, travel = setup.openings[0].pull_required, setup.openings[0].trip_travel
    tension = need / math.exp(-0.3 * math.pi)
    assert not work.switch
    assert work.push == pytest.approx(
        trip_line.push_for(tension, line.tension, line.slack + travel, line.stiffness, line.span)
    )
    assert lines.row(given_.trigger, given_, setup)["switch_force"] == -1.0


def test_the_hardest_latch_is_what_a_line_is_drawn_for(scenario, scenario_of) -> None:
    one = scenario(latch=BY_PIGS)
    ways = [{**WAY, "latch": {**BY_PIGS, "lever": ratio}} for ratio in (1, 4)]
    two = scenario_of(one.raw, opening=ways)
    setup = solve(two)
    work = lines.line_work(two.trigger, two, setup)
    pushes = [
        lines.push_on_latch(two.trigger, o.pull_required, o.trip_travel) for o in setup.openings
    ]
    assert work.push == max(pushes) > min(pushes)


def test_typical_limits_of_a_line(scenario) -> None:
    """It breaks where a latch needs more than its strength leaves after the bends; its own tension
    is enough where that needs less."""
    line = scenario(break_force="100 N", tension="20 N", bends=2, friction=0.3).trigger
    left = math.exp(-0.3 * math.pi)
    assert lines.push_on_latch(line, 100.1 * left, 0.01) == math.inf
    assert 0.0 < lines.push_on_latch(line, 99.9 * left, 0.01) < math.inf
    assert lines.push_on_latch(line, 19.9 * left, 0.01) == 0.0


def test_a_switch_is_set_on_the_hung_line(scenario) -> None:
    """Its force comes on top of the tension: a tight line takes more push, but never none."""
    pushes = [lines.push_on_switch(scenario(tension=f"{t} lbf").trigger) for t in (1, 5, 20)]
    assert 0.0 < pushes[0] < pushes[1] < pushes[2]


def test_what_the_engines_read_is_what_check_reads(scenario) -> None:
    """One line, two rooms: `mechanics.pullers.animal.hung` and the row of the night plan."""
    given_ = scenario(latch=BY_PIGS, friction={"median": 0.25, "sigma": 0.4}, bends=3)
    row = lines.row(given_.trigger, given_, solve(given_))
    met = hung(given_.trigger)
    told = {
        "line_height": met.height,
        "line_span": met.span,
        "line_tension": met.hung,
        "line_slack": met.slack,
        "line_stiffness": met.stiffness,
        "line_turn": met.turn,
        "friction_sigma": met.friction.sigma,
        "break_force": met.break_force,
    }
    assert {name: row[name] for name in told} == told
    assert math.exp(row["friction_mu"]) == pytest.approx(met.friction.median, rel=1e-12)


def test_a_line_that_does_not_rub_has_no_turn(scenario) -> None:
    given_ = scenario(latch=BY_PIGS, friction=0, bends=3)
    assert lines.row(given_.trigger, given_, solve(given_))["line_turn"] == 0.0
