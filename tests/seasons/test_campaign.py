"""Campaigns: both engines agree, what is learned is learned as often as stated, exact answers.

Chances of a false alarm are a millionth a test unless a test says otherwise.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import binom

from soundergate.engine import codes as k
from soundergate.engine import play_carried
from soundergate.engine.carried import carried
from soundergate.engine.work.chunks import Chunk, WrongNights
from soundergate.seasons.campaigns import campaign
from soundergate.seasons.campaigns.campaign import NIGHTS_APART, CampaignJob, Course, together
from soundergate.seasons.setups import job_of, play_setup
from soundergate.studies.estimates.intervals import t_quantile

SEED = 31
CAMPAIGNS = 3000
ALARM = 1e-6

LEARNS_NOTHING = {
    "escaped_wary": 0.0, "onlooker_wary": 0.0, "move_away": 0.0, "quiet_nights": 0,
}  # fmt: skip
UNCHECKED = {"checks": "after closure", "alarm": True}


def played(scenario, count: int = CAMPAIGNS, seed: int = SEED, engine: str = "batch") -> Course:
    return job_of(scenario, seed, engine)(Chunk(0, count))


def same(one: Course, other: Course) -> bool:
    columns = zip(one.campaigns.columns().values(), other.campaigns.columns().values(), strict=True)
    return all(np.array_equal(a, b) for a, b in columns) and np.array_equal(
        one.caught_by, other.caught_by
    )


def is_binomial(hits: int, of: int, share: float) -> bool:
    """Whether so many hits are among all but the ALARM most surprising numbers."""
    low, high = binom.ppf([ALARM / 2, 1 - ALARM / 2], of, share)
    return bool(low <= hits <= high)


@pytest.mark.parametrize("kind", ["counter", "line", "bait", "person"])
def test_both_engines_play_the_same_campaigns(made, kind: str) -> None:
    trigger = {"kind": kind} | ({"count": 4} if kind == "counter" else {})
    count = 4 if kind == "person" else 20
    scenario = made(trigger=trigger, campaign={"set_nights": 4})
    assert same(played(scenario, count), played(scenario, count, engine="reference"))


def test_how_campaigns_are_cut_does_not_show(made) -> None:
    job = job_of(made(), SEED)
    whole = job(Chunk(0, 60))
    assert same(whole, together([job(Chunk(0, 7)), job(Chunk(7, 30)), job(Chunk(37, 23))]))
    assert same(whole.part(7), job(Chunk(0, 7)))
    one, two = (play_setup("", made(), 2300, SEED, workers=n).course for n in (1, 2))
    assert same(one, two)
    assert one.first == 0
    assert len(one.campaigns) == 2300
    assert same(one.part(60), whole)  # campaigns 0 to 59, however many are played


def test_an_executor_that_mixes_campaigns_up_is_noticed(made) -> None:
    job = job_of(made(), SEED)
    answer = job(Chunk(5, 3))
    job.check(Chunk(5, 3), answer)
    for wrong in (Chunk(6, 3), Chunk(5, 2)):
        with pytest.raises(WrongNights):
            job.check(wrong, answer)


def test_the_first_night_is_that_of_a_run(made) -> None:
    scenario = made()
    course = played(scenario, 40)
    plan = job_of(scenario, SEED).plans[0]
    number = NIGHTS_APART * np.arange(40)
    night = carried(plan, number, number, np.full((40, plan.group_size), k.AS_DRAWN))
    assert np.array_equal(course.caught_by[:, 0], play_carried(plan, SEED, night)["caught"])


def test_books_are_balanced(made) -> None:
    course = played(made(campaign={"set_nights": 3}))
    c = course.campaigns
    assert np.array_equal(c.caught, course.caught_by[:, -1])
    assert (np.diff(course.caught_by, axis=1) >= 0).all()
    assert (c.caught + c.left == c.group_size).all()
    assert (c.wary <= c.left).all()
    assert np.array_equal(c.nights, c.pre_bait_nights + c.set_nights + c.quiet_nights)
    assert (c.set_nights <= 3).all()
    ends = c.whole_group.astype(int) + c.moved_away + c.gave_up
    assert (ends <= 1).all()
    assert (ends[c.set_nights < 3] == 1).all()
    for one in (c.whole_group, c.moved_away, c.gave_up, ends == 0):
        assert one.any()
    assert (c.captures <= c.set_nights).all()
    assert (c.check_visits == c.set_nights).all()  # daily, as nothing else is said


def test_a_group_moves_away_as_often_as_stated(made) -> None:
    c = played(made(campaign={"set_nights": 6, "move_away": 0.3})).campaigns
    assert is_binomial(int(c.moved_away.sum()), int(c.failed_closures.sum()), 0.3)
    assert not is_binomial(int(c.moved_away.sum()), int(c.failed_closures.sum()), 0.36)
    never = played(made(campaign={"move_away": 0.0})).campaigns
    assert not never.moved_away.any()
    always = played(made(campaign={"move_away": 1.0})).campaigns
    assert (always.failed_closures <= 1).all()
    assert np.array_equal(always.moved_away, always.failed_closures == 1)


@pytest.mark.parametrize(("key", "held"), [("escaped_wary", True), ("onlooker_wary", False)])
def test_those_that_escape_and_those_that_look_on_learn_as_stated(made, key, held) -> None:
    """Told from one night: who became wary, of those that had reason to and were not before."""
    scenario = made(campaign=LEARNS_NOTHING | {key: 0.4, "set_nights": 1}, entry={"shy_share": 0.1})
    job = job_of(scenario, SEED)
    plan = job.plans[0]
    number = NIGHTS_APART * np.arange(CAMPAIGNS)
    night = carried(plan, number, number, np.full((CAMPAIGNS, plan.group_size), k.AS_DRAWN))
    play_carried(plan, SEED, night)

    def was(flag: int):
        return night.after & flag != 0

    free = was(k.WAS_THERE) & ~was(k.WAS_CAUGHT)
    shy = free & was(k.WAS_WARY)
    knows = free & ~shy & (was(k.WAS_HELD) if held else was(k.WAS_WITNESS) & ~was(k.WAS_HELD))
    wary = int(job(Chunk(0, CAMPAIGNS)).campaigns.wary.sum()) - int(shy.sum())
    assert knows.sum() > 300
    assert is_binomial(wary, int(knows.sum()), 0.4)
    assert not is_binomial(wary, int(knows.sum()), 0.55)


def test_once_all_that_know_are_wary_no_more_of_them_are_caught(made) -> None:
    """Whoever is not caught at the first closure saw it or was away, and those away are few."""
    known = {"escaped_wary": 1.0, "onlooker_wary": 1.0, "move_away": 0.0, "quiet_nights": 0}
    for taught, later in ((known, 0.05), (LEARNS_NOTHING, math.inf)):
        course = played(made(campaign=taught | {"set_nights": 6}))
        first = course.campaigns.failed_closures > 0
        after = course.caught_by[first, -1] - course.caught_by[first, 0]
        more = after[course.caught_by[first, 0] > 0].mean()
        assert more < later if later < 1 else more > 0.2


def test_quiet_nights_follow_failed_closures_unless_it_is_over(made) -> None:
    c = played(made(campaign=LEARNS_NOTHING | {"quiet_nights": 9, "set_nights": 2})).campaigns
    assert set(np.unique(c.quiet_nights)) == {0, 9}
    short = played(made(campaign=LEARNS_NOTHING | {"quiet_nights": 9, "set_nights": 1})).campaigns
    assert not short.quiet_nights.any()  # nobody sets the trap again
    assert short.failed_closures.any()


def test_visits_follow_the_rules(made) -> None:
    pre_bait = {"training": {"nights": 7}}
    for every, visits in ((1, 7), (2, 4), (3, 3), (7, 1), (9, 1)):
        rules = {"bait_every": every, "set_nights": 1}
        c = played(made(campaign=rules, **pre_bait), 5).campaigns
        assert (c.pre_bait_visits == visits).all()
    c = played(made(campaign=UNCHECKED | {"set_nights": 6})).campaigns
    assert (c.check_visits <= c.set_nights).all()
    assert (c.check_visits >= c.captures).all()
    assert (c.check_visits < c.set_nights).any()


@pytest.mark.parametrize(
    ("every", "nights", "visits"), [(1, 5, 5), (2, 5, 3), (2, 4, 2), (3, 7, 3), (9, 7, 1)]
)
def test_bait_is_renewed_where_nobody_checks(made, every, nights, visits) -> None:
    """A gate that never shuts: once to set the trap, and again whenever the bait is old."""
    rules = UNCHECKED | {"bait_every": every, "set_nights": nights, "give_up": nights}
    c = played(made(trigger={"kind": "counter", "count": 40}, campaign=rules), 20).campaigns
    assert (c.set_nights == nights).all()
    assert (c.check_visits == 0).all()
    assert (c.bait_visits == visits).all()
    assert np.array_equal(c.heaps, c.pre_bait_visits + visits)


@pytest.mark.parametrize("quiet", [0, 1, 6, 7])
def test_bait_is_carried_on_quiet_nights_too(made, quiet) -> None:
    """Every visit of a trap that is checked daily carries bait, but the last."""
    rules = LEARNS_NOTHING | {"quiet_nights": quiet, "bait_every": 3, "set_nights": 3}
    c = played(made(campaign=rules), 400).campaigns
    each = {0: 0, 1: 1, 6: 2, 7: 3}[quiet]
    scares = c.quiet_nights // quiet if quiet else c.failed_closures * 0
    assert np.array_equal(c.bait_visits, 1 + each * scares)
    assert np.array_equal(c.heaps, c.pre_bait_visits + c.bait_visits + c.check_visits - 1)
    assert (scares > 0).any() == (quiet > 0)


# ---- when it is given up -------------------------------------------------------------------


def diary(scenario, count: int, monkeypatch) -> tuple[Course, dict[int, list]]:
    """Campaigns, and for each what every set night did: (outcomes, flags of its animals)."""
    nights: dict[int, list] = {}

    def noted(plan, seed, carried, engine):
        rows = play_carried(plan, seed, carried, engine)
        for i, number in enumerate(carried.number):
            told = {name: rows[name][i].item() for name in ("released", "caught")}
            nights.setdefault(int(number) // NIGHTS_APART, []).append((told, carried.after[i]))
        return rows

    monkeypatch.setattr(campaign, "play_carried", noted)
    return played(scenario, count), nights


def days_of(rules: dict, nights: list, q: int, last: bool) -> tuple[int, int, int]:
    """Visits with bait, checks, and heaps, day by day: ``nights`` are (closed, failed).

    Kept as a list of days, True where someone went, for nights of bait, set nights and quiet ones.
    """
    every, daily = rules["bait_every"], rules["checks"] == "daily"
    bait = checks = heaps = 0
    age = math.inf  # of the bait, in nights
    for night in range(3):
        if night % every == 0:
            heaps += 1
    set_again = True
    for j, (closed, failed) in enumerate(nights):
        if set_again or age >= every:
            bait += 1
            heaps += 1
            age = 0
        set_again, age = False, age + 1
        goes_on = j + 1 < len(nights)
        if daily or closed or failed:
            checks += 1
            heaps += goes_on
            age = 0
        if failed and goes_on and q:
            set_again = True
            for night in range(1, q):  # the check fed the first of them
                if night % every == 0:
                    bait += 1
                    heaps += 1
    return bait, checks, heaps


@pytest.mark.parametrize("checks", ["daily", "after closure"])
@pytest.mark.parametrize("give_up", [1, 2, 3])
def test_a_diary_kept_by_hand_agrees(made, monkeypatch, checks, give_up) -> None:
    """Every campaign told again, animal by animal and day by day, from what the nights did."""
    rules = {
        "give_up": give_up, "set_nights": 5, "checks": checks, "alarm": True, "bait_every": 2,
        "quiet_nights": 5, "move_away": 0.1,
    }  # fmt: skip
    course, nights = diary(made(campaign=rules, entry={"clock": "40 min"}), 400, monkeypatch)
    c = course.campaigns
    for number in range(len(c)):
        seen: set[int] = set()
        idle = after_catch = 0
        over, days = False, []
        for told, flags in nights[number]:
            assert not over, number
            there = {i for i, flag in enumerate(flags) if flag & k.WAS_THERE}
            caught = {i for i in there if flags[i] & k.WAS_CAUGHT}
            inside = {i for i in there if flags[i] & k.WAS_INSIDE}
            met = {i for i in there - caught if flags[i] & (k.WAS_HELD | k.WAS_WITNESS)}
            idle = 0 if caught or inside - seen else idle + 1
            after_catch = 0 if caught else after_catch + 1
            seen |= inside
            days.append((told["released"] or bool(caught), bool(met)))
            over = there == caught or idle >= give_up
        left = len(there - caught)
        assert left == c.left[number]
        early = len(days) < 5
        only_wary = c.wary[number] == left
        if c.gave_up[number]:
            assert left
            assert idle >= give_up or only_wary
        elif left and not c.moved_away[number]:
            assert not early
            assert idle < give_up
            assert not only_wary
        assert c.set_nights[number] == len(days)
        assert c.idle_nights[number] == after_catch
        bait, checked, heaps = days_of(rules, days, 5, over)
        assert c.bait_visits[number] == bait, days
        assert c.check_visits[number] == checked
        assert c.heaps[number] == heaps
    assert (c.idle_nights < c.set_nights).any()
    assert c.gave_up.any()


def test_a_trap_that_never_shuts_is_given_up_when_nobody_new_comes_in(made) -> None:
    """One pig alone: in on the first night it comes in at all, never new again."""
    never = {"kind": "counter", "count": 40}
    scenario = made(
        sounder={"sows": 1}, trigger=never, entry={"shy_share": 0.0, "clock": "5 min"},
        campaign={"give_up": 2, "set_nights": 9},
    )  # fmt: skip
    c = played(scenario, 200).campaigns
    assert (c.set_nights == 3).mean() > 0.9
    assert set(np.unique(c.set_nights)) <= {2, 3, 4}
    assert c.gave_up.all()
    assert np.array_equal(c.idle_nights, c.set_nights)


def test_nights_without_pigs_are_nights_without_anybody_new(made) -> None:
    """Nobody ever enters: given up after exactly so many nights."""
    wary = {"shy_share": 0.0, "clock": "1000000 h"}
    for give_up in (1, 3):
        c = played(made(entry=wary, campaign={"give_up": give_up}), 30).campaigns
        assert (c.set_nights == give_up).all()
        assert c.gave_up.all()


def test_a_trap_is_not_kept_for_animals_that_will_not_enter(made) -> None:
    all_shy = made(entry={"shy_share": 1.0}, campaign={"give_up": 5})
    c = played(all_shy, 30).campaigns
    assert (c.set_nights == 1).all()
    assert c.gave_up.all()
    assert (c.wary == c.group_size).all()
    taught = {"escaped_wary": 1.0, "onlooker_wary": 1.0, "move_away": 0.0, "give_up": 14}
    c = played(made(campaign=taught, entry={"shy_share": 0.0})).campaigns
    assert (c.wary[c.gave_up] == c.left[c.gave_up]).all()


def test_patience_never_catches_less(made) -> None:
    """On common luck: a trap that is kept longer has caught whatever it had caught by then."""
    caught = [
        played(made(campaign={"give_up": give_up}), 500).campaigns.caught
        for give_up in (1, 2, 4, 14)
    ]
    for less, more in pairwise(caught):
        assert (less <= more).all()
    assert caught[0].sum() < caught[-1].sum()


def test_a_night_that_frightened_them_is_no_night_of_training(made) -> None:
    """After a failed closure the next night is again as the first: here one on which gates shut;
    had it counted as training, it would be one on which they never do."""
    scenario = made(
        trigger={"kind": "counter", "count": 1}, campaign=LEARNS_NOTHING | {"set_nights": 2}
    )
    job = job_of(scenario, SEED)
    never = job_of(made(trigger={"kind": "counter", "count": 40}), SEED).plans[0]
    course = replace(job, plans=(job.plans[0], never))(Chunk(0, 500))
    failed = course.campaigns.failed_closures > 0
    assert failed.sum() > 100
    assert (course.caught_by[failed, 1] > course.caught_by[failed, 0]).mean() > 0.5


def test_without_memory_nights_are_independent(made) -> None:
    """An exact answer: one animal that learns nothing, and no trait that lasts.

    Its chance p of being caught on one night is the same on each, so that after j nights it is
    caught with 1 - (1 - p)^j. p is estimated from other campaigns, whose own error is counted in.
    """
    scenario = made(
        sounder={"sows": 1, "mass": {"sow": {"fixed": "70 kg"}}},
        trigger={"kind": "line", "distance": "22 ft"},
        entry={
            "frailty_cv": 0.0,
            "shy_share": 0.0,
            "habituation_nights": 0,
            "clock": {"fixed": "20 min"},
        },
        body={"shoulder_scatter": 0.0, "strength": {"fixed": 0.8}},
        campaign=LEARNS_NOTHING | {"set_nights": 4, "give_up": 4},
    )
    count = 20_000
    p = (played(scenario, count, seed=1).caught_by[:, 0] > 0).mean()
    caught = (played(scenario, count, seed=2).caught_by > 0).mean(axis=0)
    assert 0.1 < p < 0.9
    z = -t_quantile(10**6, 1 - ALARM)
    for j in range(1, 5):
        q = (1 - p) ** j
        spread = math.sqrt(q * (1 - q) / count + (j * q / (1 - p)) ** 2 * p * (1 - p) / count)
        assert abs(caught[j - 1] - (1 - q)) < abs(z) * spread


def test_readiness_that_lasts_leaves_the_unready(made) -> None:
    """The negative control of the test before: with frailty, later nights catch fewer."""
    scenario = made(
        sounder={"sows": 1},
        trigger={"kind": "line", "distance": "22 ft"},
        entry={
            "frailty_cv": 1.5,
            "shy_share": 0.0,
            "habituation_nights": 0,
            "clock": {"fixed": "20 min"},
        },
        campaign=LEARNS_NOTHING | {"set_nights": 4, "give_up": 4},
    )
    caught = (played(scenario, 20_000).caught_by > 0).mean(axis=0)
    p = caught[0]
    assert caught[3] < 1 - (1 - p) ** 4 - 0.05


def test_nights_that_nothing_disturbs_train_on(made) -> None:
    """A counter that waits for more than there are never closes: each night is as after one more
    night of training."""
    scenario = made(trigger={"kind": "counter", "count": 40}, campaign={"set_nights": 3})
    job = job_of(scenario, SEED)
    first, second, third = (plan.entry_speed.max() for plan in job.plans)
    assert first < second < third
    c = job(Chunk(0, 30)).campaigns
    assert not c.caught.any()
    assert (c.set_nights == 3).all()
    assert not c.failed_closures.any()
    closes = job_of(made(trigger={"kind": "counter", "count": 1}), SEED).plans[0]
    mixed = replace(job, plans=(job.plans[0], closes, job.plans[0]))
    by_night = mixed(Chunk(0, 300)).caught_by.sum(axis=0)
    assert by_night[0] == 0 < by_night[1]


def test_a_job_says_what_it_is(made) -> None:
    job = job_of(made(campaign={"set_nights": 2}), SEED)
    assert isinstance(job, CampaignJob)
    assert len(job.plans) == job.rules.set_nights == 2
