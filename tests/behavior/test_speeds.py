"""Speeds of entering and leaving against values worked by hand from the words of the model."""

from __future__ import annotations

import math

import numpy as np
import pytest

from soundergate.behavior import speeds
from soundergate.behavior.group import group_of

TEXT = """
title = "Invented: six pigs, room for twenty"

[sounder]
sows = 2
juveniles = 4

[corral]
diameter = "10 m"
space_per_pig = "3.926990816987242 m^2"   # 25 pi / 20

[bait]
levels_appetite = [1, 1.5, 2, 4, 30]

[training]
nights = 5

[[opening]]
width = "4 ft"
height = "3 ft"
gate = {kind = "drop"}

[trigger]
kind = "none"

[entry]
habituation_nights = 3
social_pull = 0.1

[leaving]
crowding = 0.5
contagion = 0.4
"""


def entry_speed(scenario):
    return speeds.entry_speed(scenario, group_of(scenario))


def leave_speed(scenario):
    return speeds.leave_speed(scenario, group_of(scenario))


TRAINED = 1.0 - math.exp(-2.0)  # five nights and the set night, tau of three


def test_habituation_counts_the_set_night(scenario_of) -> None:
    assert speeds.habituation(scenario_of(TEXT)) == pytest.approx(TRAINED, rel=1e-15)
    untrained = scenario_of(TEXT, training={"nights": 0})
    assert speeds.habituation(untrained) == pytest.approx(1 - math.exp(-1 / 3), rel=1e-15)
    assert speeds.habituation(scenario_of(TEXT, entry={"habituation_nights": 0})) == 1.0


def test_more_training_never_slows(scenario_of) -> None:
    found = [speeds.habituation(scenario_of(TEXT, training={"nights": n})) for n in range(0, 40, 3)]
    assert found == sorted(found)
    assert found[-1] < 1.0


def test_openness_is_a_power_of_total_width(scenario_of) -> None:
    way = {"width": "8 ft", "height": "3 ft", "gate": {"kind": "drop"}}
    one = scenario_of(TEXT, opening=[way], entry={"openness_slope": 0.5})
    two = scenario_of(TEXT, opening=[way, way], entry={"openness_slope": 0.5})
    assert speeds.openness(one) == pytest.approx(math.sqrt(2.0), rel=1e-12)
    assert speeds.openness(two) == pytest.approx(2.0, rel=1e-12)
    assert speeds.openness(scenario_of(TEXT, opening=[way, way])) == 1.0  # slope 0
    assert speeds.openness(scenario_of(TEXT, entry={"openness_slope": 3.0})) == 1.0  # the reference


def test_entry_speed_table(scenario_of) -> None:
    """Sows and juveniles; the young hold back to 0.4 until a sow is inside."""
    table = entry_speed(scenario_of(TEXT, entry={"leaderless": 0.4}))
    assert table.shape == (2, 2, 7, 5)
    for inside in range(7):
        for level in range(4):
            expected = TRAINED * (1.0 + 0.1 * inside)  # room for 20: six are never too many
            np.testing.assert_allclose(table[:, 1, inside, level], expected, rtol=1e-14)
            np.testing.assert_allclose(table[0, 0, inside, level], expected, rtol=1e-14)
            np.testing.assert_allclose(table[1, 0, inside, level], 0.4 * expected, rtol=1e-14)
    assert (table[..., 4] == 0.0).all()  # nothing left to come for


def test_boars_neither_lead_nor_follow(scenario_of) -> None:
    heads = {"sows": 1, "boars": 1, "piglets": 1, "juveniles": 0}
    scenario = scenario_of(TEXT, sounder=heads, entry={"leaderless": 0.0})
    alone = entry_speed(scenario)[:, 0, 0, 0]  # sow, boar, piglet with no sow inside
    np.testing.assert_allclose(alone, [TRAINED, TRAINED, 0.0], rtol=1e-14)


def test_room_runs_out_over_its_last_part(scenario_of) -> None:
    """Room for four: newcomers hold back once three are in, and nobody makes a fifth."""
    corral = {"space_per_pig": f"{25 * math.pi / 4} m^2"}
    entry = {"habituation_nights": 0, "social_pull": 0, "taper": 0.25}
    scenario = scenario_of(TEXT, corral=corral, entry=entry)
    assert speeds.capacity(scenario) == pytest.approx(4.0, rel=1e-12)
    table = entry_speed(scenario)[0, 1, :, 0]
    np.testing.assert_allclose(table, [1, 1, 1, 1, 0, 0, 0], atol=1e-12)
    wider = scenario_of(
        TEXT, corral={"space_per_pig": f"{25 * math.pi / 6} m^2"}, entry={**entry, "taper": 0.5}
    )
    table = entry_speed(wider)[0, 1, :, 0]
    np.testing.assert_allclose(table, [1, 1, 1, 1, 2 / 3, 1 / 3, 0], atol=1e-12)


