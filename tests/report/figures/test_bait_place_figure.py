"""The place of the bait: the picture tells the race that the nights play."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from soundergate.engine import play
from soundergate.engine.rules.clocks import look_up
from soundergate.mechanics.setup import solve
from soundergate.report.figures.bait_place import bait_place_figure, bolters
from soundergate.report.words.plan_words import bait_from
from soundergate.scenario import examples
from soundergate.scenario.loading import loads, with_values
from soundergate.scenario.unit_system import US

SLOW = {"kind": "top-hinged", "sheet": "14 gauge", "set_angle": "170 deg"}


def race(distance: str, **tables: object) -> dict[str, object]:
    """One juvenile at the bait when a person lets a slow gate go; it always bolts."""
    return {
        "sounder": {"juveniles": 1},
        "corral": {"diameter": "30 ft", "bait_distance": distance, "panel_height": "20 ft"},
        "opening": [{"width": "4 ft", "height": "3 ft", "gate": SLOW,
                     "latch": {"puller": "solenoid", "pull": "2000 lbf"}}],
        "trigger": {"kind": "person", "link": "radio", "count": 1, "reaction": {"fixed": "60 s"},
                    "alert": "0 s", "awake": 1, "undercount": 0, "overcount": 0,
                    "infrared_range": "100 ft"},
        "entry": {"shy_share": 0},
        "leaving": {"clock": "never"},
        "bait": {"radius": "0 ft"},
        "movement": {"roam": "never"},
        "visit": {"patience": "never"},
        "startle": {"bolt_share": 1},
        "strike": {"out_share": 0},
        "holding": {"try_clock": "never", "climb_clock": "never", "root_clock": "never"},
        **tables,
    }  # fmt: skip


@pytest.mark.parametrize("distance", ["1 ft", "3 ft", "4 ft"])
def test_the_share_out_is_that_of_the_nights(distance, scenario_of, plan_of) -> None:
    """4,000 nights; a false alarm once in 10,000."""
    scenario = scenario_of(race(distance))
    (bolter,) = bolters(scenario, 0, solve(scenario).openings[0])
    nights = play(plan_of(scenario), 5, 0, 4000)
    inside = nights["inside_at_release"] == 1
    assert inside.mean() > 0.9
    out = int((nights["escaped_during"][inside] == 1).sum())
    share = bolter.out_in_time(bait_from(scenario, 0))
    assert 0.02 < share < 0.98
    assert binomtest(out, int(inside.sum()), share).pvalue > 1e-4
    for wrong in (share - 0.08, share + 0.08):
        assert binomtest(out, int(inside.sum()), min(max(wrong, 0.0), 1.0)).pvalue < 1e-4


def test_its_numbers_are_those_of_the_plan(scenario_of, plan_of) -> None:
    for gate in (SLOW, {"kind": "side-hinged"}):
        table = race("9 ft")
        table["opening"] = [table["opening"][0] | {"gate": gate}]  # type: ignore[index]
        scenario, plan = scenario_of(table), plan_of(table)
        solved = solve(scenario).openings[0]
        (bolter,) = bolters(scenario, 0, solved)
        assert bolter.speed == plan.behaviour[0].bolt_speed
        b, body = plan.behaviour[0], scenario.body
        scale = np.exp(body.exponent * plan.mass[0, 0])
        need = (
            b.shoulder_coefficient if solved.curve.measure == "gap" else b.back_coefficient * b.duck
        )
        until = look_up(plan.close_time[0], need * scale / plan.openings[0].clearance)
        assert np.median(bolter.passable) == pytest.approx(until, rel=0.01)


def test_far_bait_holds_more_and_the_words_say_so(scenario_of) -> None:
    shares = []
    for distance in ("1 ft", "5 ft", "9 ft", "20 ft"):
        scenario = scenario_of(race(distance))
        solved = solve(scenario).openings[0]
        (bolter,) = bolters(scenario, 0, solved)
        shares.append(bolter.out_in_time(bait_from(scenario, 0)))
        figure, words = bait_place_figure(scenario, 0, solved, US)
        assert f"{distance} from the opening" in words
        here = float(distance.split()[0])
        marked = [
            line.get_xdata()[0] for line in figure.axes[0].lines if line.get_linestyle() == ":"
        ]
        assert marked == [pytest.approx(here)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.5
    assert shares[-1] < 0.01


def test_a_gate_that_jams_lets_all_out(scenario_of) -> None:
    table = race("20 ft")
    stuck = {"kind": "drop", "drag": "200 lbf"}
    table["opening"] = [table["opening"][0] | {"gate": stuck}]  # type: ignore[index]
    scenario = scenario_of(table)
    _, words = bait_place_figure(scenario, 0, solve(scenario).openings[0], US)
    assert "over 99.9 % of juveniles" in words


def test_openings_that_differ_have_their_own_pictures() -> None:
    from soundergate.report.figures.triggers.of_trap import trigger_figures

    scenario = loads(examples.text("watch"), "watch")
    assert list(trigger_figures(scenario, solve(scenario)))[1:] == ["bait place", "bait place 2"]
    alike = loads(examples.text("twin"), "twin")
    names = [name for name in trigger_figures(alike, solve(alike)) if name.startswith("bait")]
    middle = with_values(alike, {"corral.bait_distance": "16 ft"})  # half way between its two
    fewer = [name for name in trigger_figures(middle, solve(middle)) if name.startswith("bait")]
    assert (len(names), len(fewer)) == (2, 1)
