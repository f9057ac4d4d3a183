"""Uncertain defaults as inputs: which there are, how they move, what follows what."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import load, loads, with_values
from soundergate.scenario.register import register
from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.inputs import Input, decisions_of, inputs_of, kept, moved

TWO_GATES = """
[sounder]
sows = 2
juveniles = 4

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop"}

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop", drag = "2 lbf"}

[trigger]
kind = "counter"
"""


def of(known: str) -> Input:
    return Input(known, (known,), register()[known])


@pytest.fixture
def scenario(scenario_file):
    return load(scenario_file)


def test_only_what_the_file_leaves_open_and_a_night_reads(scenario):
    found = {one.id for one in inputs_of(scenario)}
    assert {"entry.clock", "entry.clock.sigma", "opening.gate.drop.drag_share"} <= found
    assert {"bait.levels_appetite", "trigger.false_release"} <= found
    assert "corral.bait_distance" not in found, "a decision"
    assert "trigger.line.height" not in found, "the file states it"
    assert not {name.split(".")[0] for name in found} & {"campaign", "population", "costs"}
    assert "opening.gate.drop.counterweight" not in found, "a choice has no range"
    assert all(register()[name].low is not None for name in found)


def test_openings_that_share_a_default_share_an_input():
    found = {one.id: one for one in inputs_of(loads(TWO_GATES))}
    assert found["opening.gate.drop.friction"].paths == (
        "opening.1.gate.friction",
        "opening.2.gate.friction",
    )
    assert found["opening.gate.drop.drag_share"].paths == ("opening.1.gate.drag_share",)
    night = moved(loads(TWO_GATES), {found["opening.gate.drop.friction"]: 0.95})
    high = register()["opening.gate.drop.friction"].high
    assert [o.gate.friction.median for o in night.opening] == pytest.approx([high, high])


def test_some_by_id_or_by_the_beginning_of_it(scenario):
    assert [one.id for one in inputs_of(scenario, "entry.clock")] == [
        "entry.clock",
        "entry.clock.sigma",
    ]
    assert {one.id.split(".")[0] for one in inputs_of(scenario, ["entry", "leaving"])} == {
        "entry",
        "leaving",
    }
    with pytest.raises(StudyError, match=r"entr: there is no such thing to move in this scenario"):
        inputs_of(scenario, ["entr"])


def test_values_along_the_range():
    assert of("entry.shy_share").at(0.5) == pytest.approx(0.05)
    clock = of("entry.clock")
    assert [clock.at(share) for share in (0.05, 0.5, 0.95)] == [10, 45, 300]
    appetite = of("bait.levels_appetite")
    assert appetite.at(0.95) == register()["bait.levels_appetite"].high
    assert appetite.at(0.5)[4] == pytest.approx(30)
    wide = of("corral.diameter")
    assert [wide.at(share) for share in (0.01, 0.05, 0.95)] == [16, 16, 60]
    assert wide.at(0.5) == pytest.approx(math.sqrt(16 * 60))
    for wrong in (-0.1, 1.1, math.nan):
        with pytest.raises(ValueError, match="between 0 and 1"):
            clock.at(wrong)


@given(st.sampled_from(sorted(k for k, e in register().items() if e.low is not None)),
       st.floats(0.05, 0.95), st.floats(0.05, 0.95))  # fmt: skip
def test_values_rise_and_nine_tenths_stay_within_the_range(known, a, b):
    one, entry = of(known), register()[known]
    values = [np.atleast_1d(one.at(share)) for share in sorted((a, b))]
    low, high = np.atleast_1d(entry.low), np.atleast_1d(entry.high)
    rounding = 1e-12 * np.maximum(np.abs(low), np.abs(high))  # a low end may lie below 0
    assert (values[0] <= values[1] + rounding).all()
    for value in values:
        assert (value >= np.where(entry.none > 0, 0.0, low) - rounding).all()
        assert (value <= high + rounding).all()


def test_what_is_relative_follows_what_it_is_relative_to():
    night = loads(TWO_GATES)
    found = {one.id: one for one in decisions_of(night)}
    wide, far = (found[name] for name in ("corral.diameter", "corral.bait_distance"))
    both = moved(night, {far: 0.95, wide: 0.95})
    assert both.corral.diameter == pytest.approx(60 * 0.3048)
    assert both.corral.bait_distance == pytest.approx(0.9 * 60 * 0.3048)
    assert moved(night, {}) == night


def test_a_trap_that_cannot_be_built_says_so(scenario):
    far = with_values(scenario, {"corral.bait_distance": "18 ft"})
    (diameter,) = kept(decisions_of(far), "corral.diameter")
    with pytest.raises(ScenarioError, match="the bait lies outside the fence"):
        moved(far, {diameter: 0.05})


@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize(
    ("said", "median", "sigma"),
    [
        (None, 300, 1.2),
        ("20 s", 20, 0.8),
        ({"about": "20 s"}, 20 * 300 / 45, 1.2),
        ({"about": "20 s", "sigma": 0.5}, 20 * 300 / 45, 0.5),
        ({"sigma": 0.5}, 300, 0.5),
        ({"median": "20 s"}, 20, 1.2),
    ],
)
def test_middle_and_scatter_move_apart_from_what_is_stated(scenario, said, median, sigma, turn):
    """In whatever order they are given, and beside what the file says of the same quantity."""
    given = scenario if said is None else with_values(scenario, {"entry.clock": said})
    ends = dict.fromkeys([one for one in inputs_of(given) if "clock" in one.id][::turn], 0.95)
    clock = moved(given, ends).entry.clock
    assert clock.median() == pytest.approx(median)
    assert clock.b == sigma


@pytest.mark.parametrize("turn", [1, -1])
def test_a_share_of_the_weight_and_its_scatter_move_together(turn):
    night = loads(TWO_GATES)
    ends = dict.fromkeys(inputs_of(night, "opening.gate.drop")[::turn], 0.95)
    first, second = (opening.gate for opening in moved(night, ends).opening)
    assert (first.drag_share.median, first.drag_share.sigma) == (pytest.approx(0.4), 1.3)
    assert second.drag.sigma == 0.9, "stated by a plain value, and so known with its scatter"
    assert second.drag.median == pytest.approx(2 * 4.4482216152605)
    assert first.friction == second.friction
