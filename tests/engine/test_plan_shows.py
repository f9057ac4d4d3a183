"""What the plan of the trap must show: the catch follows the line by inches and not by leaps, a
gate behind the line is a mistake, and a narrow opening keeps pigs out."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from soundergate.engine import play
from soundergate.engine.trace.one_night import trace_night
from soundergate.scenario.examples import text
from soundergate.scenario.loading import from_table, loads, with_values

SEED = 3


@pytest.fixture(scope="module")
def trap():
    return loads(text("line"))


@pytest.fixture(scope="module")
def behind(trap):
    """The same with a second gate on the far side, behind the line."""
    far = {**trap.raw["opening"][0], "bearing": "180 deg"}
    return from_table({**trap.raw, "opening": [*trap.raw["opening"], far]})


@pytest.fixture
def nights(plan_of):
    def rows(trap: Any, count: int = 4000) -> pd.DataFrame:
        return play(plan_of(trap), SEED, 0, count).frame()

    return rows


def caught(rows: pd.DataFrame) -> float:
    return float((rows["caught"] / rows["group_size"]).mean())


def early(rows: pd.DataFrame) -> pd.Series:
    """Nights on which no more than three were inside at the release."""
    return rows["released"] & (rows["inside_at_release"] <= 3)


@pytest.mark.slow
@pytest.mark.parametrize(("first", "last"), [(16.0, 22.0), (22.0, 25.5)])
def test_an_eighth_of_an_inch_is_an_eighth_of_an_inch(first, last, trap, nights) -> None:
    """Across the bait, and from there to the far side: no step above 1.5 points."""
    places = np.arange(first, last, 0.125 / 12.0)
    shares = [
        caught(nights(with_values(trap, {"trigger.distance": f"{at!r} ft"}), 1000))
        for at in places.tolist()
    ]
    assert np.abs(np.diff(shares)).max() < 0.015
    assert max(shares) - min(shares) > 0.5


def test_a_second_gate_behind_the_line_is_a_mistake(trap, behind, nights) -> None:
    """The more so the more come by it: the first ones trip the line on their way to the bait."""
    one = nights(trap)
    for bearing, least in ((0, 0.05), (90, 0.25), (180, 0.5)):
        two = nights(with_values(behind, {"arrival.bearing": f"{bearing} deg"}))
        assert early(two).mean() > early(one).mean() + least
        assert caught(two) < caught(one) - least


def test_a_told_night_says_why(behind, nights) -> None:
    """Who touched the line had just come in by the second opening and had not reached the bait."""
    from_there = with_values(behind, {"arrival.bearing": "180 deg"})
    rows = nights(from_there, 200)
    number = int(rows.index[early(rows)][0])
    told = trace_night(from_there, SEED, number).in_order()
    touch = next(event for event in told if event.kind == "touches the line")
    before = [event for event in told if event.animal == touch.animal and event.time <= touch.time]
    kinds = [event.kind for event in before]
    assert next(event for event in before if event.kind == "is inside").opening == 1
    assert "reaches the bait" not in kinds


def test_one_foot_is_worse_than_four(trap, nights) -> None:
    one, four = (nights(with_values(trap, {"opening.width": f"{w} ft"})) for w in (1, 4))
    assert caught(one) < caught(four) - 0.02
    assert one["never_entered"].mean() > four["never_entered"].mean() + 0.2
