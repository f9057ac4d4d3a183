"""Nights after the closure worked out by hand: who follows, who comes back, whose lock fails.

As in test_nights_by_hand nothing is left to chance, and both engines play each night.
"""

from __future__ import annotations

from typing import Any

import pytest

COUNTER = {"kind": "counter", "count": 1, "miss": 0, "double": 0}
PANEL = {
    "width": "3 ft",
    "height": "4 ft",
    "gate": {"kind": "push panel", "mass": "200 g", "push_force": {"fixed": "0 lbf"},
             "late_entry": 1.0},
}  # fmt: skip
APART = {
    "arrival": {"offset": {"fixed": "30 s"}},
    "entry": {"clock": {"fixed": "40 s"}, "leaderless": 1},
    "visit": {"check": "1 h"},
}
"""One comes at 0 s and the next at 30, and each makes up its mind in 40 s."""


def gate(**more: Any) -> dict[str, Any]:
    latch = {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"}
    made = {"kind": "drop", "drag": "0 lbf", **more}
    return {"width": "20 ft", "height": "4 ft", "gate": made, "latch": latch}


def seconds(value: float) -> dict[str, str]:
    return {"fixed": f"{value} s"}


# ---- a way that one has opened -------------------------------------------------------------


@pytest.mark.parametrize(
    ("hole", "follow", "over"),
    [
        (60, 20, 160),  # it finds the hole 20 s after it was made
        (20, 20, 170),  # which falls in at that very moment: it makes its own
        (60, 40, 170),  # it is through with its own before it finds the other
    ],
)
def test_one_follows_by_a_hole_that_is_there_still(hole, follow, over, night) -> None:
    """A panel that lets in only: one is a captive at 40 and the other at 70. Each has rooted its
    way out after 100 s, so the first has a hole at 140, and the other would have one at 170."""
    row = night(
        sounder={"juveniles": 2, "subgroups": 2},
        opening=[PANEL],
        holding={
            "slip_share": 0,
            "root_clock": seconds(100),
            "hole_clock": seconds(hole),
            "follow_clock": seconds(follow),
        },
        **APART,
    )
    assert row["escaped_after"] == 2
    assert row["night_s"] == over


@pytest.mark.parametrize(("stays", "over"), [(35, 170), (25, 250)])
def test_one_that_comes_in_later_finds_the_hole_from_then_on(stays, over, night) -> None:
    """In at 40, and out by a hole at 140. The other comes at 110, is in at 150, and finds the hole
    after 20 s if that is there at 170; its own takes it until 250."""
    change = {**APART, "arrival": {"offset": seconds(110)}}
    row = night(
        sounder={"juveniles": 2, "subgroups": 2},
        opening=[PANEL],
        holding={
            "slip_share": 0,
            "root_clock": seconds(100),
            "hole_clock": seconds(stays),
            "follow_clock": seconds(20),
        },
        **change,
    )
    assert (row["escaped_after"], row["night_s"]) == (2, over)


@pytest.mark.parametrize(("first", "over"), [("70 kg", 150), ("25 kg", 150), ("24 kg", 160)])
def test_a_hole_lets_out_whoever_is_no_larger_than_its_maker(first, over, night) -> None:
    """The sow is in at 40. The young one, of 25 kg, has gone at half its speed until then, and is
    in at 60. The sow has a hole at 140, by which the other could be out at 150; its own takes it
    until 160."""
    row = night(
        sounder={"sows": 1, "juveniles": 1,
                 "mass": {"sow": {"fixed": first}, "juvenile": {"fixed": "25 kg"}}},
        opening=[PANEL],
        holding={"slip_share": 0, "root_clock": seconds(100), "hole_clock": "never",
                 "follow_clock": seconds(10)},
        entry={"clock": {"fixed": "40 s"}, "leaderless": 0.5},
        visit=APART["visit"],
    )  # fmt: skip
    assert (row["escaped_after"], row["night_s"]) == (2, over)


@pytest.mark.parametrize(("held", "out"), [(30, 3), (10, 1)], ids=["in time", "shut again"])
def test_the_young_follow_a_sow_under_the_gate(held, out, night) -> None:
    """All three are in at 0 and the gate shuts. The sow alone can lift it, and does after 100 s; it
    stays up, and the two others are there 20 s later."""
    row = night(
        sounder={"sows": 1, "juveniles": 2,
                 "mass": {"sow": {"fixed": "70 kg"}, "juvenile": {"fixed": "25 kg"}}},
        body={"strength": {"fixed": 0.8}},
        entry={"clock": "0 s", "leaderless": 1},
        opening=[gate(mass="35 kg", lock=False)],
        trigger={**COUNTER, "count": 3},
        visit={"check": "130 s"},
        holding={"try_clock": seconds(100),
                 "gate_clock": seconds(held), "follow_clock": seconds(20)},
    )  # fmt: skip
    assert row["escaped_after"] == out


@pytest.mark.parametrize(("lock", "fails", "out"), [(True, 1, 1), (True, 0, 0), (False, 0, 1)])
def test_a_lock_that_does_not_catch_is_as_none(lock, fails, out, night) -> None:
    row = night(
        sounder={"juveniles": 1},
        body={"strength": {"fixed": 0.8}},
        entry={"clock": "0 s"},
        opening=[gate(mass="5 kg", lock=lock, lock_fails=fails)],
        trigger=COUNTER,
        visit={"check": "1 h"},
        holding={"try_clock": seconds(100)},
    )
    assert (row["escaped_after"], row["caught"]) == (out, 1 - out)


# ---- those outside -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("near", "often", "over"), [(100, 60, 140), (130, 60, 170), (30, 60, 70), (0, 60, 40)]
)
def test_one_outside_goes_away_when_its_time_near_ends(near, often, over, night) -> None:
    """One is in at 40; the gate hangs and it bolts out at once. The other stays near from then on,
    sees the open gate again and again, and does not go in."""
    row = night(
        sounder={"juveniles": 2, "subgroups": 2},
        opening=[gate(drag="1000 lbf")],
        trigger=COUNTER,
        startle={"bolt_share": 1, "delay": "0 s"},
        holding={"near_clock": seconds(near), "late_clock": seconds(often), "open_entry": 0},
        **APART,
    )
    assert row["night_s"] == over
    assert (row["escaped_during"], row["never_entered"], row["educated"]) == (1, 1, 2)


