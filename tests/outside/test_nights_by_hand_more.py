"""More nights worked out by hand: which opening, the way out, a push just met, who eats.

Some rules speak of one exact number (a draw on the border of two shares, a push that is just as
hard as the panel asks). No scenario file hits it, so the plan of the night is set to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from soundergate.engine import codes as k
from soundergate.engine import play
from soundergate.engine.luck.philox import uniform
from soundergate.engine.plan import NightPlan
from soundergate.engine.reference.bodies import Bodies
from soundergate.engine.reference.facts import Facts

SEED = 2
COUNTER = {"kind": "counter", "count": 1, "miss": 0, "double": 0}
PANEL = {"kind": "push panel", "mass": "200 g", "push_force": {"fixed": "0 lbf"}, "late_entry": 1.0}
OPEN = {
    "width": "20 ft",
    "height": "4 ft",
    "gate": {"kind": "drop", "drag": "0 lbf"},
    "latch": {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"},
}
LOW = {**OPEN, "height": "50 cm"}
"""Too low for the bodies of `TALL`."""
ONE_WAY = {"width": "3 ft", "height": "4 ft", "gate": PANEL}
TALL = {"exponent": 0.0, "width_coefficient": "25 cm", "height_coefficient": "80 cm", "duck": 1.0}


@pytest.fixture(params=["batch", "reference"])
def played(request) -> Callable[[NightPlan], dict[str, Any]]:
    """``played(plan)``: the outcome of its first night."""

    def row_of(plan: NightPlan) -> dict[str, Any]:
        rows = play(plan, SEED, 0, 1, request.param)
        return {name: rows[name][0].item() for name in rows}

    return row_of


def put(plan: NightPlan, name: str, values: Mapping[int, float]) -> None:
    for o, value in values.items():
        plan.openings[name][o] = value


# ---- which opening -------------------------------------------------------------------------


U = uniform(SEED, 0, k.D_FROM, 0, 0)
"""The number by which the one animal's subgroup finds its way."""
ABOVE = math.nextafter(U, 1.0)
LONG = {
    "body": {"exponent": 0.0, "length_coefficient": "1 m"},
    "movement": {"cross_speed": "1 m/s"},
}
DEPTHS = {0: 0.0, 1: 10.0, 2: 30.0}
"""A body of 1 m at 1 m/s through openings so many m deep: its time tells by which it came."""


@pytest.mark.parametrize(
    ("borders", "chosen"),
    [
        ((ABOVE, ABOVE, 1.0), 0),
        ((U, ABOVE, 1.0), 1),  # a number on the border belongs to the next
        ((U, U, 1.0), 2),
        ((U / 2, U / 2, U), 2),  # shares that add up to a little less: the last takes the rest
    ],
)
def test_a_number_on_the_border_belongs_to_the_next_and_the_rest_to_the_last(
    borders, chosen, plan_of, plain_night, played
) -> None:
    plan = plan_of(
        without_crossing(plain_night),
        sounder={"juveniles": 1},
        entry={"clock": "0 s"},
        opening=[OPEN] * 3,
        trigger=COUNTER,
        visit={"check": "1 h"},
        **LONG,
    )
    put(plan, "choice", dict(enumerate(borders)))
    put(plan, "depth", DEPTHS)
    assert played(plan)["release_s"] == 1.0 + DEPTHS[chosen]


@pytest.mark.parametrize(("fits", "when"), [(0, 60.0), (1, 120.0), (2, 180.0)])
def test_one_that_does_not_fit_tries_the_next_opening(
    fits, when, plan_of, plain_night, played
) -> None:
    """Its way leads to the first; each try takes it 60 s."""
    row = played(
        plan_of(
            plain_night,
            sounder={"juveniles": 1},
            body=TALL,
            entry={"clock": {"fixed": "60 s"}},
            arrival={"bearing_scatter": "0 deg"},
            opening=[OPEN if o == fits else LOW for o in range(3)],
            trigger=COUNTER,
            visit={"check": "1 h"},
        )
    )
    assert row["release_s"] == when


