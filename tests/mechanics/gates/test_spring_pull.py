"""A spring said by its pull at the leaf's end is the spring said by rate and preload."""

from __future__ import annotations

from math import radians

import pytest

from soundergate.mechanics.gates.side_hinged import spring_of
from soundergate.mechanics.setup import solve
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import from_table, loads, with_values

TEXT = """
[sounder]
sows = 2
[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "side-hinged", set_angle = "90 deg", leaves = 2%s}
[trigger]
kind = "person"
"""


def gate(more: str = ""):
    return loads(TEXT % more)


@pytest.mark.parametrize("leaves", [1, 2])
def test_the_pull_at_both_ends_of_the_swing_is_the_torque(leaves: int) -> None:
    scenario = with_values(
        gate(', pull_set = "30 N", pull_shut = "12 N"'), {"opening.gate.leaves": leaves}
    )
    spring = spring_of(scenario.opening[0].gate, scenario.opening[0].width)
    leaf = scenario.opening[0].width / leaves
    assert spring.rate * spring.preload == pytest.approx(12 * leaf)
    assert spring.rate * (spring.preload + radians(90)) == pytest.approx(30 * leaf)


def test_the_pull_at_the_set_angle_alone_keeps_the_preload() -> None:
    by_pull = gate(', pull_set = "30 N", preload = "45 deg"')
    spring = spring_of(by_pull.opening[0].gate, by_pull.opening[0].width)
    assert spring.preload == pytest.approx(radians(45), rel=1e-12)
    by_rate = gate(f', spring_rate = "{spring.rate!r} N*m", preload = "45 deg"')
    one, other = (solve(s).openings[0].curve for s in (by_pull, by_rate))
    assert one.shut_time == pytest.approx(other.shut_time, rel=1e-12)


def test_it_survives_being_written_down() -> None:
    for more in (', pull_set = "30 N"', ', pull_set = "30 N", pull_shut = "12 N"'):
        scenario = gate(more)
        assert from_table(scenario.resolved()) == scenario


@pytest.mark.parametrize(
    ("more", "key", "words"),
    [
        (', pull_shut = "5 N"', "pull_shut", "says nothing alone"),
        (', pull_set = "5 N", spring_rate = "3 N*m"', "spring_rate", "leave out one"),
        (', pull_set = "9 N", pull_shut = "5 N", preload = "5 deg"', "preload", "leave out one"),
        (', pull_set = "5 N", pull_shut = "5 N"', "pull_shut", "below pull_set"),
    ],
)
def test_what_cannot_be(more: str, key: str, words: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        gate(more)
    assert caught.value.key == f"opening.1.gate.{key}"
    assert words in str(caught.value)


def test_a_spring_too_weak_is_told_by_its_pull() -> None:
    with pytest.raises(ScenarioError, match="pull_set") as caught:
        solve(gate(', pull_set = "0.00000001 N"'))
    assert "shuts it at typical friction" in str(caught.value)
