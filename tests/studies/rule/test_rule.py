"""A rule found is tried on other nights, beside plain ones, and may be pasted into a file."""

from __future__ import annotations

import itertools
import json
import tomllib

import numpy as np
import pytest

import soundergate
from shared.plans import plan_of
from shared.traps import SOLENOID_DROP
from soundergate.engine import play
from soundergate.studies.errors import StudyError
from soundergate.studies.rule.release import (
    ALL,
    FIRST,
    FOUND,
    OWN,
    WANTED,
    ReleaseResult,
    _found,
    arms_of,
    own_rule,
    rule,
    with_release,
)
from soundergate.studies.rule.release_rule import NEVER, STAGES, Played, Rule, Step, play_hindsight
from soundergate.studies.rule.release_value import Objective, values_of

SEED = 12
BASE = {
    "title": "Invented: a person watches",
    "sounder": {"sows": 2, "juveniles": 4, "piglets": 2},
    "opening": [SOLENOID_DROP],
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


SOUGHT = [
    ("fraction_caught", 3.0, 20),
    ("whole_group", 1.0, 50),
    *(
        pytest.param(wanted, costs, nights, marks=pytest.mark.slow)
        for wanted in WANTED
        for costs in (0.0, 1.0, 3.0)
        for nights in (5, 20, 200)
    ),
]


@pytest.mark.parametrize(("wanted", "taught_costs", "nights"), SOUGHT)
def test_no_rule_beats_hindsight(watched, wanted: str, taught_costs: float, nights: int) -> None:
    """By the objective, on the very nights on which the rules are judged: never, not by chance."""
    found = rule(watched, wanted, nights=nights, seed=1, searched=100, taught_costs=taught_costs)
    assert all(v.estimate <= found.hindsight.estimate for v in found.values.each.values())
    assert found.hindsight.estimate <= 1.0


def test_hindsight_is_the_best_stage_and_count_of_each_night_judged(watched, result) -> None:
    """Each stage and count played as the rule of a file, one by one, on the nights of the arms."""
    few = rule(watched, nights=40, seed=SEED, searched=100)
    tried = [arm.scenario for arm in arms_of(watched, few.rule)]
    for at, until in itertools.pairwise((*STAGES, None)):
        for count in range(1, 9):
            tried.append(with_release(watched, Rule(tuple(
                Step(*step) for step in
                [(0.0, NEVER)] * (at > 0) + [(at, count)] + [(until, NEVER)] * (until is not None)
            )).values()))  # fmt: skip
    worth = [few.objective.of(play(plan_of(s), SEED, 0, 40)) for s in tried]
    assert few.hindsight.estimate == pytest.approx(np.max(worth, axis=0).mean(), abs=1e-12)
    low, high, _ = result.hindsight.interval
    assert low < result.hindsight.estimate < high


def test_hindsight_does_not_depend_on_its_blocks(watched, monkeypatch) -> None:
    plan = plan_of(watched)
    gain = Objective("fraction_caught").of
    whole = play_hindsight(plan, gain, SEED, 50)
    monkeypatch.setattr("soundergate.studies.rule.release_rule.BLOCK", 20)
    assert np.array_equal(play_hindsight(plan, gain, SEED, 50), whole)


def test_figures_are_those_of_the_scenario_with_that_rule(watched, result: ReleaseResult) -> None:
    pasted = with_release(watched, result.rule.values())
    outcomes = play(plan_of(pasted), SEED, 0, 3000)
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


@pytest.mark.slow
def test_the_taught_have_a_price(watched) -> None:
    """Where a pig that learned costs three, fewer of them are made."""
    dear = rule(watched, nights=2000, seed=SEED, searched=800, taught_costs=3.0)
    cheap = rule(watched, nights=2000, seed=SEED, searched=800, taught_costs=0.0)
    ours, theirs = (r.comparison[FOUND]["educated"].estimate for r in (dear, cheap))
    assert ours < theirs
    assert dear.comparison[FOUND]["fraction_caught"].estimate <= (
        cheap.comparison[FOUND]["fraction_caught"].high
    )


@pytest.mark.slow
def test_whole_groups_may_be_what_is_wanted(watched) -> None:
    whole = rule(watched, "whole_group", nights=600, seed=SEED, searched=300)
    own = whole.comparison[OWN]["whole_group"]
    assert whole.comparison[FOUND]["whole_group"].high > own.low
    assert whole.hindsight.estimate <= 1.0


def test_a_night_is_worth_what_is_stated(watched) -> None:
    outcomes = play(plan_of(watched), SEED, 0, 200)
    share = outcomes["caught"] / outcomes["group_size"]
    taught = outcomes["educated"] / outcomes["group_size"]
    assert taught.any()
    assert np.array_equal(Objective("fraction_caught", 0.0).of(outcomes), share)
    assert Objective("fraction_caught").of(outcomes) == pytest.approx(share - taught)
    assert Objective("fraction_caught", 2.0).of(outcomes) == pytest.approx(share - 2 * taught)
    assert np.array_equal(Objective("whole_group", 0.0).of(outcomes), outcomes["whole_group"])
    dear = Objective("whole_group", 0.5).of(outcomes)
    assert dear == pytest.approx(outcomes["whole_group"] - 0.5 * taught)


OWN_RULES = [
    {"count": 8, "patience": "700 s", "min_count": 3},  # at times that are not tried
    {"share": 0.55},
    {"rule": [{"after": "0 s", "count": 4}, {"after": "420 s", "wait": True}]},  # asks for more
    {"rule": [{"after": "0 s", "share": 1.0}, {"after": "7 min", "count": 5, "share": 0.9}]},
]


@pytest.mark.parametrize(
    ("own", "wanted"),
    [
        pytest.param(own, wanted, marks=[pytest.mark.slow] * (number % 2 != second or number < 2))
        for number, own in enumerate(OWN_RULES)
        for second, wanted in enumerate(("fraction_caught", "whole_group"))
    ],
)
def test_it_never_does_worse_on_the_nights_searched_than_the_files_own(
    scenario_of, wanted: str, own
) -> None:
    trigger = {"kind": "person", "link": "radio", **own}
    watched = scenario_of(BASE | {"trigger": trigger})
    found = rule(watched, wanted, nights=50, seed=SEED, searched=100)
    assert found.in_sample[FOUND] >= found.in_sample[OWN]
    with_it = with_release(watched, found.rule.values())
    nights = play(plan_of(with_it), SEED, 10**9, 100)
    worth = Objective(wanted).of(nights).mean()
    assert worth == pytest.approx(found.in_sample[FOUND], abs=1e-12)


def test_a_rule_that_nothing_tried_comes_up_to_is_kept(watched) -> None:
    """One that waits within errors is given up for the best, and that for the file's own."""
    gain, when = np.zeros((100, 1, 2)), np.full((100, 1, 2), np.inf)
    when[:, 0, 0], gain[0, 0, 0] = 0.0, 1.0
    tried = Played((0.0,), (1, NEVER), when, gain)
    own = Rule((Step(0.0, NEVER, 0.9),))
    waits, first = Rule((Step(0.0, NEVER),)), Rule((Step(0.0, 1),))
    assert _found(tried, own, 0.0) == (waits, {FOUND: 0.0, OWN: 0.0})
    assert _found(tried, own, 0.005) == (first, {FOUND: 0.01, OWN: 0.005})
    assert _found(tried, own, 0.02) == (own, {FOUND: 0.02, OWN: 0.02})


@pytest.mark.parametrize(
    "own", [{"count": 6, "patience": "never"}, {"share": 0.5, "min_count": 2}, {"link": "radio"}]
)
def test_the_files_own_rule_as_steps_is_the_same_rule(scenario_of, own) -> None:
    own = {key: value for key, value in own.items() if value != "never"}
    watched = scenario_of(BASE | {"trigger": {"kind": "person", **own}})
    same = with_release(watched, own_rule(watched).values())
    ours, theirs = (play(plan_of(s), SEED, 0, 200) for s in (watched, same))
    for name in ("released", "caught", "release_s"):
        assert np.array_equal(ours[name], theirs[name], equal_nan=True)


def test_where_nothing_can_be_told_apart_it_waits(scenario_of) -> None:
    """Nobody comes: every rule is worth nothing, and none is to be preferred but patience."""
    far = {"first": {"fixed": "47 h"}}
    empty = scenario_of(BASE | {"arrival": far, "trigger": {"kind": "person", "count": 1}})
    for wanted in ("fraction_caught", "whole_group"):
        found = rule(empty, wanted, nights=100, seed=1, searched=100)
        assert found.rule == Rule((Step(0.0, NEVER),))
        told = json.loads(json.dumps(found.to_json(), allow_nan=False))
        assert told["with_hindsight"]["estimate"] == 0
        assert told["values"]["each"][FOUND]["estimate"] == 0


@pytest.mark.slow
def test_one_pig_of_many_is_no_whole_group(watched) -> None:
    """Where the whole group is sought, nothing is let go on a few."""
    for taught_costs in (0.0, 1.0):
        found = rule(watched, "whole_group", nights=50, searched=800, taught_costs=taught_costs)
        assert min(step.count for step in found.rule.steps) >= 5


def test_rules_are_weighed_by_what_is_sought_on_common_nights(watched, result) -> None:
    nights = {}
    for arm in arms_of(watched, result.rule):
        nights[arm.name] = play(plan_of(arm.scenario), SEED, 0, 3000)
    again = values_of(nights, Objective("fraction_caught"), 0.95)
    assert again.to_json() == result.values.to_json()
    for name in (OWN, ALL, FIRST):
        gap = result.values.each[FOUND].estimate - result.values.each[name].estimate
        assert result.values.ahead[name].estimate == pytest.approx(gap)
        assert result.values.ahead[name].settled
        assert gap > 0


def test_worlds_say_whether_it_lasts(result: ReleaseResult) -> None:
    assert result.worlds is not None
    assert result.worlds.worlds == 20
    assert (result.worlds.arms[0], result.worlds.arms[1]) == (FOUND, OWN)


def test_a_result_shows_itself(result: ReleaseResult) -> None:
    assert list(result.table.columns) == ["minutes_after_alert", "count", "share"]
    assert len(result.table) == len(result.rule.steps)
    assert result._repr_html_().startswith("<table")
    assert result.interval("whole_group", 0.5).high < result.interval("whole_group").high
    told = json.loads(json.dumps(result.to_json()))
    assert told["rule"] == result.rule.values()
    assert told["with_hindsight"]["estimate"] == result.hindsight.estimate


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
        ({"worlds": -1}, "worlds"),
    ],
)
def test_bad_numbers_are_named_before_a_night_is_played(
    watched, monkeypatch, options, words: str
) -> None:
    def plays(*arguments, **given):
        raise AssertionError("a night is played")

    for name in ("play_stages", "play_hindsight", "run_chunks", "compare", "robust"):
        monkeypatch.setattr(f"soundergate.studies.rule.release.{name}", plays)
    with pytest.raises(StudyError, match=words):
        rule(watched, **{"nights": 30, "searched": 100} | options)


def test_it_is_for_one_person_on_a_link(scenario_of) -> None:
    line = scenario_of(BASE | {"trigger": {"kind": "line"}})
    with pytest.raises(StudyError, match=r"trigger\.kind.*is 'line'.*person"):
        soundergate.rule(line)
    both = {"any": [{"kind": "line"}, {"kind": "person"}]}
    with pytest.raises(StudyError, match=r"trigger\.kind"):
        soundergate.rule(scenario_of(BASE | {"trigger": both}))
