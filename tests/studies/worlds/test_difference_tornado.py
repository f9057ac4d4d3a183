"""What a difference leans on: against plain runs night by night, arms alike, and its words."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest

from shared.traps import LINE_TRAP
from soundergate.engine import play
from soundergate.scenario.loading import loads, with_values
from soundergate.studies.arms import Arm
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import bonferroni, mean_t
from soundergate.studies.players import plan_of
from soundergate.studies.worlds.one_at_a_time import difference_tornado
from soundergate.studies.worlds.tornado import DifferenceTornado

NEAR = {"trigger.distance": "12 ft"}


def arm(name: str, values: dict[str, object] | None = None) -> Arm:
    base = loads(LINE_TRAP, "alder.toml")
    return Arm(name, with_values(base, values) if values else base, values or {})


@pytest.fixture(scope="module")
def found() -> DifferenceTornado:
    return difference_tornado(
        arm("far"), arm("near", NEAR), nights=300, screen=100, top=6, workers=1
    )


def share(values: dict[str, object], first: int, count: int) -> np.ndarray:
    outcomes = play(plan_of(arm("", values).scenario), 1, first, count)
    return outcomes["caught"] / outcomes["group_size"]


def test_moves_are_those_of_four_plain_runs(found: DifferenceTornado) -> None:
    """The far arm less the near arm, moved less unmoved, on the nights after the screening."""
    (one,) = [swing for swing in found.swings if swing.id == "trigger.line.friction"]
    entry = one.input.entry
    moved = {"trigger.friction": entry.at(entry.high)}
    nights = (100, 300)
    apart = share({}, *nights) - share(NEAR, *nights)
    there = share(moved, *nights) - share(NEAR | moved, *nights)
    assert one.high is not None
    assert abs(one.high.estimate) > 0.01
    assert one.high.estimate == pytest.approx((there - apart).mean(), abs=1e-12)
    low, high, _ = mean_t(there - apart, bonferroni(0.95, 3 * 6))
    assert (one.high.low, one.high.high) == pytest.approx((low, high))
    end = found.ends["trigger.line.friction"][1]
    assert end is not None
    assert end.estimate == pytest.approx(there.mean(), abs=1e-12)
    assert found.base.estimate == pytest.approx(apart.mean(), abs=1e-12)
    assert (found.base.a, found.base.b, found.base.nights) == ("far", "near", 300)


def test_the_largest_reach_stands_first_and_not_more_than_asked(found: DifferenceTornado) -> None:
    reaches = [one.reach for one in found.swings]
    assert reaches == sorted(reaches, reverse=True)
    assert len(reaches) == 6
    assert found.considered > 60
    assert found.inert > 0
    assert set(found.matters(3)) <= {one.id for one in found.swings}
    assert len(found.table) == 6
    json.dumps(found.to_json(), allow_nan=False)


@pytest.mark.slow
def test_workers_do_not_show(found: DifferenceTornado) -> None:
    again = difference_tornado(
        arm("far"), arm("near", NEAR), nights=300, screen=100, top=6, workers=2
    )
    assert again.to_json() == found.to_json()


@pytest.mark.slow
def test_arms_alike_lean_on_nothing() -> None:
    """The same nights twice differ nowhere, whatever is moved: nothing may be shown to matter."""
    same = difference_tornado(arm("a"), arm("b"), nights=200, screen=50, top=4, workers=1)
    assert same.matters() == []
    assert all(one.reach == 0.0 for one in same.swings)
    assert same.turning() == same.vanishing() == {}
    assert "show no difference between “a” and “b”" in same.verdict()


@pytest.mark.slow
def test_what_one_arm_sets_is_moved_in_the_other_alone() -> None:
    values = {"entry.frailty_cv": 0.0}
    mixed = difference_tornado(
        arm("set", values), arm("left"), nights=150, screen=0, top=200, workers=1
    )
    (one,) = [swing for swing in mixed.swings if swing.id == "entry.frailty_cv"]
    entry = one.input.entry
    fixed = share(values, 0, 150)
    there = fixed - share({"entry.frailty_cv": entry.low}, 0, 150)
    assert one.low is not None
    assert one.low.estimate == pytest.approx((there - (fixed - share({}, 0, 150))).mean())


def test_what_turns_round_and_what_goes_is_said(found: DifferenceTornado) -> None:
    base = found.base
    assert base.settled
    turned = dataclasses.replace(base, estimate=-base.estimate, low=-base.high, high=-base.low)
    gone = dataclasses.replace(base, estimate=0.0, low=-0.1, high=0.1)
    told = dataclasses.replace(
        found, ends={"entry.clock": (turned, base), "body.duck": (gone, gone), "x.y": (None, base)}
    )
    assert told.turning() == {"entry.clock": "low"}
    assert told.vanishing() == {"body.duck": "low and high"}
    assert told.verdict() == (
        "The difference between “far” and “near” turns round with entry.clock at the low end; it "
        "is no longer shown with body.duck at either end."
    )
    firm = dataclasses.replace(found, ends={"entry.clock": (base, base)})
    assert firm.verdict() == (
        "No single default, at either end of its range, is shown to turn the difference between "
        "“far” and “near” round."
    )
    many = dataclasses.replace(found, ends={f"body.{n}": (base, turned) for n in "abcde"})
    assert "body.b at the high end, body.c at the high end and with 2 others." in many.verdict()
    data = told.to_json()
    assert data["turning"] == {"entry.clock": "low"}


def test_it_is_drawn_about_the_difference_with_none_at_all_marked(
    found: DifferenceTornado,
) -> None:
    axes = found.plot()
    assert axes.get_xlabel().startswith("difference in share of the group caught (points")
    lines = {round(float(line.get_xdata()[0]), 9) for line in axes.get_lines()}
    assert {0.0, round(100 * found.base.estimate, 9)} <= lines


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"measure": "release_s"}, "measure to compare"),
        ({"nights": 0}, "nights"),
        ({"top": 0}, "top is 0"),
        ({"workers": 0}, "workers"),
    ],
)
def test_what_cannot_be_asked(asked: dict[str, object], says: str) -> None:
    with pytest.raises(StudyError, match=says):
        difference_tornado(arm("a"), arm("b", NEAR), **asked)  # type: ignore[arg-type]
