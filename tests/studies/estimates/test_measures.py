"""Each measure on one night written out by hand."""

import math

import pytest

from shared.identities import check_identities
from soundergate.engine.outcomes import Outcomes
from soundergate.studies.estimates.measures import MEASURES, REQUIRED, measure

NIGHT = {
    "night": 0,
    "group_size": 20,
    "arrived": 16,
    "released": True,
    "release_s": 7200.5,
    "inside_at_release": 9,
    "caught": 4,
    "escaped_before": 3,
    "escaped_during": 2,
    "escaped_after": 5,
    "never_entered": 6,
    "educated": 7,
    "struck": 1,
    "strike_energy_j": 30.0,
    "whole_group": False,
    "operator_min": 12.5,
    "night_s": 36000.0,
}
WANTED = {
    "fraction_caught": 4 / 20,
    "caught": 4,
    "escaped": 2 + 5,
    "whole_group": 0,
    "released": 1,
    "failed_release": 0,
    "fraction_of_arrived": 4 / 16,
    "left_before": 3,
    "never_entered": 6,
    "educated": 7,
    "struck": 1,
    "release_s": 7200.5,
    "operator_min": 12.5,
}


def one_night(**changes):
    return Outcomes.from_columns({name: [v] for name, v in {**NIGHT, **changes}.items()})


def value(name, outcomes):
    values, divisor = MEASURES[name].column(outcomes)
    return (values / divisor).tolist()


@pytest.mark.parametrize("name", MEASURES)
def test_value_of_the_night(name):
    check_identities(one_night())
    assert value(name, one_night()) == [WANTED[name]]


def test_every_measure_is_checked_and_the_required_come_first():
    assert list(WANTED) == list(MEASURES)
    assert tuple(MEASURES)[: len(REQUIRED)] == REQUIRED


def test_nights_without_an_answer():
    failed = one_night(released=False)
    assert value("failed_release", failed) == [1]
    assert value("release_s", failed) == []
    silent = one_night(released=False, release_s=math.nan, operator_min=math.nan)
    assert value("failed_release", silent) == [0]
    assert value("operator_min", silent) == [0]
    nobody = one_night(arrived=0, caught=0)
    assert value("fraction_of_arrived", nobody) == []


def test_bounds_follow_the_group():
    assert measure("caught").bounds(20) == (0, 20)
    assert measure("fraction_caught").bounds(20) == (0, 1)
    assert measure("whole_group").bounds(20) == (0, 1)
    assert measure("release_s").bounds(20) == (0, math.inf)
    with pytest.raises(ValueError, match="one of fraction_caught, caught"):
        measure("weight")
