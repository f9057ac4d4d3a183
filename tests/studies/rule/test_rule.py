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
from soundergate.studies.rule.release_rule import (
    NEVER,
    STAGES,
    Played,
    Rule,
    Step,
    best_rule,
    play_hindsight,
)
from soundergate.studies.rule.release_value import Objective, values_of
from soundergate.studies.rule.search import APART, WORLDS, search_in_worlds
from soundergate.studies.worlds.worlds import draw, in_world, unknowns

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


FEW, NIGHTS = 4, 600


@pytest.fixture(scope="module")
def few_worlds():
    """A rule is sought in a few worlds only, which takes less time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("soundergate.studies.rule.search.WORLDS", FEW)
        yield


@pytest.fixture(scope="module")
def result(watched, few_worlds) -> ReleaseResult:
    return rule(watched, nights=NIGHTS, seed=SEED, searched=300, worlds=20)


@pytest.fixture(scope="module")
def as_assumed(watched) -> ReleaseResult:
    """Sought where every unknown is as it is assumed; what hindsight would do is not asked."""
    with pytest.MonkeyPatch.context() as patch:
        name = "soundergate.studies.rule.release.play_hindsight"
        patch.setattr(name, lambda *_, **__: np.zeros(3000))
        return rule(watched, nights=3000, seed=SEED, searched=800)


def test_the_rule_found_beats_plain_ones_on_fresh_nights(as_assumed: ReleaseResult) -> None:
    """Settled at the 95 % level of the comparison, all differences together."""
    result = as_assumed
    assert (result.worlds, result.sought_in) == (None, 0)
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


@pytest.mark.slow
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


@pytest.mark.slow
def test_hindsight_does_not_depend_on_its_blocks(watched, monkeypatch) -> None:
    plan = plan_of(watched)
    gain = Objective("fraction_caught").of
    whole = play_hindsight(plan, gain, SEED, 50)
    monkeypatch.setattr("soundergate.studies.rule.release_rule.BLOCK", 20)
    assert np.array_equal(play_hindsight(plan, gain, SEED, 50), whole)


def test_figures_are_those_of_the_scenario_with_that_rule(watched, result: ReleaseResult) -> None:
    pasted = with_release(watched, result.rule.values())
    outcomes = play(plan_of(pasted), SEED, 0, NIGHTS)
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


@pytest.mark.slow
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


def test_rules_are_weighed_by_what_is_sought_on_common_nights(watched, as_assumed) -> None:
    result = as_assumed
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


def test_the_rule_is_judged_against_each_other_one_by_what_it_was_sought_for(watched, result):
    """Each world played again by hand, with the rules as they would stand in a file."""
    over = result.worlds
    assert over is not None
    assert (over.worlds, result.sought_in) == (20, FEW)
    assert [(v.a, v.b, v.measure) for v in result.verdicts] == [
        (FOUND, other, "score") for other in (OWN, ALL, FIRST)
    ]
    objective = Objective("fraction_caught")
    arms = {arm.name: arm.scenario for arm in arms_of(watched, result.rule)}
    what = unknowns(arms.values())
    row = next(n for n, world in enumerate(over.played) if world not in over.longer)
    first = (over.played[row] - 1) * over.nights
    for name, scenario in arms.items():
        there = in_world(scenario, what, over.places[row].tolist())
        nights = play(plan_of(there), SEED, first, over.nights)
        assert over.means["score"][row, over.arms.index(name)] == pytest.approx(
            objective.of(nights).mean(), abs=1e-12
        )
    v = result.verdicts[2]
    gains = over.means["score"] @ np.array([1, 0, 0, -1])
    assert v.mean == pytest.approx(gains.mean())
    assert v.a_better == pytest.approx(np.mean(gains > v.negligible))
    assert v.mean > 0  # to let go at the first pig


def test_worlds_of_the_search_are_none_of_those_that_judge(watched) -> None:
    what = unknowns([watched])
    sought, judged = draw(what, WORLDS, SEED, APART), draw(what, 200, SEED)
    assert not np.isin(sought, judged).any()
    assert np.array_equal(draw(what, 400, SEED)[:200], judged)


def test_a_rule_is_sought_on_nights_of_plausible_worlds(watched, few_worlds) -> None:
    """Every world has its own nights, and what a stage and count come to there is what that rule
    comes to in a file of that world."""
    objective = Objective("fraction_caught")
    found = search_in_worlds(watched, 8, objective.of, SEED, 3 * FEW + 1, lambda _: None)
    assert (found.worlds, found.nights, found.played.each) == (FEW, 3 * FEW, 3)
    what = unknowns([watched])
    places = draw(what, FEW, SEED, APART)
    for world in (0, FEW - 1):
        there = in_world(watched, what, places[world].tolist())
        steps = Step(0.0, NEVER), Step(STAGES[3], 2), Step(STAGES[4], NEVER)
        asks = with_release(there, Rule(steps).values())
        nights = play(plan_of(asks), SEED, 10**9 + 3 * world, 3)
        column = found.played.counts.index(2)
        gains = found.played.gain[3 * world : 3 * world + 3, 3, column]
        assert gains == pytest.approx(objective.of(nights), abs=1e-12)


def test_nights_of_one_world_count_as_one() -> None:
    """A loss that is all of one world in four is within an error of none; were its nights four
    hundred, it would be far beyond."""
    when, gain = np.zeros((400, 1, 2)), np.zeros((400, 1, 2))
    when[:, 0, 1] = np.inf
    gain[:100, 0, 0] = 1.0
    as_worlds = Played((0.0,), (1, NEVER), when, gain, each=100)
    assert best_rule(as_worlds, 1.0) == Rule((Step(0.0, NEVER),))
    as_nights = Played((0.0,), (1, NEVER), when, gain)
    assert best_rule(as_nights, 1.0) == Rule((Step(0.0, 1),))


def test_a_file_that_leaves_nothing_open_has_one_world(watched, monkeypatch) -> None:
    monkeypatch.setattr("soundergate.studies.rule.release.inputs_of", lambda scenario: [])
    found = rule(watched, nights=20, searched=100, worlds=20)
    assert found.worlds is None
    assert found.sought_in == 0


def test_a_result_shows_itself(result: ReleaseResult) -> None:
    assert list(result.table.columns) == ["minutes_after_alert", "count", "share"]
    assert len(result.table) == len(result.rule.steps)
    assert result._repr_html_().startswith("<table")
    assert result.interval("whole_group", 0.5).high < result.interval("whole_group").high
    told = json.loads(json.dumps(result.to_json()))
    assert told["rule"] == result.rule.values()
    assert told["with_hindsight"]["estimate"] == result.hindsight.estimate


@pytest.mark.slow
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
        ({"worlds": True}, "worlds"),
        ({"worlds": "many"}, "worlds"),
        ({"worlds": None}, "worlds"),
        ({"negligible": 0}, "negligible is 0"),
        ({"negligible": "0.02"}, "negligible is '0.02'"),
    ],
)
def test_bad_numbers_are_named_before_a_night_is_played(
    watched, monkeypatch, options, words: str
) -> None:
    def plays(*arguments, **given):
        raise AssertionError("a night is played")

    for name in ("search_as_assumed", "search_in_worlds", "play_hindsight", "compare", "robust"):
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
