"""Setups side by side: what is estimated, compared, moved and written down."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import soundergate
from soundergate.report.words.season_answers import season_answer
from soundergate.scenario.errors import ScenarioError
from soundergate.scenario.schema import Scenario
from soundergate.seasons.campaigns.questions import QUESTIONS
from soundergate.seasons.record import write_season
from soundergate.seasons.season import COMPARED, SeasonResult, pairs_of, season
from soundergate.seasons.setups import play_setup
from soundergate.seasons.unknowns import UNKNOWN
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import wilson

PRICES = {"currency": "EUR", "wage": 20, "trip": 15, "visit_time": "1 h", "bait": 12}
SEED = 8


KNOWN = dict.fromkeys((key.split(".")[1] for key in UNKNOWN), 0)
"""All that is moved to both ends of its range in every season, written into the file."""


@pytest.fixture(scope="session")
def settled(made) -> Callable[..., Scenario]:
    """As ``made``, with nothing left to be moved: a tenth of the campaigns."""
    return lambda **tables: made(**{"campaign": KNOWN, **tables})


@pytest.fixture(scope="module")
def pair(made) -> SeasonResult:
    """Invented: a counter that waits for four, and for seven of eight."""
    patient = {"kind": "counter", "count": 7}
    return season(
        [made(costs=PRICES), made(costs=PRICES, trigger=patient)],
        campaigns=400,
        seed=SEED,
        campaigns_a_year=3,
    )


def test_figures_are_those_of_the_campaigns(pair: SeasonResult) -> None:
    """Against SciPy's t interval, and Wilson's for yes or no."""
    for setup in pair.setups:
        c = setup.course.campaigns
        shares = c.caught / c.group_size
        e = setup["fraction_caught"]
        low, high = stats.t.interval(0.95, 399, shares.mean(), stats.sem(shares))
        assert e.estimate == pytest.approx(shares.mean(), rel=1e-12)
        assert (e.low, e.high) == pytest.approx((low, high), rel=1e-9)
        whole = setup["whole_group"]
        assert (whole.low, whole.high) == wilson(int(c.whole_group.sum()), 400)[:2]
        assert setup["visits"].estimate == np.mean(
            c.pre_bait_visits + c.bait_visits + c.check_visits
        )
        assert setup["caught"].estimate + setup["left"].estimate == pytest.approx(8)
        assert list(setup.table.index)[: len(QUESTIONS)] == list(QUESTIONS)
        half = setup.interval("nights", 0.5)
        told = stats.t.interval(0.5, 399, c.nights.mean(), stats.sem(c.nights))
        assert (half.low, half.high, half.level) == (*map(pytest.approx, told), 0.5)


def test_the_curve_ends_where_the_estimate_stands(pair: SeasonResult) -> None:
    for setup in pair.setups:
        means = [mean for mean, _ in setup.caught_by_night]
        assert means == sorted(means)
        assert means[-1] == pytest.approx(setup["fraction_caught"].estimate, rel=1e-12)


def test_differences_are_taken_campaign_by_campaign(pair: SeasonResult) -> None:
    assert [gain.estimate.name for gain in pair.gains] == list(COMPARED)
    one, other = (setup.course.campaigns for setup in pair.setups)
    gain = pair.gains[COMPARED.index("caught")]
    told = stats.ttest_rel(other.caught, one.caught).confidence_interval(0.95)
    assert gain.estimate.estimate == pytest.approx((other.caught - one.caught).mean())
    assert (gain.estimate.low, gain.estimate.high) == pytest.approx((told.low, told.high))
    assert gain.settled == (told.low > 0 or told.high < 0)


def test_shares_and_their_differences_have_ends_that_can_be(made) -> None:
    """Two campaigns say little: intervals of shares stop at none or all, of differences at minus
    all or all."""
    once = {"campaign": {"set_nights": 1}}
    never = made(trigger={"kind": "counter", "count": 40}, **once)
    lows, highs, curve = [], [], []
    for seed in range(6):
        setups = [
            play_setup(name, scenario, 2, seed, workers=1)
            for name, scenario in (("some", made(**once)), ("never", never))
        ]
        for pair in ((0, 1), (1, 0)):
            result = SeasonResult(tuple(setups), seed, 0.95, 1.0, ((), ()), (pair,))
            e = result.gains[COMPARED.index("fraction_caught")].estimate
            lows.append(e.low)
            highs.append(e.high)
            curve += [i[:2] for setup in result.setups for _, i in setup.caught_by_night]
    assert (np.nanmin(lows), np.nanmax(highs)) == (-1.0, 1.0)
    assert (np.nanmin(curve), np.nanmax(curve)) == (0.0, 1.0)


def test_setups_meet_the_same_luck(settled) -> None:
    """The same setup twice differs in nothing."""
    twice = season([settled(), settled(title="Invented: its twin")], campaigns=50, seed=SEED)
    one, other = (setup.course.campaigns.columns() for setup in twice.setups)
    assert all(np.array_equal(one[name], other[name]) for name in one)
    assert all(gain.estimate.estimate == 0 for gain in twice.gains)


def test_assumptions_are_moved_unless_the_file_sets_them(made, pair: SeasonResult) -> None:
    assert [[one.key for one in moved] for moved in pair.unknowns] == [list(UNKNOWN)] * 2
    for moved in pair.unknowns:
        for one in moved:
            low, high = one.figure("nights")
            assert one.base.campaigns == one.low.campaigns == one.high.campaigns == 400
            if one.key == "campaign.quiet_nights":
                assert low.estimate < one.base["nights"].estimate < high.estimate
    assert season(made(campaign=KNOWN), campaigns=20).unknowns == ((),)


def test_the_population_is_asked_with_what_is_caught(pair: SeasonResult) -> None:
    for setup, outlook in zip(pair.setups, pair.outlooks, strict=True):
        assert outlook.catch.mean == setup["caught"].estimate
        assert outlook.campaigns == 3
        assert outlook.dynamics.pigs == 40  # five sounders of eight


def test_without_prices_no_money_is_known(settled) -> None:
    bare = season(settled(), campaigns=30)
    assert bare.break_even == ()
    assert not bare.setups[0].any_price
    assert math.isnan(bare.setups[0].costs["cost_per_pig"].estimate)


def test_a_priced_and_an_unpriced_setup_are_not_set_against_each_other(settled) -> None:
    both = season([settled(costs=PRICES), settled()], campaigns=30)
    assert both.break_even == ()


def test_prices_give_a_break_even(pair: SeasonResult) -> None:
    (one,) = pair.break_even
    assert {one.better, one.other} == {setup.name for setup in pair.setups}
    assert one.sentence.endswith(".")


def test_surfaces_go_over_prices_that_both_files_give(settled, pair: SeasonResult) -> None:
    (surface,) = pair.surfaces
    assert (surface.x_axis, surface.y_axis) == ("costs.wage", "costs.trip")
    assert surface.own == (20, 15)
    assert season([settled(costs=PRICES), settled(costs={"trip": 3})], campaigns=20).surfaces == ()


def test_vary_makes_setups(made) -> None:
    three = season(made(), "campaign.set_nights=1,2,4", campaigns=60)
    nights = [setup["set_nights"].estimate for setup in three.setups]
    assert nights == sorted(nights)
    assert nights[0] == 1.0
    caught = [setup["caught"].estimate for setup in three.setups]
    assert caught == sorted(caught)
    assert three["campaign.set_nights=2"] is three.setups[1]


def test_what_is_written_tells_the_whole(pair: SeasonResult, tmp_path) -> None:
    files = write_season(tmp_path, pair, "batch")
    assert [file.name for file in files] == ["campaigns.csv", "summary.csv", "season.json"]
    rows = pd.read_csv(tmp_path / "campaigns.csv")
    kept = pair.setups[0].course.campaigns.columns()
    assert list(rows.columns) == ["setup", "campaign", *kept]
    assert list(rows["campaign"]) == [*range(400)] * 2
    summary = pd.read_csv(tmp_path / "summary.csv", index_col=[1, 0])
    for setup in pair.setups:
        for measure, row in setup.table.iterrows():
            told = summary.loc[(setup.name, measure)]
            assert [told["unit"], told["estimate"]] == [row["unit"], pytest.approx(
                row["estimate"], nan_ok=True)]  # fmt: skip
    assert len(rows) == 800
    first = rows[rows["setup"] == pair.setups[0].name]
    assert np.array_equal(first["caught"], pair.setups[0].course.campaigns.caught)
    record = json.loads((tmp_path / "season.json").read_text())
    assert record["seed"] == SEED
    assert record["setups"][0]["caught"]["estimate"] == pair.setups[0]["caught"].estimate
    assert set(record["scenarios"]) == {setup.name for setup in pair.setups}
    again = tmp_path / "again"
    again.mkdir()
    for one, other in zip(files, write_season(again, pair, "batch"), strict=True):
        assert one.read_bytes() == other.read_bytes()


def test_progress_is_told_to_the_end(made) -> None:
    told: list[tuple[int, int]] = []
    season(
        [made(), made(title="Invented: other")], campaigns=30, progress=lambda *t: told.append(t)
    )
    assert told[-1] == (60, 60)
    assert told == sorted(told)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"campaigns": 1}, "campaigns is 1; wanted a whole number from 2"),
        ({"campaigns": 2.5}, "campaigns is 2.5"),
        ({"campaigns": True}, "campaigns is True"),
        ({"seed": -1}, "seed is -1"),
        ({"level": 95}, "level is 95"),
        ({"engine": "fast"}, "engine is 'fast'"),
        ({"workers": 0}, "workers is 0"),
        ({"campaigns_a_year": -1}, "campaigns a year is -1"),
        ({"campaigns_a_year": float("nan")}, "campaigns a year is nan"),
    ],
)
def test_bad_numbers_are_named(made, options, words: str) -> None:
    with pytest.raises(StudyError, match=words):
        season(made(), **options)


def test_bad_names_are_named(pair: SeasonResult) -> None:
    with pytest.raises(StudyError, match="no such setup"):
        pair["nobody"]
    with pytest.raises(StudyError, match="no such figure"):
        pair.setups[0].interval("speed")
    with pytest.raises(ScenarioError, match=r"nowhere\.toml"):
        soundergate.season("nowhere.toml")


def test_fast_growth_is_played_for_fewer_years(settled) -> None:
    fast = season(settled(population={"growth": 6.0, "sounders": 30}), campaigns=30)
    slow = season(settled(), campaigns=30)
    (ours,), (theirs,) = fast.outlooks, slow.outlooks
    assert 1 <= ours.projections["with removal"].years < 10
    assert theirs.projections["with removal"].years == 10


def test_a_trap_that_catches_nothing_says_so(settled) -> None:
    never = settled(trigger={"kind": "counter", "count": 40}, costs=PRICES)
    nothing = season([settled(costs=PRICES), never], campaigns=30)
    assert nothing.setups[1]["caught"].estimate == 0
    assert nothing.outlooks[0] is not None
    assert nothing.outlooks[1] is None
    assert nothing.setups[1].costs["cost_per_pig"].why
    assert json.loads(json.dumps(nothing.to_json()["population"]))[1] is None


def test_two_currencies_are_refused_before_anything_is_played(made) -> None:
    told: list[int] = []
    both = [made(costs={"currency": name, "trip": 3}) for name in ("EUR", "USD")]
    with pytest.raises(StudyError, match=r"costs\.currency"):
        season(both, campaigns=30, progress=lambda done, _: told.append(done))
    assert told == []


def test_prices_of_nothing_make_no_surface(settled) -> None:
    free = settled(costs={"wage": 0, "trip": 0, "visit_time": "1 h"})
    result = season([free, settled(costs={"wage": 0, "trip": 0})], campaigns=30)
    assert result.surfaces == ()
    assert all(setup.costs["cost_per_pig"].estimate == 0 for setup in result.setups)


# ---- which setups are set against each other --------------------------------------------------


def test_varied_files_are_compared_like_with_like(made) -> None:
    """Two files, three values: each value of the second with the same value of the first."""
    known = KNOWN | {"set_nights": 2}
    files = [made(title=title, costs=PRICES, campaign=known) for title in ("one", "two")]
    result = season(files, "campaign.bait_every=1,2,3", campaigns=20)
    pairs = [(g.first, g.second) for g in result.gains[:: len(COMPARED)]]
    assert pairs == [
        (f"one, campaign.bait_every={n}", f"two, campaign.bait_every={n}") for n in (1, 2, 3)
    ]
    assert all(gain.estimate.estimate == 0 for gain in result.gains)  # the files are alike
    assert len(result.break_even) == len(result.surfaces) == 3
    assert [one.kind for one in result.break_even] == ["equal catch"] * 3
    alone = season(files[0], "campaign.bait_every=1,2,3", campaigns=20)
    firsts = {(g.first, g.second) for g in alone.gains}
    assert firsts == {("campaign.bait_every=1", f"campaign.bait_every={n}") for n in (2, 3)}
    three = season([*files, made(title="three", campaign=known)], campaigns=20)
    assert {(g.first, g.second) for g in three.gains} == {("one", "two"), ("one", "three")}


@pytest.mark.parametrize(
    ("sets", "pairs"),
    [
        ([{}], ()),
        ([{}, {}, {}], ((0, 1), (0, 2))),
        ([{"a": 1}, {"a": 2}, {"a": 3}], ((0, 1), (0, 2))),
        ([{"a": 1}, {"a": 2}] * 2, ((0, 2), (1, 3))),
        ([{"a": 1}, {"a": 2}] * 3, ((0, 2), (1, 3), (0, 4), (1, 5))),
    ],
)
def test_pairs(sets, pairs) -> None:
    assert pairs_of(sets) == pairs


@pytest.mark.parametrize(
    ("prices", "tables", "why"),
    [
        ({"wage": 25}, {}, "costs.wage is 20 in Invented and 25 in other; a map moves one price in "
         "both, so give both the same"),
        ({"trip": 7}, {}, "costs.trip is 15 in Invented and 7 in other; a map moves one price in "
         "both, so give both the same"),
        ({"wage": None}, {}, "costs.wage is not given in other"),
        (None, {}, "nothing is known of what other costs"),
        ({}, {"trigger": {"kind": "counter", "count": 40}},
         "other caught no pig, so it has no cost a pig"),
    ],
)  # fmt: skip
def test_a_map_that_there_is_not_says_why(settled, prices, tables, why) -> None:
    costs = None if prices is None else {k: v for k, v in (PRICES | prices).items() if v}
    given = {"title": "other"} | tables | ({"costs": costs} if costs else {})
    result = season([settled(title="Invented", costs=PRICES), settled(**given)], campaigns=20)
    assert result.surfaces == ()
    assert result.no_maps == (f"No map of prices for Invented and other: {why}.",)
    assert result.no_maps[0] in season_answer(result)
    assert result.to_json()["no_maps"] == list(result.no_maps)


def test_a_map_that_there_is_needs_no_words(pair: SeasonResult, settled) -> None:
    assert pair.no_maps == ()
    unpriced = season([settled(title="a"), settled(title="b")], campaigns=20)
    assert (unpriced.no_maps, unpriced.surfaces) == ((), ())
    free = [settled(title=t, costs={"wage": 0, "trip": 3, "visit_time": "1 h"}) for t in "ab"]
    (why,) = season(free, campaigns=20).no_maps
    assert why == "No map of prices for a and b: costs.wage is 0, so there is no range around it."
    none = [settled(title=t, costs={"trip": 3}) for t in "ab"]
    (why,) = season(none, campaigns=20).no_maps
    assert why == "No map of prices for a and b: costs.wage is not given."


def test_the_table_holds_the_costs(pair: SeasonResult, settled) -> None:
    for setup in pair.setups:
        table = setup.table
        for name, figure in setup.costs.figures.items():
            row = table.loc[name]
            assert row["unit"] == figure.unit
            assert row["why"] == figure.why
            for key in ("estimate", "low", "high"):
                same = row[key] == getattr(figure, key)
                assert same or (math.isnan(row[key]) and math.isnan(getattr(figure, key)))
        money = {name.removeprefix("money: ") for name in table.index if name.startswith("money")}
        assert money == set(setup.costs.money) == {"visit labour", "travel", "bait"}
        assert {"hours: visit labour"} == {n for n in table.index if n.startswith("hours:")}
    assert list(season(settled(), campaigns=20).setups[0].table.index) == list(QUESTIONS)