@pytest.mark.parametrize(("follow", "when"), [(0, 130.0), (1, 90.0)])
def test_a_follower_goes_in_where_the_one_before_it_went(
    follow, when, plan_of, plain_night, played
) -> None:
    """Openings 0 and 40 m deep. The first goes by the near one of its own way; the second, of a
    subgroup that comes 90 s later by the far one, follows it or does not."""
    plan = plan_of(
        without_crossing(plain_night),
        sounder={"juveniles": 2, "subgroups": 2},
        arrival={"offset": {"fixed": "89 s"}},
        entry={"clock": "0 s", "follow": follow},
        opening=[OPEN] * 2,
        trigger={**COUNTER, "count": 2},
        visit={"check": "1 h"},
        **LONG,
    )
    ways = [uniform(SEED, 0, k.D_FROM, party, 0) for party in (0, 1)]
    border = (ways[0] + ways[1]) / 2
    first = 0 if ways[0] < border else 1
    put(plan, "choice", {0: border, 1: 1.0})
    put(plan, "depth", {first: 0.0, 1 - first: 40.0})
    assert played(plan)["release_s"] == when


# ---- the way out ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ways", "by", "over"),
    [
        ((OPEN, OPEN, OPEN), 0, 1 + 100 + 1),  # out by the one that it came in by,
        ((OPEN, OPEN, OPEN), 1, 11 + 100 + 11),
        ((OPEN, OPEN, OPEN), 2, 31 + 100 + 31),
        ((OPEN, OPEN, ONE_WAY), 2, 31 + 100 + 11),  # or the nearest to that which lets it out
        ((ONE_WAY, OPEN, OPEN), 0, 1 + 100 + 11),
        ((ONE_WAY, ONE_WAY, OPEN), 1, 11 + 100 + 31),
    ],
)
def test_out_by_the_way_it_came_or_else_the_nearest_that_is_open(
    ways, by, over, plan_of, plain_night, played
) -> None:
    """It stays for 100 s. The openings are at 0, 110 and 230 deg."""
    assert out(ways, by, plan_of, plain_night, played) == pytest.approx(over)


@pytest.mark.parametrize(
    ("bait", "nearest"), [("1 m", 0), ("11 m", 2)], ids=["by the first", "on the far side"]
)
def test_out_by_the_nearest(bait, nearest, plan_of, plain_night, played) -> None:
    """In by the second, at 110 deg; bait is measured from the first."""
    change = {"leaving": {"nearest": 1}, "corral": {"diameter": "12 m", "bait_distance": bait}}
    found = out([OPEN] * 3, 1, plan_of, plain_night, played, **change)
    assert found == pytest.approx(11 + 100 + 1 + DEPTHS[nearest])


def out(ways, by, plan_of, plain_night, played, leaving=None, **change) -> float:
    """When the one animal, which comes in ``by`` one of three ways, is out and the night over."""
    bearings = ("0 deg", "110 deg", "230 deg")
    plan = plan_of(
        without_crossing(plain_night),
        sounder={"juveniles": 1},
        entry={"clock": "0 s"},
        leaving={"clock": {"fixed": "100 s"}, **(leaving or {})},
        opening=[{**way, "bearing": at} for way, at in zip(ways, bearings, strict=True)],
        **LONG,
        **change,
    )
    put(plan, "choice", {o: float(o >= by) for o in range(3)})
    put(plan, "depth", DEPTHS)
    return played(plan)["night_s"]


def without_crossing(text: str) -> str:
    """The plain night, but a crossing takes as long as its depth and the body say."""
    assert 'crossing = "0 s"\n' in text
    return text.replace('crossing = "0 s"\n', "")


# ---- a one-way entrance --------------------------------------------------------------------