def test_no_need_of_room_is_room_for_all(scenario_of) -> None:
    scenario = scenario_of(TEXT, corral={"space_per_pig": "0 m^2"})
    assert speeds.capacity(scenario) == math.inf
    table = entry_speed(scenario)[0, 1, :, 0]
    np.testing.assert_allclose(table, TRAINED * (1.0 + 0.1 * np.arange(7)), rtol=1e-14)
    assert (leave_speed(scenario)[0, :, 0, 0] == 1.0).all()


def test_leave_speed_table(scenario_of) -> None:
    table = leave_speed(scenario_of(TEXT))
    assert table.shape == (2, 7, 5, 5)
    for inside in range(7):
        for level, appetite in enumerate([1, 1.5, 2, 4, 30]):
            for recent in range(5):
                expected = (1 + 0.5 * inside / 20) * (1 + 0.4 * recent) * appetite
                np.testing.assert_allclose(table[:, inside, level, recent], expected, rtol=1e-12)


def test_a_crowd_is_never_fuller_than_full(scenario_of) -> None:
    corral = {"space_per_pig": f"{25 * math.pi / 2} m^2"}
    table = leave_speed(scenario_of(TEXT, corral=corral))[0, :, 0, 0]
    np.testing.assert_allclose(table, [1, 1.25, 1.5, 1.5, 1.5, 1.5, 1.5], rtol=1e-12)


def test_tables_reach_the_largest_group_of_all_sounders(scenario_of) -> None:
    sounder = {"varies": {"mean": 8, "low": 2, "high": 30}}
    scenario = scenario_of(TEXT, sounder=sounder, other=[{"sows": 1}, {"boars": 2}])
    assert entry_speed(scenario).shape == (4, 2, 34, 5)
    assert leave_speed(scenario).shape == (4, 34, 5, 5)


@pytest.mark.parametrize("cv", [0.2, 0.5, 1.0, 2.5])
def test_frailty_has_mean_one_and_its_cv(cv, scenario_of) -> None:
    kind, shape, scale = speeds.frailty(scenario_of(TEXT, entry={"frailty_cv": cv}))
    assert kind == "gamma"
    assert shape * scale == pytest.approx(1.0, rel=1e-12)
    assert math.sqrt(shape) * scale == pytest.approx(cv, rel=1e-12)


def test_without_frailty_all_are_alike(scenario_of) -> None:
    assert speeds.frailty(scenario_of(TEXT, entry={"frailty_cv": 0})) == ("fixed", 1.0, 0.0)


def test_the_reference_state_has_speed_one(scenario_of) -> None:
    """Fully trained, an opening of the reference width, nobody inside, all the bait there."""
    entry = {"habituation_nights": 0, "openness_slope": 1.0, "reference_width": "4 ft"}
    scenario = scenario_of(TEXT, entry=entry)
    assert entry_speed(scenario)[0, 1, 0, 0] == 1.0
    assert leave_speed(scenario)[0, 0, 0, 0] == 1.0


@pytest.mark.parametrize("slope", [-5, 5])
@pytest.mark.parametrize("reference", ["1 in", "200 ft"])
@pytest.mark.parametrize("width", ["1 in", "40 ft"])
def test_speeds_are_numbers_at_every_bound(slope, reference, width):
    """Bounds of what a file may say leave room for all of them at once."""
    from soundergate.scenario.loading import loads, with_values

    night = with_values(
        loads(TEXT),
        {
            "opening.width": width,
            "corral.diameter": "10 m",
            "entry.openness_slope": slope,
            "entry.reference_width": reference,
            "entry.social_pull": 100,
            "leaving.crowding": 100,
            "leaving.contagion": 100,
            "bait.levels_appetite": [1e6] * 5,
        },
    )
    group = group_of(night)
    for table in (speeds.entry_speed(night, group), speeds.leave_speed(night, group)):
        assert np.isfinite(table).all()
        assert table.max() < 1e40


@pytest.mark.parametrize(
    ("key", "value"), [("entry.reference_width", "1e-300 m"), ("bait.levels_appetite", [1e300] * 5)]
)
def test_what_would_make_no_speed_is_refused(key, value):
    from soundergate.scenario.errors import ScenarioError
    from soundergate.scenario.loading import loads, with_values

    with pytest.raises(ScenarioError, match=r"out of range|not believable") as caught:
        with_values(loads(TEXT), {key: value})
    assert caught.value.key.startswith(key)
