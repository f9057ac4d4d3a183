"""Nights without chance, in which every instant can be worked out by hand from MODEL.md.

Times are fixed, shares 0 or 1, bodies alike; a few animals at most. Each says in words what
happens when, and the row must say the same. Both engines play them.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

ONE_LANE = {"exponent": 0.0, "width_coefficient": "25 cm", "height_coefficient": "50 cm"}
"""Bodies all of one size, of which one at a time passes an opening of 50 cm."""
JAMMED = {"kind": "drop", "drag": "1000 lbf"}
"""A gate that is let go and hangs: an alarm after which the way stays open."""
COUNTER = {"kind": "counter", "count": 1, "miss": 0, "double": 0}


def opening(gate: dict[str, Any], width: str = "20 ft", **more: Any) -> dict[str, Any]:
    latch = {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"}
    return {"width": width, "height": "4 ft", "gate": gate, "latch": latch, **more}


# ---- the fright ----------------------------------------------------------------------------


def test_one_that_was_leaving_when_it_froze_makes_up_its_mind_anew(night) -> None:
    """In at 0, at the bait at 50, heads out at 100; frightened at 120 on its way. Another 100 s
    later it sets out from there, which takes as long as from the bait: 120 + 100 + 50."""
    row = night(
        sounder={"juveniles": 1},
        entry={"clock": "0 s"},
        movement={"travel": "50 s"},
        leaving={"clock": {"fixed": "100 s"}},
        opening=[opening(JAMMED)],
        trigger={**COUNTER, "count": 9, "dwell": "120 s"},
        startle={"bolt_share": 0},
    )
    assert row["release_s"] == 120.0
    assert (row["inside_at_release"], row["escaped_during"]) == (1, 1)
    assert row["night_s"] == pytest.approx(270.0)


def test_one_that_froze_at_the_bait_keeps_the_decision_it_had(night) -> None:
    """Frightened at 80 s; it was to leave at 100, and the visit being over its clock runs thirty
    times as fast: out at 80 + 20 / 30 + 50."""
    row = night(
        sounder={"juveniles": 1},
        bait={"levels_appetite": [1, 1, 1, 1, 30]},
        entry={"clock": "0 s"},
        movement={"travel": "50 s"},
        leaving={"clock": {"fixed": "100 s"}},
        opening=[opening(JAMMED)],
        trigger={**COUNTER, "count": 9, "dwell": "80 s"},
        startle={"bolt_share": 0},
    )
    assert row["night_s"] == pytest.approx(80.0 + 20.0 / 30.0 + 50.0)


def test_one_in_the_opening_at_the_release_goes_on_in_and_may_leave_again(night) -> None:
    """The first is in at 10 and sets off the alarm; the second has just stepped in, goes on, is in
    at 20 and leaves by the gate that hangs. Only the first was inside at the release, and so only
    it counts as escaped from it."""
    row = night(
        sounder={"juveniles": 2},
        body=ONE_LANE,
        entry={"clock": "0 s"},
        movement={"crossing": "10 s", "side_clearance": 1.6},
        leaving={"clock": {"fixed": "100 s"}},
        opening=[opening(JAMMED, width="50 cm")],
        trigger=COUNTER,
        startle={"bolt_share": 0, "turn_back_share": 0},
    )
    assert row["release_s"] == 10.0
    assert (row["inside_at_release"], row["escaped_during"]) == (1, 1)
    assert (row["escaped_before"], row["never_entered"], row["educated"]) == (1, 0, 2)
    # the first decides at 100, after 10 s to make up its mind again; the other at 120, and out
    assert row["night_s"] == pytest.approx(130.0)


def test_a_bolter_runs_from_where_it_is(night) -> None:
    """Half way to the bait, 8 m in, at 40 s: 1 s to take fright and 4 m at 4 m/s."""
    row = night(
        sounder={"juveniles": 1},
        corral={"diameter": "12 m", "bait_distance": "8 m"},
        entry={"clock": "0 s"},
        movement={"travel": "80 s", "bolt_speed": "4 m/s"},
        opening=[opening(JAMMED)],
        trigger={**COUNTER, "count": 9, "dwell": "40 s"},
        startle={"bolt_share": 1, "delay": {"fixed": "1 s"}},
    )
    assert row["night_s"] == pytest.approx(42.0)


# ---- who comes, and enters -----------------------------------------------------------------

LATER = {
    "arrival": {"offset": {"fixed": "30 s"}},
    "entry": {"clock": {"fixed": "60 s"}, "leaderless": 1},
}
"""What does not come with the first comes 30 s later; each takes 60 s to make up its mind."""


@pytest.mark.parametrize(
    ("sounder", "second"),
    [
        ({"juveniles": 2, "subgroups": 2}, 90.0),
        ({"juveniles": 2, "subgroups": 1}, 60.0),
        ({"juveniles": 0, "sows": 1, "boars": 1}, 90.0),  # boars come alone,
        ({"juveniles": 0, "boars": 2}, 60.0),  # but for a group of boars
        ({"juveniles": 1, "sows": 1, "subgroups": 2}, 90.0),  # subgroups are blocks by class
    ],
)
def test_who_comes_with_whom(sounder, second, night) -> None:
    row = night(sounder=sounder, trigger={**COUNTER, "count": 2}, **LATER)
    assert row["release_s"] == second


def test_every_animal_draws_how_far_it_is_behind_its_subgroup(night) -> None:
    row = night(
        sounder={"juveniles": 1},
        arrival={"spread": {"fixed": "10 s"}},
        entry={"clock": {"fixed": "60 s"}},
        trigger=COUNTER,
    )
    assert row["release_s"] == 70.0


def test_one_inside_draws_the_other_on(night) -> None:
    """At 60 s the second has 30 s to go, at half as fast again."""
    change = {**LATER, "entry": {"clock": {"fixed": "60 s"}, "social_pull": 0.5}}
    row = night(sounder={"juveniles": 2, "subgroups": 2}, trigger={**COUNTER, "count": 2}, **change)
    assert row["release_s"] == pytest.approx(80.0)


@pytest.mark.parametrize(("taper", "second"), [(1.0, 100.0), (0.5, 90.0)])
def test_a_fuller_corral_is_entered_more_slowly(taper, second, night) -> None:
    """Room for four. With one inside three quarters are left, which slows only the wide taper."""
    row = night(
        sounder={"juveniles": 2, "subgroups": 2},
        corral={"diameter": "10 m", "space_per_pig": f"{math.pi * 25 / 4} m^2"},
        trigger={**COUNTER, "count": 2},
        **{**LATER, "entry": {"clock": {"fixed": "60 s"}, "taper": taper}},
    )
    assert row["release_s"] == pytest.approx(second)


def test_when_the_visit_ends_some_go_and_those_inside_soon_want_to(night) -> None:
    """Patience runs from the first arrival, to 100 s. The one inside since 60 has 960 s of its
    1000 to go, thirty times as fast: out at 132. The other has not made up its mind and goes."""
    row = night(
        sounder={"juveniles": 2, "subgroups": 2},
        bait={"levels_appetite": [1, 1, 1, 1, 30]},
        arrival={"offset": {"fixed": "90 s"}},
        entry={"clock": {"fixed": "60 s"}},
        leaving={"clock": {"fixed": "1000 s"}},
        visit={"patience": {"fixed": "100 s"}},
    )
    assert row["night_s"] == pytest.approx(132.0)
    assert (row["escaped_before"], row["never_entered"], row["arrived"]) == (1, 1, 2)


# ---- through the opening -------------------------------------------------------------------

NARROW = {
    "sounder": {"juveniles": 2},
    "body": ONE_LANE,
    "entry": {"clock": "0 s"},
    "opening": [opening({"kind": "drop", "drag": "0 lbf"}, width="50 cm")],
}


def test_one_that_had_to_wait_takes_its_headway_longer(night) -> None:
    """In at 10 and, having waited, at 10 + 10 + 5."""
    movement = {"crossing": "10 s", "headway": {"fixed": "5 s"}, "side_clearance": 1.6}
    row = night(**NARROW, movement=movement, trigger={**COUNTER, "count": 2})
    assert row["release_s"] == 25.0


@pytest.mark.parametrize(("count", "when"), [(2, 10.0), (3, 20.0)])
def test_behind_a_blocked_head_only_piglets_slip_by(count, when, night) -> None:
    """Of 1 m the first sow takes 70 cm; there is no room for the second. Beside the first there is
    room for the juvenile and for the piglet, but only the piglet passes the one that waits."""
    row = night(
        sounder={"sows": 2, "juveniles": 1, "piglets": 1,
                 "mass": {name: {"median": kg, "sigma": 0} for name, kg in
                          {"sow": "70 kg", "juvenile": "25 kg", "piglet": "6 kg"}.items()}},
        body={"exponent": 1.0, "width_coefficient": "1 cm", "height_coefficient": "0.5 cm"},
        entry={"clock": "0 s"},
        movement={"crossing": "10 s", "side_clearance": 1.0},
        opening=[opening({"kind": "drop", "drag": "0 lbf"}, width="1 m")],
        trigger={**COUNTER, "count": count},
    )  # fmt: skip
    assert (row["release_s"], row["inside_at_release"]) == (when, count)


@pytest.mark.parametrize(("clear", "when"), [(True, 20.0), (False, 10.0)])
def test_a_person_waits_for_the_opening_to_be_clear(clear, when, night) -> None:
    """As the first is through at 10 the second steps in, so that the opening is clear at 20."""
    person = {
        "kind": "person", "link": "radio", "count": 1, "alert": "0 s", "awake": 1,
        "frame_interval": "0 s", "view_delay": "0 s", "reaction": "0 s", "command_delay": "0 s",
        "dropout": 0, "undercount": 0, "overcount": 0, "clear_opening": clear,
    }  # fmt: skip
    row = night(**NARROW, movement={"crossing": "10 s", "side_clearance": 1.6}, trigger=person)
    assert row["release_s"] == when
    assert row["operator_min"] == pytest.approx(when / 60.0)


# ---- out again -----------------------------------------------------------------------------


@pytest.mark.parametrize(("window", "over"), [("60 s", 115.0), ("2 s", 116.0)])
def test_a_departure_draws_the_other_once_it_is_out(window, over, night) -> None:
    """In at 4 and 14. The first heads out at 104 and is out at 108; the other, then 6 s short of
    its 100, goes twice as fast from then on, for the window: off at 111 or at 112, 4 s to cross."""
    row = night(
        **NARROW,
        movement={"crossing": "4 s", "headway": {"fixed": "6 s"}, "side_clearance": 1.6},
        leaving={"clock": {"fixed": "100 s"}, "contagion": 1.0, "contagion_window": window},
    )
    assert row["night_s"] == pytest.approx(over)


def test_the_time_of_a_counter_begins_anew_when_nobody_is_inside(night) -> None:
    """In from 60 to 160, then from 220 to 320, ...: never 120 s on end."""
    change = {
        "sounder": {"juveniles": 1},
        "entry": {"clock": {"fixed": "60 s"}},
        "leaving": {"clock": {"fixed": "100 s"}, "return_share": 1},
        "visit": {"check": "1 h"},
    }
    assert not night(**change, trigger={**COUNTER, "count": 9, "dwell": "120 s"})["released"]
    row = night(**change, trigger={**COUNTER, "count": 9, "dwell": "99 s"})
    assert row["release_s"] == 159.0


# ---- triggers ------------------------------------------------------------------------------

LINE = {"kind": "line", "height": "10 cm", "weight": "0 g/m", "switch_force": "0 lbf"}


def test_a_line_before_the_bait_is_touched_where_the_way_meets_it(night) -> None:
    """A quarter of the way to the bait, which takes 100 s."""
    row = night(
        sounder={"juveniles": 1},
        corral={"diameter": "12 m", "bait_distance": "8 m"},
        entry={"clock": "0 s"},
        movement={"travel": "100 s"},
        trigger={**LINE, "distance": "2 m"},
    )
    assert row["release_s"] == pytest.approx(25.0)


def test_a_line_is_touched_on_the_way_out_by_one_that_stays_this_side_of_it(night) -> None:
    """The bait is 8 m in and the line 6 m; two openings face each other. It comes by the second, 4
    m from the bait and behind the line, and leaves at 100 by the nearest to the bait: no touch.
    Leaving by the first it touches after a quarter of a way of 40 s."""
    change = {
        "sounder": {"juveniles": 1},
        "corral": {"diameter": "12 m", "bait_distance": "8 m"},
        "arrival": {"bearing": "180 deg", "bearing_scatter": "0 deg"},
        "entry": {"clock": "0 s"},
        "movement": {"travel": "40 s", "roam": "never"},
        "trigger": {**LINE, "distance": "6 m"},
    }
    gate = {"kind": "drop", "drag": "0 lbf"}
    two = [opening(gate, width="6 ft"), opening(gate, width="6 ft")]
    stays = {"clock": {"fixed": "100 s"}}
    assert not night(**change, leaving={**stays, "nearest": 1}, opening=two)["released"]
    far = [{**two[0], "height": "6 ft"}, {**two[1], "gate": {"kind": "push panel"}}]
    far[1].pop("latch")
    row = night(**change, leaving=stays, opening=far, training={"nights": 365})
    assert row["release_s"] == pytest.approx(140.0 + 40.0 / 2)


@pytest.mark.parametrize(("room", "when"), [(2, 107.0), (1, 137.0)])
def test_one_that_finds_no_room_waits_and_tries_again(room, when, night) -> None:
    """Both are at the bait at 20 and feed from 27 on: two upset a container of 160 s in 80. With
    room for one the other tries again and again and never feeds: one alone takes all its 110 s."""
    row = night(
        sounder={"juveniles": 2},
        bait={"space": f"{3.14159265 * 0.25 / (room + 0.01)} m^2", "levels_appetite": [1] * 5},
        entry={"clock": "0 s", "leaderless": 1},
        movement={"travel": "20 s", "dwell": "7 s", "retry": {"fixed": "30 s"}, "roam": "never"},
        leaving={"clock": "never"},
        trigger={"kind": "bait", "friction": 0, "rate": {"fixed": f"{60 + 50 * room} s"}},
    )
    assert row["release_s"] == pytest.approx(when)


@pytest.mark.parametrize(("combine", "when"), [("any", 60.0), ("all", 90.0)])
def test_the_first_of_two_triggers_or_both(combine, when, night) -> None:
    counters = [{**COUNTER, "count": 1}, {**COUNTER, "count": 2}]
    row = night(sounder={"juveniles": 2, "subgroups": 2}, trigger={combine: counters}, **LATER)
    assert row["release_s"] == when


@pytest.mark.parametrize(
    ("width", "back", "goes_in"),
    [("50 cm", "100 cm", True), ("50.001 cm", "100 cm", False), ("50 cm", "100.001 cm", False)],
)
def test_a_body_as_large_as_the_opening_passes_and_a_larger_one_does_not(
    width, back, goes_in, night
) -> None:
    row = night(
        sounder={"juveniles": 1},
        body={"exponent": 0.0, "width_coefficient": width, "height_coefficient": back, "duck": 0.8},
        entry={"clock": {"fixed": "60 s"}},
        opening=[opening({"kind": "drop", "drag": "0 lbf"}, width="50 cm", height="80 cm")],
        trigger=COUNTER,
        visit={"check": "1 h"},
    )
    assert row["released"] == goes_in


def test_two_feeding_upset_a_container_in_half_the_time_of_one(night) -> None:
    """At the bait at 40; one takes 60 s."""
    change = {
        "entry": {"clock": "0 s", "leaderless": 1},
        "movement": {"travel": "40 s"},
        "bait": {"levels_appetite": [1, 1, 1, 1, 1]},
        "trigger": {"kind": "bait", "friction": 0, "rate": {"fixed": "60 s"}},
    }
    assert night(sounder={"juveniles": 1}, **change)["release_s"] == pytest.approx(100.0)
    assert night(sounder={"juveniles": 2}, **change)["release_s"] == pytest.approx(70.0)


def test_one_that_comes_when_the_visit_is_over_goes_at_once(night) -> None:
    """Patience ends at 20 s, before the first has made up its mind; the other comes at 30."""
    row = night(
        sounder={"juveniles": 2, "subgroups": 2}, visit={"patience": {"fixed": "20 s"}}, **LATER
    )
    assert row["night_s"] == 30.0


def test_nobody_is_a_captive_while_a_way_is_open(night) -> None:
    """One gate shuts and one hangs: those inside could climb in 10 s, but nothing holds them."""
    change = {
        "sounder": {"juveniles": 2},
        "corral": {"panel_height": "1 cm"},
        "entry": {"clock": {"fixed": "60 s"}},
        "trigger": {**COUNTER, "count": 2},
        "holding": {"climb_clock": {"fixed": "10 s"}},
        "visit": {"check": "1 h"},
    }
    falls = opening({"kind": "drop", "drag": "0 lbf"})
    row = night(**change, opening=[falls, opening(JAMMED)])
    assert row["released"]
    assert (row["escaped_during"], row["escaped_after"], row["night_s"]) == (2, 0, 3600.0)
    row = night(**change, opening=[falls, falls])
    assert (row["escaped_during"], row["escaped_after"]) == (0, 2)


def test_an_animal_too_weak_for_the_latch_that_it_pulls_releases_nothing(night) -> None:
    """A switch would have asked for no more than a touch."""
    stiff = opening({"kind": "drop", "mass": "200 kg"})
    stiff["latch"] = {
        "kind": "pin",
        "puller": "animal",
        "friction": {"fixed": 1},
        "lever": 1,
        "delay": "0 s",
    }
    row = night(
        sounder={"juveniles": 1},
        entry={"clock": {"fixed": "60 s"}},
        opening=[stiff],
        trigger={**LINE, "distance": "10 ft"},
        visit={"check": "1 h"},
    )
    assert row["release_s"] == 60.0
    assert not row["released"]
