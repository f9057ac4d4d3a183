"""Nights without chance, in which every instant can be worked out by hand from MODEL.md.

Times are fixed, shares 0 or 1, bodies alike; a few animals at most. Each says in words what
happens when, and the row must say the same. Both engines play them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from soundergate.engine import play

ONE_LANE = {"exponent": 0.0, "width_coefficient": "25 cm", "height_coefficient": "50 cm"}
"""Bodies all of one size, of which one at a time passes an opening of 50 cm."""
JAMMED = {"kind": "drop", "drag": "1000 lbf"}
"""A gate that is let go and hangs: an alarm after which the way stays open."""
COUNTER = {"kind": "counter", "count": 1, "miss": 0, "double": 0}


def opening(gate: dict[str, Any], width: str = "20 ft", **more: Any) -> dict[str, Any]:
    latch = {"kind": "pin", "puller": "air cylinder", "friction": 0, "delay": "0 s"}
    return {"width": width, "height": "4 ft", "gate": gate, "latch": latch, **more}


@pytest.fixture(params=["batch", "reference"])
def night(request, plan_of, plain_night) -> Callable[..., dict[str, Any]]:
    """``night(**change)``: the one night of the plain scenario with these tables."""

    def played(**change: Any) -> dict[str, Any]:
        rows = play(plan_of(plain_night, **change), 1, 0, 2, request.param)
        for name in rows:  # nothing is left to chance
            assert name == "night" or np.array_equal(rows[name][:1], rows[name][1:], equal_nan=True)
        return {name: rows[name][0].item() for name in rows}

    return played


# ---- the fright ----------------------------------------------------------------------------


def test_one_that_was_leaving_when_it_froze_makes_up_its_mind_anew(night) -> None:
    """In at 0, at the bait at 50, heads out at 100; frightened at 120 on its way. Another 100 s
    later it sets out from there, which takes as long as from the bait: 120 + 100 + 50."""
    row = night(
        sounder={"juveniles": 1},
        entry={"clock": "0 s"},
        movement={"travel": "50 s"},
        leaving={"clock": "100 s"},
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
        leaving={"clock": "100 s"},
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
        leaving={"clock": "100 s"},
        opening=[opening(JAMMED, width="50 cm")],
        trigger=COUNTER,
        startle={"bolt_share": 0, "turn_back_share": 0},
    )
    assert row["release_s"] == 10.0
    assert (row["inside_at_release"], row["escaped_during"]) == (1, 1)
    assert (row["escaped_before"], row["never_entered"], row["educated"]) == (1, 0, 2)
    # the first decides at 100, after 10 s to make up its mind again; the other at 120, and out
    assert row["night_s"] == pytest.approx(130.0)