@pytest.mark.parametrize(("harder", "goes_in"), [(False, True), (True, False)])
def test_a_push_that_is_just_met_opens_a_panel(
    harder, goes_in, plan_of, plain_night, played
) -> None:
    """All are willing; it asks for the push of the animal to the last bit, or for one bit more."""
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 1},
        body={"strength": {"fixed": 0.4}},
        entry={"clock": "0 s"},
        opening=[ONE_WAY],
        visit={"check": "1 h"},
    )
    push = Bodies(Facts(plan), SEED, 0).push(0)
    assert push == pytest.approx(0.4 * 25.0 * 9.80665)
    put(plan, "push_force", {0: math.nextafter(push, math.inf) if harder else push})
    assert played(plan)["caught"] == goes_in


@pytest.mark.parametrize(("harder", "goes_in"), [(False, True), (True, False)])
def test_one_that_comes_back_needs_no_more_than_the_panel_asks(
    harder, goes_in, plan_of, plain_night, played
) -> None:
    """The first is in at 40 and the gate falls; the other stands outside, flees, and is back 60 s
    later at the panel."""
    plan = plan_of(
        plain_night,
        sounder={"juveniles": 2, "subgroups": 2},
        body={"strength": {"fixed": 0.4}},
        arrival={"offset": {"fixed": "30 s"}},
        entry={"clock": {"fixed": "40 s"}},
        opening=[OPEN, ONE_WAY],
        trigger=COUNTER,
        startle={"bolt_share": 0},
        holding={"slip_share": 0, "near_clock": "1 h", "late_clock": {"fixed": "60 s"}},
        visit={"check": "1 h"},
    )
    put(plan, "choice", {0: 1.0})
    push = Bodies(Facts(plan), SEED, 0).push(1)
    put(plan, "push_force", {1: math.nextafter(push, math.inf) if harder else push})
    row = played(plan)
    assert row["release_s"] == 40.0
    assert row["caught"] == 1 + goes_in


# ---- who eats ------------------------------------------------------------------------------


def test_one_that_leaves_before_it_fed_takes_nothing_from_those_that_feed(
    plan_of, plain_night, played
) -> None:
    """A container needs 55 s of one feeding. The first is in at 60, feeds from 110 to 160, is out
    at 210 and for a second draws the other after it, in since 200, which turns at 210.9 without
    having fed. The first is in again at 270 and feeds from 320: 5 s are left."""
    row = played(
        plan_of(
            plain_night,
            sounder={"juveniles": 2, "subgroups": 2},
            arrival={"offset": {"fixed": "140 s"}},
            entry={"clock": {"fixed": "60 s"}, "leaderless": 1},
            movement={"travel": "50 s"},
            leaving={"clock": {"fixed": "100 s"}, "contagion": 99.0, "contagion_window": "1 s",
                     "return_share": 1},
            trigger={"kind": "bait", "friction": 0, "rate": {"fixed": "55 s"}},
            visit={"check": "1 h"},
        )
    )  # fmt: skip
    assert row["release_s"] == pytest.approx(325.0)


def test_bait_is_eaten_only_while_one_feeds(plan_of, plain_night, played) -> None:
    """Bait for 55 s of one of 25 kg. It feeds from 110 to 160 and, out at 210 and in again at 270,
    from 320; at 325 all is gone, and the last 45 s of its stay run thirty times as fast."""
    row = played(
        plan_of(
            plain_night,
            sounder={"juveniles": 1},
            bait={"mass": "1 kg", "intake": f"{3600 / (25 * 55)} 1/h",
                  "levels_appetite": [1, 1, 1, 1, 30]},
            entry={"clock": {"fixed": "60 s"}},
            movement={"travel": "50 s"},
            leaving={"clock": {"fixed": "100 s"}, "return_share": 1},
            visit={"check": "1 h"},
        )
    )  # fmt: skip
    assert row["night_s"] == pytest.approx(325.0 + 45.0 / 30.0 + 50.0)
