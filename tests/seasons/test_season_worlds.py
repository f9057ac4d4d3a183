"""Campaigns over plausible worlds: what they are played from, and what they say of setups."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from shared.traps import solenoid_trap
from soundergate.engine.build import build
from soundergate.engine.work.chunks import Chunk
from soundergate.report.tables.season_worlds import season_worlds_tables
from soundergate.report.words.season_worlds import (
    break_even_sentence,
    cost_sentence,
    season_worlds_answer,
)
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.loading import with_values
from soundergate.seasons.campaigns.rules import rules_of
from soundergate.seasons.money.costs import campaign_costs
from soundergate.seasons.season import season
from soundergate.seasons.setups import job_of, plans_of
from soundergate.seasons.worlds import playing
from soundergate.seasons.worlds.order import break_even, order
from soundergate.seasons.worlds.playing import CampaignsInWorlds, season_unknowns, season_worlds
from soundergate.seasons.worlds.result import CATCH, COST, NOISY, SeasonWorlds, WorldMeans
from soundergate.studies.arms import Arm
from soundergate.studies.errors import StudyError
from soundergate.studies.worlds.further import AGAIN
from soundergate.studies.worlds.verdicts import AHEAD, DEPENDS, NO_MATTER
from soundergate.studies.worlds.worlds import draw, in_world

PRICES = {"currency": "EUR", "wage": 20, "trip": 15, "visit_time": "1 h", "bait": 12,
          "damage_per_pig": 100}  # fmt: skip
BRIEF = {"set_nights": 3}
WORLDS, CAMPAIGNS, SEED = 20, 10, 4
ONLY = ["campaign", "entry", "leaving", "trigger"]
"""Unknowns that leave steel alone, which takes long to solve anew in every world."""


@pytest.fixture(scope="module")
def arms(made):
    """Invented: a counter that waits for three, and one for seven of eight."""
    return [
        Arm(name, made(costs=PRICES, trigger={"kind": "counter", "count": count}, campaign=BRIEF))
        for name, count in (("three", 3), ("seven", 7))
    ]


def doubt(gains, noise, *_):
    """As if every fourth world never told what it is asked."""
    return (np.arange(len(gains)) % 4 == 1)[:, None] & np.ones_like(gains, bool)


@pytest.fixture(scope="module")
def found(arms) -> SeasonWorlds:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(playing, "in_doubt", doubt)
        return played(arms)


def played(arms) -> SeasonWorlds:
    return season_worlds(arms, [(0, 1)], WORLDS, CAMPAIGNS, SEED, only=ONLY)


def test_each_world_is_the_setup_in_it_on_campaigns_of_its_own(arms, found) -> None:
    """Planned and played world by world, from files read whole, and costed by itself."""
    what = season_unknowns(arms, ONLY)
    assert "campaign.escaped_wary" in {one.id for one in what}
    places = draw(what, WORLDS, SEED)
    assert found.longer == [2, 6, 10, 14, 18]
    assert found.further.played == 5 * 2 * (AGAIN - 1) * CAMPAIGNS
    for arm in arms:
        for row in range(WORLDS):
            scenario = in_world(arm.scenario, what, places[row].tolist())
            job = job_of(scenario, SEED)
            counts = [job(Chunk(row * CAMPAIGNS, CAMPAIGNS)).campaigns]
            if row + 1 in found.longer:
                more = (AGAIN - 1) * CAMPAIGNS
                counts.append(job(Chunk(WORLDS * CAMPAIGNS + row * more, more)).campaigns)
            caught = np.concatenate([one.caught for one in counts])
            cost = np.concatenate([campaign_costs(scenario.costs, one).total for one in counts])
            assert found.figure(arm.name, "caught")[row] == pytest.approx(caught.mean())
            assert found.figure(arm.name, "cost_per_campaign")[row] == pytest.approx(cost.mean())
            expected = cost.mean() / caught.mean() if caught.any() else math.inf
            assert found.figure(arm.name, COST)[row] == pytest.approx(expected)


def test_more_training_changes_only_what_is_made_anew(made) -> None:
    """The plans of a campaign are those of files with so many nights of training, to the bit."""
    from soundergate.mechanics.setup import solve

    scenario = made(campaign={"set_nights": 4})
    trained = rules_of(scenario).pre_bait_nights
    for more, plan in enumerate(plans_of(scenario)):
        whole = with_values(scenario, {"training.nights": trained + more})
        for got, wanted in zip(plan, build(whole, solve(whole)), strict=True):
            assert got.tobytes() == wanted.tobytes()


def test_a_world_is_planned_once_for_all_its_campaigns(arms, monkeypatch) -> None:
    planned = []
    right = playing.job_of
    monkeypatch.setattr(playing, "job_of", lambda *a: (planned.append(a), right(*a))[1])
    season_worlds(arms[:1], [], WORLDS, CAMPAIGNS, SEED, only=ONLY)
    assert len(planned) == WORLDS


@pytest.mark.slow
def test_how_worlds_are_cut_and_shared_out_never_shows(arms, found, monkeypatch) -> None:
    monkeypatch.setattr(playing, "_AT_ONCE", 14)
    monkeypatch.setattr(playing, "in_doubt", doubt)
    again = season_worlds(arms, [(0, 1)], WORLDS, CAMPAIGNS, SEED, workers=2, only=ONLY)
    assert again.to_worlds_csv() == found.to_worlds_csv()
    assert again.to_json() == found.to_json()


@pytest.mark.slow
def test_both_engines_play_the_same_campaigns(arms) -> None:
    what = season_unknowns(arms)
    given = arms, what, draw(what, 2, SEED)
    asked = SEED, [0, 1], [0, 3], 3
    there, here = (CampaignsInWorlds(*given, one)(*asked) for one in ("reference", "batch"))
    for one, other in zip(there, here, strict=True):
        assert {n: v.tolist() for n, v in one.means.items()} == {
            n: v.tolist() for n, v in other.means.items()
        }


def test_a_world_that_cannot_be_is_counted_and_told(arms, monkeypatch) -> None:
    right = playing.job_of

    def job(scenario, *rest):
        if scenario.training.nights == 3 and scenario.trigger.count == 7:
            tried.append(scenario)
            if len(tried) == 2:
                raise ScenarioError("too light to build")
        return right(scenario, *rest)

    tried: list = []
    monkeypatch.setattr(playing, "job_of", job)
    found = season_worlds(arms, [], WORLDS + 1, CAMPAIGNS, SEED, workers=1, only=ONLY)
    assert found.failed == {2: "seven: too light to build"}
    assert found.worlds.tolist() == [1, *range(3, WORLDS + 2)]
    told = " ".join(season_worlds_answer(found))
    assert "1 of 21 worlds could not be built. The first: seven: too light to build." in told
    assert found.to_json()["failed"] == {"2": "seven: too light to build"}


@pytest.mark.slow
def test_stopped_by_hand_keeps_what_is_done(arms) -> None:
    def stop(at: int):
        def tell(done: int, planned: int) -> None:
            assert planned == 30 * CAMPAIGNS
            if done >= at * CAMPAIGNS:
                raise KeyboardInterrupt

        return tell

    one = arms[:1]
    found = season_worlds(one, [], 30, CAMPAIGNS, SEED, progress=stop(22))
    assert found.worlds.tolist() == list(range(1, 23))
    assert found.interrupted
    with pytest.raises(KeyboardInterrupt):
        season_worlds(one, [], 30, CAMPAIGNS, SEED, progress=stop(5))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"worlds": 19}, "worlds: 19"),
        ({"campaigns": 9}, "campaigns in each world: 9"),
        ({"negligible": 0.0}, "negligible is 0.0"),
        ({"engine": "fast"}, "engine is 'fast'"),
        ({"only": ["trigger.bait"]}, "nothing unknown"),
        ({"workers": 0}, "workers is 0"),
    ],
)
def test_bad_input_is_one_clear_error(arms, change, words) -> None:
    with pytest.raises(StudyError, match=words):
        season_worlds(arms, [(0, 1)], **change)


# ---- what made-up worlds say -----------------------------------------------------------------


def made_up(found: SeasonWorlds, caught, cost, noise: float = 0.0, size: float = 8.0):
    """``found`` with these figures float[W, 2] in place of what was played."""
    worlds = len(caught)
    means = {name: np.zeros((worlds, 2)) for name in found.means.means}
    caught, cost = np.asarray(caught, float), np.asarray(cost, float)
    means |= {"caught": caught, CATCH: caught / size, "cost_per_campaign": cost}
    spread = np.tile(noise * np.eye(2 * len(NOISY)), (worlds, 1, 1))
    places = np.random.default_rng(1).random((worlds, len(found.unknowns)))
    return dataclasses.replace(
        found, means=WorldMeans(means, spread), worlds=np.arange(1, worlds + 1), places=places,
        asked=worlds, campaigns=10_000, played_in=np.full(worlds, 10_000),
    )  # fmt: skip


def columns(first, second, worlds: int = 400):
    return np.column_stack([np.broadcast_to(one, worlds) for one in (first, second)])


def test_a_cost_a_pig_that_is_alike_is_no_matter(found) -> None:
    r = made_up(found, columns(4.0, 4.0), columns(400.0, 404.0))
    v = r.verdict("three", "seven", COST)
    assert v.verdict == NO_MATTER
    assert "does not matter" in cost_sentence(v)
    assert r.verdict("three", "seven").verdict == NO_MATTER


def test_the_cheaper_one_is_ahead_and_the_saving_is_a_share_of_the_dearer_cost(found) -> None:
    r = made_up(found, columns(4.0, 4.0), columns(400.0, 500.0))
    v = r.verdict("three", "seven", COST)
    assert (v.verdict, v.ahead, v.mean) == (AHEAD, "three", pytest.approx(0.2))
    assert r.verdict("seven", "three", COST).ahead == "three"
    assert "A pig costs less with “three” than with “seven”: 20 % less" in cost_sentence(v)


def test_which_is_cheaper_depends_and_the_order_holds_in_so_many_worlds(found) -> None:
    cheap = np.where(np.arange(400) < 300, 400.0, 800.0)
    r = made_up(found, columns(4.0, 4.0), columns(cheap, 500.0))
    v, held = r.verdict("three", "seven", COST), r.order("three", "seven", COST)
    assert v.verdict == DEPENDS
    assert (held.better, held.holds) == ("three", 0.75)
    assert 0.70 < held.low < 0.75 < held.high < 0.80  # Wilson, 300 of 400
    told = " ".join(season_worlds_answer(r))
    assert "“three” is the cheaper one in 75 % of the worlds." in told
    assert "less by over 2 % in 75 % of them, and more by over that in 25 %" in told


def test_a_world_without_a_catch_has_no_limit_to_what_a_pig_costs(found) -> None:
    caught = np.where(np.arange(400) < 100, 0.0, 4.0)
    r = made_up(found, columns(caught, 4.0), columns(400.0, 500.0))
    assert np.isinf(r.figure("three", COST)).sum() == 100
    low, middle, high = (q.estimate for q in r.quantiles("three", COST))
    assert (low, middle, high) == (100.0, 100.0, math.inf)
    gain, _ = r.gains("three", "seven", COST)
    assert set(gain.round(12)) == {-1.0, 0.2}
    assert "without limit" in " ".join(season_worlds_answer(r))
    assert any("none caught" in cell for row in season_worlds_tables(r)[0].rows for cell in row)
    both = made_up(found, columns(0.0, 0.0), columns(400.0, 500.0))
    assert not both.gains("three", "seven", COST)[0].any()


def test_the_noise_of_a_saving_is_that_of_a_ratio_of_means(found) -> None:
    """Against drawing the means of few campaigns again and again."""
    rng, sd = np.random.default_rng(2), 0.02
    caught = 4.0 + sd * rng.standard_normal((4000, 2))
    cost = columns(4.0, 5.0, 4000) + sd * rng.standard_normal((4000, 2))
    r = made_up(found, caught, cost, noise=sd**2)
    gain, noise = r.gains("three", "seven", COST)
    assert np.median(noise) == pytest.approx(np.var(gain), rel=0.1)  # 4 sd of a variance of 4000
    _, noise = r.gains("three", "seven")
    assert noise == pytest.approx(2 * sd**2)  # as it was put in for the share


@pytest.mark.slow
def test_without_prices_only_the_catch_is_compared(made) -> None:
    one = made(campaign=BRIEF)
    arms = [Arm("a", one), Arm("b", with_values(one, {"trigger.count": 7}))]
    r = season_worlds(arms, [(0, 1)], WORLDS, CAMPAIGNS, SEED, only=["entry.clock"])
    assert [v.measure for v in r.verdicts] == [CATCH]
    assert r.break_even == []
    assert not r.known("a", COST)
    assert "costs" not in " ".join(season_worlds_answer(r))
    assert len(season_worlds_tables(r)) == 2


def test_break_even_over_worlds() -> None:
    """By hand: pays from 10 on, from 30 on, whatever a pig is worth, and at no value. In another
    world it catches one pig less and costs 30 less, and so pays up to 30."""
    less = break_even(
        {"a": np.array([9.0, 9.0, 1.0]), "b": np.full(3, 2.0)},
        {"a": np.array([1.0, 1.0, 10.0]), "b": np.array([2.0, 2.0, 40.0])},
        damage=20.0,
    )
    assert (less.always, less.up_to, less.never, less.pays) == (2 / 3, 1 / 3, 0.0, 1.0)
    assert (
        "In 33 % of worlds it catches fewer and costs less: it pays only if a pig is worth little."
        in (break_even_sentence(less, "EUR"))
    )
    pigs = {"a": np.array([2.0, 2.0, 2.0, 1.0]), "b": np.ones(4) * np.array([1, 1, 1, 1.5])}
    cost = {"a": np.array([20.0, 40.0, 5.0, 20.0]), "b": np.full(4, 10.0)}
    one = break_even(pigs, cost, damage=20.0)
    assert (one.better, one.other) == ("a", "b")
    assert one.middle.estimate == 20.0  # between 0, 10, 30 and never
    assert (one.always, one.never, one.pays) == (0.25, 0.25, 0.5)
    told = break_even_sentence(one, "EUR")
    assert all(
        words in told
        for words in (
            "In 25 % of worlds it catches no fewer and costs no more: it pays whatever a pig "
            "is worth.",
            "In 25 % of worlds it catches no more and costs no less: it never pays.",
            "In 50 % of worlds it catches more and costs more: it pays if a pig is worth enough.",
        )
    )
    assert "only if" not in told
    assert "In the middle one it pays from 20.00 EUR a pig on." in told
    assert "At the stated damage of 20.00 EUR a pig it pays in 50 % of worlds." in told


def test_a_tie_counts_as_half_for_the_order() -> None:
    held = order("a", "b", CATCH, np.array([-0.5, -0.5, 0.0, 0.2]))
    assert (held.better, held.other, held.holds) == ("b", "a", 0.625)


def test_false_alarms_of_ahead_on_costs_stay_rare(found) -> None:
    """Worlds in which which one is cheaper is a toss-up: 200 made-up studies, each of 100 worlds;
    at most 5 % may call one ahead or it no matter; 16 or more of 200 by chance: under 5 in 100."""
    rng, said = np.random.default_rng(3), 0
    for _ in range(200):
        cost = 400.0 * np.exp(0.2 * rng.standard_normal((100, 2)))
        r = made_up(found, columns(4.0, 4.0, 100), cost)
        said += r.verdict("three", "seven", COST).verdict != DEPENDS
    assert said < 16


@pytest.mark.slow
def test_season_and_its_worlds_agree_where_nothing_is_unknown_but_one_thing() -> None:
    """With `only` one narrow unknown, every world is the season at the defaults."""
    from soundergate.scenario.loading import from_table

    table = solenoid_trap(trigger={"kind": "counter", "count": 4}, training={"nights": 3})
    scenario = from_table(table)
    over = season_worlds([Arm("", scenario)], [], 20, 200, SEED, only=["campaign.quiet_nights"])
    point = season([scenario], campaigns=4000, seed=SEED)
    mean = over.figure("", CATCH).mean()  # the same 4,000 campaigns: quiet nights catch nothing
    assert mean == pytest.approx(point.setups[0]["fraction_caught"].estimate, rel=1e-12)
