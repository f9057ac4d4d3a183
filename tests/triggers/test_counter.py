"""A counter's numbers as the engines read them."""

from __future__ import annotations

import math

import pytest

from soundergate.mechanics.setup import solve
from soundergate.triggers import counter

WAY = {"width": "4 ft", "height": "3 ft", "gate": {"kind": "drop"}}


@pytest.fixture
def row(scenario_of):
    def made(**trigger):
        table = {
            "sounder": {"sows": 9},
            "opening": [WAY],
            "trigger": {"kind": "counter", **trigger},
        }
        scenario = scenario_of(table)
        return counter.row(scenario.trigger, scenario, solve(scenario))

    return made


def test_given_numbers(row) -> None:
    found = row(count=4, miss=0.1, double=0.02, dwell="2 min")
    assert found == {
        "count_needed": 4.0,
        "miss_share": 0.1,
        "double_share": 0.02,
        "count_dwell": 120.0,
    }


def test_by_default_the_whole_group_and_no_dwell(row) -> None:
    found = row()
    assert found["count_needed"] == 9.0
    assert found["count_dwell"] == math.inf
