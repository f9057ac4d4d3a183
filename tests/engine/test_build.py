"""From a scenario to the plan that engines read: what stands where, and what cannot be played."""

from __future__ import annotations

import math

import numpy as np
import pytest

from soundergate.engine import codes as k
from soundergate.engine import play
from soundergate.mechanics.setup import solve
from soundergate.scenario.errors import ScenarioError

AIR = {"kind": "pin", "puller": "air cylinder"}


def way(width: str = "4 ft", latch: dict | None = None, **gate) -> dict:
    return {
        "width": width,
        "height": "3 ft",
        "gate": {"kind": "drop", **gate},
        "latch": latch or AIR,
    }


def test_the_opening_nearest_to_the_way_is_taken_and_not_the_widest(base_table, plan_of) -> None:
    plan = plan_of(
        base_table,
        opening=[way("3 ft"), way("6 ft"), way("1 ft")],
        arrival={"bearing": "130 deg", "bearing_scatter": "0 deg"},
    )
    np.testing.assert_array_equal(plan.openings["choice"], [0.0, 1.0, 1.0])
    radius = 13 * 0.3048
    np.testing.assert_allclose(plan.openings["x"], radius * np.sin([0, 2.0944, 4.18879]), atol=1e-4)
    np.testing.assert_allclose(plan.openings["y"], radius * np.cos([0, 2.0944, 4.18879]), atol=1e-4)
    np.testing.assert_allclose(plan.openings["width"], [0.9144, 1.8288, 0.3048], rtol=1e-12)


LATCHES = (
    AIR,
    AIR | {"kind": "knee"},
    AIR | {"kind": "finger", "offset": "-0.2 in", "stroke": "6 in"},
)


@pytest.mark.parametrize("latch", LATCHES, ids=["pin", "knee", "finger"])
def test_pulls_are_what_steel_says(base_table, plan_of, scenario_of, latch) -> None:
    table = base_table | {"opening": [way(latch=latch)]}
    solved = solve(scenario_of(table)).openings[0]
    row = plan_of(table).openings[0]
    needed = math.exp(row.need_mu) + row.need_steady
    assert needed == pytest.approx(solved.pull_required, rel=1e-12)
    given = math.exp(row.pull_mu) + row.pull_steady
    assert given == pytest.approx(solved.pull_available, rel=1e-12)
    assert row.pull_steady < 0.0  # the seals
    assert row.need_sigma == solved.required.sigma
    assert row.own_pull == 1


def test_nights_release_as_often_as_check_says(base_table, plan_of, scenario_of) -> None:
    """A finger that slips by itself in a fifth of sets, on air that is hardly enough; 4.5 standard
    errors of the nights (7e-6 false alarms each)."""
    latch = AIR | {
        "kind": "finger", "offset": "-0.2 in", "stroke": "6 in", "pressure": "12.3 psi",
        "friction": {"median": 0.4, "sigma": 0.4}, "seal_loss": "9 psi",
        "supply": {"median": 0.9, "sigma": 0.15},
    }  # fmt: skip
    table = base_table | {
        "opening": [way(latch=latch)],
        "trigger": {"kind": "counter", "count": 1},
    }
    opening = solve(scenario_of(table)).openings[0]
    rows = play(plan_of(table), 7, 0, 20_000)
    slipped = rows["released"] & (rows["release_s"] < 1.0)
    tried = (rows["released"] | rows.failed_release) & ~slipped
    for said, share, nights in (
        (1.0 - opening.hold_probability, slipped.mean(), len(slipped)),
        (opening.release_probability, rows["released"][tried].mean(), int(tried.sum())),
    ):
        assert 0.1 < said < 0.8
        assert nights > 12_000
        assert float(share) == pytest.approx(said, abs=4.5 * (said * (1 - said) / nights) ** 0.5)


def test_a_puller_that_is_too_short_never_frees_the_latch(base_table, plan_of) -> None:
    latch = {**AIR, "stroke": "0.1 in"}  # the pin is engaged by half an inch
    plan = plan_of(base_table, opening=[way(latch=latch)])
    assert plan.openings[0].need_mu == math.inf
    assert not play(plan, 1, 0, 300)["released"].any()


def test_a_frictionless_latch_asks_for_no_pull(base_table, plan_of) -> None:
    plan = plan_of(base_table, opening=[way(latch={**AIR, "friction": 0, "pressure": "0 psi"})])
    assert math.isfinite(plan.openings[0].need_mu)
    assert math.isfinite(plan.openings[0].pull_mu)
    assert play(plan, 1, 0, 300)["released"].any()


def test_a_gate_that_jams_hangs_for_sure(base_table, plan_of) -> None:
    plan = plan_of(base_table, opening=[way("8 ft", mass="10 kg", drag="300 lbf")])
    assert plan.openings[0].hang_probability == 1.0