def test_one_outside_comes_back_in_where_the_gate_hangs_and_leaves_again(night) -> None:
    """The gate hangs at 40. One comes back at 100, goes in, and leaves 50 s later; so at once does
    the other, which froze at 40 with its mind on leaving at 90."""
    row = night(
        sounder={"juveniles": 2, "subgroups": 2},
        opening=[gate(drag="1000 lbf")],
        trigger=COUNTER,
        leaving={"clock": seconds(50)},
        holding={"near_clock": seconds(100), "late_clock": seconds(60), "open_entry": 1},
        **APART,
    )
    assert row["night_s"] == 150.0
    assert (row["escaped_during"], row["escaped_before"], row["educated"]) == (1, 1, 2)


@pytest.mark.parametrize(("near", "over"), [(100, 100), (30, 70)])
def test_one_outside_pushes_in_at_the_latest_as_it_leaves(near, over, night) -> None:
    """The gate shuts behind one at 40; the other is back at the panel after 60 s, or before."""
    row = night(
        sounder={"juveniles": 2, "subgroups": 2},
        opening=[gate(), PANEL],
        trigger=COUNTER,
        holding={"slip_share": 0, "near_clock": seconds(near), "late_clock": seconds(60)},
        arrival={"offset": {"fixed": "30 s"}, "bearing_scatter": "0 deg"},
        entry=APART["entry"],
        visit=APART["visit"],
    )
    assert (row["caught"], row["night_s"], row["educated"]) == (2, over, 0)
