"""A rule found is tried on other nights, beside plain ones, and may be pasted into a file."""

from __future__ import annotations

import json
import tomllib

import numpy as np
import pytest

import soundergate
from soundergate.engine import play
from soundergate.engine.build import build
from soundergate.mechanics.setup import solve
from soundergate.study.errors import StudyError
from soundergate.study.release import (
    ALL,
    FIRST,
    FOUND,
    OWN,
    ReleaseResult,
    arms_of,
    rule,
    with_release,
    worth,
)
from soundergate.study.release_rule import Rule, Step

SEED = 12
BASE = {
    "title": "Invented: a person watches",
    "sounder": {"sows": 2, "juveniles": 4, "piglets": 2},
    "opening": [
        {
            "width": "4 ft",
            "height": "3 ft",
            "gate": {"kind": "drop", "sheet": "14 gauge"},
            "latch": {
                "kind": "pin",
                "puller": "solenoid",
                "pull": "25 lbf",
                "lever": 4,
                "engaged": "1/8 in",
            },
        }
    ],
    "trigger": {"kind": "person", "link": "modem", "share": 0.9},
}


@pytest.fixture(scope="module")
def watched(scenario_of):
    return scenario_of(BASE)


@pytest.fixture(scope="module")
def result(watched) -> ReleaseResult:
    return rule(watched, nights=3000, seed=SEED, searched=800, worlds=20)


def test_the_rule_found_beats_plain_ones_on_fresh_nights(result: ReleaseResult) -> None:
    """Settled at the 95 % level of the comparison, all differences together."""
    found = result.comparison[FOUND]["fraction_caught"].estimate
    for d in result.comparison.differences:
        if d.measure == "fraction_caught":
            assert d.settled
            assert FOUND in (d.a, d.b)
    for name in (OWN, ALL, FIRST):
        assert found > result.comparison[name]["fraction_caught"].estimate


def test_no_rule_beats_hindsight(result: ReleaseResult) -> None:
    mean, interval = result.hindsight
    assert interval.low < mean < interval.high
    assert result.comparison[FOUND]["fraction_caught"].low < interval.high


def test_figures_are_those_of_the_scenario_with_that_rule(watched, result: ReleaseResult) -> None:
    pasted = with_release(watched, result.rule.values())
    outcomes = play(build(pasted, solve(pasted)), SEED, 0, 3000)
    caught = (outcomes["caught"] / outcomes["group_size"]).mean()
    assert result.comparison[FOUND]["fraction_caught"].estimate == pytest.approx(caught, rel=1e-12)


def test_the_line_to_paste_is_toml_that_loads(watched, result: ReleaseResult) -> None:
    steps = tomllib.loads(result.rule.toml())["rule"]
    assert steps == result.rule.values()
    assert with_release(watched, steps) == with_release(watched, result.rule.values())
    assert not with_release(watched, steps).raw["trigger"].get("share")


def test_arms_are_the_rule_its_file_and_two_plain_ones(watched) -> None:
    arms = {arm.name: arm.scenario for arm in arms_of(watched, Rule((Step(0.0, 3),)))}
    assert list(arms) == [FOUND, OWN, ALL, FIRST]
    assert arms[OWN] is watched
    assert [arms[name].trigger.rule[0].count for name in (FOUND, ALL, FIRST)] == [3, 8, 1]
    assert all(arms[name].trigger.link == "modem" for name in arms)


def test_the_taught_have_a_price(watched) -> None:
    """Where a pig that learned costs three, fewer of them are made."""
    dear = rule(watched, nights=2000, seed=SEED, searched=800, taught_costs=3.0)
    cheap = rule(watched, nights=2000, seed=SEED, searched=800)
    ours, theirs = (r.comparison[FOUND]["educated"].estimate for r in (dear, cheap))
    assert ours < theirs
    assert dear.comparison[FOUND]["fraction_caught"].estimate <= (
        cheap.comparison[FOUND]["fraction_caught"].high
    )


def test_whole_groups_may_be_what_is_wanted(watched) -> None:
    whole = rule(watched, "whole_group", nights=2000, seed=SEED, searched=800)
    own = whole.comparison[OWN]["whole_group"]
    assert whole.comparison[FOUND]["whole_group"].high > own.low
    assert whole.hindsight[0] <= 1.01


def test_a_night_is_worth_what_is_stated(watched) -> None:
    outcomes = play(build(watched, solve(watched)), SEED, 0, 200)
    share = outcomes["caught"] / outcomes["group_size"]
    assert np.array_equal(worth("fraction_caught", 0.0)(outcomes), share)
    dear = worth("fraction_caught", 2.0)(outcomes)
    assert dear == pytest.approx(share - 2 * outcomes["educated"] / outcomes["group_size"])
    whole = worth("whole_group", 0.0)(outcomes)
    assert ((whole > 0.5) == outcomes["whole_group"]).all()


def test_worlds_say_whether_it_lasts(result: ReleaseResult) -> None:
    assert result.worlds is not None
    assert result.worlds.worlds == 20
    assert (result.worlds.arms[0], result.worlds.arms[1]) == (FOUND, OWN)


def test_a_result_shows_itself(result: ReleaseResult) -> None:
    assert list(result.table.columns) == ["minutes_after_alert", "count"]
    assert len(result.table) == len(result.rule.steps)
    assert result._repr_html_().startswith("<table")
    assert result.interval("whole_group", 0.5).high < result.interval("whole_group").high
    told = json.loads(json.dumps(result.to_json()))
    assert told["rule"] == result.rule.values()
    assert told["with_hindsight"]["estimate"] == result.hindsight[0]


def test_the_same_seed_finds_the_same_rule(watched) -> None:
    one, other = (rule(watched, nights=50, seed=3, searched=200, workers=n) for n in (1, 2))
    assert one.to_json() == other.to_json()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"wanted": "caught"}, "measure is 'caught'"),
        ({"taught_costs": -1}, "taught costs is -1"),
        ({"taught_costs": True}, "taught costs is True"),
        ({"searched": 10}, "searched is 10"),
        ({"nights": 0}, "nights is 0"),
        ({"seed": -3}, "seed is -3"),
        ({"level": 3}, "level is 3"),
        ({"worlds": 3}, "worlds"),
    ],
)
def test_bad_numbers_are_named(watched, options, words: str) -> None:
    with pytest.raises(StudyError, match=words):
        rule(watched, **{"nights": 30, "searched": 100} | options)


def test_it_is_for_one_person_on_a_link(scenario_of) -> None:
    line = scenario_of(BASE | {"trigger": {"kind": "line"}})
    with pytest.raises(StudyError, match=r"trigger\.kind.*is 'line'.*person"):
        soundergate.rule(line)
    both = {"any": [{"kind": "line"}, {"kind": "person"}]}
    with pytest.raises(StudyError, match=r"trigger\.kind"):
        soundergate.rule(scenario_of(BASE | {"trigger": both}))