def test_a_locked_gate_opens_as_one_without_a_lock_where_that_fails(
    base_table, plan_of, scenario_of
) -> None:
    loose = solve(scenario_of(base_table, opening=[way(lock=False)])).openings[0]
    for change, fails in (
        ({"lock": False}, 1.0),
        ({"lock": False, "lock_fails": 0.1}, 1.0),
        ({"lock": True, "lock_fails": 0.1}, 0.1),
        ({"lock": True, "lock_fails": 0}, 0.0),
    ):
        opening = plan_of(base_table, opening=[way(**change)]).openings[0]
        assert opening.exit_force == min(loose.lift_force, loose.pry_force)
        assert opening.lock_fails == fails


def test_bait_marks_are_quarters_in_micrograms(base_table, plan_of) -> None:
    plan = plan_of(base_table, bait={"mass": "8 kg"})
    np.testing.assert_allclose(plan.bait_marks, [2e9, 4e9, 6e9, 8e9], rtol=1e-12)


def test_classes_of_one_speed_share_their_clocks(base_table, plan_of) -> None:
    alike = plan_of(base_table, entry={"leaderless": 1.0})
    assert alike.entry_speed.shape[0] == 1
    assert (alike.tempo_of == 0).all()
    apart = plan_of(base_table, entry={"leaderless": 0.5})
    assert apart.entry_speed.shape[0] == 2
    assert len(set(apart.tempo_of[:2])) == 1  # the sows
    assert len(set(apart.tempo_of[2:])) == 1  # the young
    assert apart.tempo_of[0] != apart.tempo_of[2]


def test_a_duration_left_to_the_engine_is_marked(base_table, plan_of) -> None:
    kinds = plan_of(base_table).duration_kind
    assert kinds[[k.T_CROSS, k.T_TRAVEL]].tolist() == [-1, -1]
    given = plan_of(base_table, movement={"crossing": "2 s", "travel": "3 s"})
    assert given.duration_kind[[k.T_CROSS, k.T_TRAVEL]].tolist() == [k.FIXED, k.FIXED]
    assert given.duration[[k.T_CROSS, k.T_TRAVEL], 0].tolist() == [2.0, 3.0]


def test_rules_of_several_people_are_padded_with_never(base_table, plan_of) -> None:
    rule = [{"after": f"{j} s", "count": 5 - j} for j in range(4)]
    people = [{"kind": "person", "rule": rule}, {"kind": "person", "count": 3}]
    plan = plan_of(base_table, trigger={"any": people})
    assert plan.rule.shape == (2, 4, 3)
    assert (plan.rule[1, 2:] == math.inf).all()
    assert plan.combine_all[0] == 0
    assert plan_of(base_table, trigger={"all": people}).combine_all[0] == 1


ZERO = {"entry": {"clock": "0 s"}, "leaving": {"clock": "0 s", "return_share": 1.0}}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({**ZERO, "movement": {"crossing": "0 s"}}, "leaving.clock"),
        ({**ZERO, "movement": {"crossing": "0 s", "travel": "0 s"}}, "leaving.clock"),
        (
            {
                "trigger": {"kind": "line", "height": "5 ft", "distance": "24 ft"},
                "movement": {"roam": "0 s"},
            },
            "movement.roam",
        ),
        (
            {"trigger": {"kind": "counter"}, "movement": {"retry": "0 s"}},
            "movement.retry",
        ),
        (
            {
                "opening": 2
                * [{"width": "3 ft", "height": "3 ft", "gate": {"kind": "push panel"}}],
                "trigger": {"kind": "none"},
                "entry": {"clock": "0 s"},
            },
            "entry.clock",
        ),
    ],
    ids=["in and out", "in and out without a walk", "to and fro", "no room", "from door to door"],
)
def test_a_night_that_would_never_end_is_refused(change, words, base_table, plan_of) -> None:
    with pytest.raises(ScenarioError, match=r"time passing|one instant") as refused:
        plan_of(base_table, **change)
    assert refused.value.key == words
    assert "time" in refused.value.hint


@pytest.mark.parametrize(
    "change",
    [
        {**ZERO, "movement": {"crossing": "1 ms"}},
        {
            **ZERO,
            "entry": {"clock": {"fixed": "1 s"}},
            "movement": {"crossing": "0 s", "travel": "0 s"},
        },
        {"movement": {"roam": "0 s", "outing_share": 1}},
        {"bait": {"space": "0 m^2"}, "movement": {"retry": "0 s"}},
    ],
    ids=["a crossing takes time", "entering takes time", "no line", "room for all"],
)
def test_a_night_in_which_something_takes_time_is_played(change, base_table, plan_of) -> None:
    nights = play(plan_of(base_table, visit={"check": "90 s"}, **change), 1, 0, 5)
    assert (nights["night_s"] <= 90.0).all()
