"""Costs: hand-worked campaigns, identities over all prices, and what is not counted."""

from __future__ import annotations

import dataclasses
import json
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.campaigns import campaigns_of
from soundergate.scenario.planning import Costs
from soundergate.seasons.campaigns.outcomes import Campaigns
from soundergate.seasons.money.cost_summary import cost_summary
from soundergate.seasons.money.costs import BOUGHT, PARTS, PRICES, campaign_costs
from soundergate.studies.errors import StudyError
from soundergate.studies.estimates.intervals import mean_t


def make(
    n: int = 60, seed: int = 1, chance: float = 0.6, watch: float = 20.0, alarm: bool = True
) -> Campaigns:
    """Invented campaigns: geometric nights, binomial catches, a person who watches or does not."""
    rng = np.random.default_rng(seed)
    size = rng.integers(4, 14, n)
    nights = rng.geometric(0.2, n)
    caught = rng.binomial(size, chance) * (rng.random(n) < 0.8)
    return campaigns_of(
        size,
        caught,
        nights,
        watched_min=watch * nights * rng.random(n),
        alarm=np.full(n, alarm),
    )


def two() -> Campaigns:
    """Two campaigns for pencil and paper."""
    campaigns = make(2)
    columns: dict[str, Any] = {
        "group_size": [8, 6],
        "caught": [8, 2],
        "nights": [12, 20],
        "set_nights": [5, 13],
        "pre_bait_visits": [4, 4],
        "check_visits": [5, 13],
        "captures": [1, 2],
        "bait_visits": [2, 1],
        "heaps": [10, 18],
        "alarm": [True, True],
        "watched_min": [30.0, 90.0],
    }
    return dataclasses.replace(campaigns, **{k: np.array(v) for k, v in columns.items()})


ALL: dict[str, Any] = {
    "wage": 20.0,
    "trip": 15.0,
    "setup_time": "6 h",
    "visit_time": "90 min",
    "removal_time": "2 h",
    "watch_wage": 10.0,
    "bait": 8.0,
    "equipment": 2000.0,
    "equipment_campaigns": 40,
    "data_plan": 30.4375,
    "alarm": 400.0,
    "alarm_plan": 15.21875,
    "damage_per_pig": 100.0,
    "currency": "EUR",
}


def test_two_campaigns_worked_by_hand():
    spent = campaign_costs(Costs(**ALL), two())
    told = {name: list(values) for name, values in spent.money.items()}
    assert told == {
        "setup labour": [120, 120],  # 6 h at 20
        "visit labour": [330, 540],  # 1.5 h at 20, 4 + 2 + 5 and 4 + 1 + 13 visits
        "removal labour": [40, 80],
        "watching": [5, 15],  # 0.5 h and 1.5 h at 10
        "travel": [195, 300],  # 11 + 2 and 18 + 2 trips
        "bait": [80, 144],  # 10 and 18 heaps
        "equipment": [50, 50],
        "data plan": [12, 20],  # a month's price of 30.4375 is 1 a night
        "alarm": [10, 10],
        "alarm plan": [6, 10],  # half a night's price of the data plan
    }
    assert list(spent.total) == [848, 1289]
    assert {name: list(x) for name, x in spent.hours.items()} == {
        "setup labour": [6, 6],
        "visit labour": [16.5, 27],
        "removal labour": [2, 4],
        "watching": [0.5, 1.5],
    }
    assert list(spent.net) == [800 - 848, 200 - 1289]
    assert spent.not_counted == ()


def test_figures_are_ratios_of_means():
    summary = cost_summary(Costs(**ALL), two(), "hand")
    estimates = {name: figure.estimate for name, figure in summary.figures.items()}
    assert estimates == pytest.approx(
        {
            "cost_per_campaign": 1068.5,
            "hours_per_campaign": 31.75,
            "pigs_per_campaign": 5,
            "groups_per_campaign": 0.5,
            "cost_per_pig": 213.7,
            "cost_per_group": 2137,
            "hours_per_pig": 6.35,
            "hours_per_group": 63.5,
            "prevented_per_campaign": 500,
            "net_per_campaign": -568.5,
            "cost_per_prevented": 2.137,
        }
    )
    assert summary["cost_per_pig"].unit == "EUR a pig"
    assert summary["cost_per_pig"].high == math.inf
    assert summary["cost_per_pig"].why == "no upper limit: at 95 % the mean catch may be 0"
    table = summary.parts_table
    assert table.loc["bait", "money_per_pig"] == pytest.approx(112 / 5)
    assert table["money_per_pig"].sum() == pytest.approx(213.7)


amounts_of_money = st.floats(0, 1e5).map(lambda v: round(v, 2))
some_prices = st.fixed_dictionaries(
    {},
    optional={
        key: amounts_of_money for key in PRICES if key not in (*BOUGHT, "equipment_campaigns")
    }
    | {"setup_time": st.just("5 h"), "visit_time": st.just("1 h"), "removal_time": st.just("2 h")},
)
equipment = st.one_of(
    st.just({}),
    st.fixed_dictionaries(
        {"equipment_campaigns": st.integers(1, 500)},
        optional=dict.fromkeys(BOUGHT, amounts_of_money),
    ),
)


@given(some_prices, equipment, st.integers(0, 50))
@settings(max_examples=60, deadline=None)
def test_parts_add_up_and_every_part_is_counted_or_named(prices, bought, seed):
    costs, campaigns = Costs(**prices, **bought), make(20, seed)
    spent, summary = campaign_costs(costs, campaigns), cost_summary(costs, campaigns)
    named = {one.part for one in spent.not_counted}
    assert named | set(spent.money) == {part.name for part in PARTS}
    assert not named & set(spent.money)
    assert all(key.startswith("costs.") for one in spent.not_counted for key in one.keys)
    if spent.money:
        total = summary["cost_per_campaign"].estimate
        assert sum(summary.money.values()) == pytest.approx(total)
        assert np.mean(spent.total) == pytest.approx(total)
        assert total == pytest.approx(
            summary["cost_per_pig"].estimate * summary["pigs_per_campaign"].estimate
        )
    else:
        assert math.isnan(summary["cost_per_campaign"].estimate)
        assert summary["cost_per_pig"].why == "no part of the cost is known"
    json.dumps(summary.to_json(), allow_nan=False)


@given(some_prices, equipment)
@settings(max_examples=40, deadline=None)
def test_giving_what_is_named_counts_it(prices, bought):
    costs, campaigns = Costs(**prices, **bought), make(10)
    keys = {key for one in campaign_costs(costs, campaigns).not_counted for key in one.keys}
    given_now = {key.removeprefix("costs."): ALL[key.removeprefix("costs.")] for key in keys}
    assert campaign_costs(Costs(**prices | bought | given_now), campaigns).not_counted == ()


@pytest.mark.parametrize("key", PRICES)
@given(factor=st.floats(0.0, 50.0))
@settings(max_examples=15, deadline=None)
def test_money_is_linear_in_every_price(key, factor):
    """f(k p) - f(0) = k (f(p) - f(0)); in 1 / life for equipment_campaigns."""
    campaigns, life = make(15), key == "equipment_campaigns"
    if life:
        whole = max(1, round(factor))
        at = [ALL | {key: value} for value in (10_000, 1, whole)]
        parts = 1e-4, 1.0, 1 / whole
    else:
        at = [ALL | {key: value} for value in (0.0, ALL[key], factor * ALL[key])]
        parts = 0.0, 1.0, factor
    net = [campaign_costs(Costs(**one), campaigns).net for one in at]
    slope = (net[1] - net[0]) / (parts[1] - parts[0])
    np.testing.assert_allclose(net[2] - net[0], slope * (parts[2] - parts[0]), atol=1e-6)


def test_zero_prices_give_zero_and_no_doubt():
    free = {key: 0.0 for key in PRICES if key != "equipment_campaigns"}
    summary = cost_summary(Costs(**ALL | free), make(chance=0.9))
    for name in ("cost_per_pig", "cost_per_group"):
        figure = summary[name]
        assert (figure.estimate, figure.low, figure.high) == (0, 0, 0)
    assert summary["cost_per_campaign"].estimate == 0
    assert summary["cost_per_prevented"].why == "no damage is prevented"


def test_hours_are_known_without_a_wage():
    summary = cost_summary(Costs(visit_time="1 h", trip=10), make())
    assert summary["hours_per_campaign"].estimate > 0
    assert "visit labour" in summary.hours
    assert "visit labour" not in summary.money
    missing = {one.part: one for one in summary.not_counted}
    assert missing["visit labour"].words == "visit labour (costs.wage)"
    assert missing["visit labour"].hours_known
    assert missing["setup labour"].words == "setup labour (costs.setup_time, costs.wage)"
    assert not missing["setup labour"].hours_known
    assert missing["equipment"].keys == ("costs.equipment", "costs.equipment_campaigns")
    assert missing["watching"].keys == ("costs.watch_wage",)


def test_watching_is_paid_at_the_wage_unless_it_has_its_own():
    campaigns = make()
    hours = campaigns.watched_min / 60
    own, wage = (campaign_costs(Costs(**c), campaigns).money["watching"] for c in
                 ({"wage": 20, "watch_wage": 5}, {"wage": 20}))  # fmt: skip
    assert own == pytest.approx(5 * hours)
    assert wage == pytest.approx(20 * hours)


def test_nobody_watching_is_nothing_left_out():
    spent = campaign_costs(Costs(trip=3), make(watch=0.0))
    assert "watching" not in spent.hours
    assert "watching" not in {one.part for one in spent.not_counted}
    assert cost_summary(Costs(trip=3), make(watch=0.0))["hours_per_pig"].why == "no time is given"


def test_equipment_without_its_life_is_refused():
    with pytest.raises(StudyError) as found:
        campaign_costs(Costs(equipment=900), make())
    assert str(found.value) == (
        "costs.equipment_campaigns: is not given, but costs.equipment = 900 is; a purchase counts "
        "as a share a campaign; state over how many campaigns the equipment is used, or leave "
        "costs.equipment out"
    )
    assert found.value.key == "costs.equipment_campaigns"


def test_an_alarm_without_its_life_is_refused():
    with pytest.raises(StudyError) as found:
        campaign_costs(Costs(alarm=90), make())
    assert "costs.alarm = 90 is" in str(found.value)
    assert str(found.value).endswith("the alarm is used, or leave costs.alarm out")


def test_an_alarm_costs_only_where_there_is_one():
    prices = Costs(trip=3, alarm=90, alarm_plan=5)
    none = campaign_costs(prices, make(alarm=False))
    assert not {"alarm", "alarm plan"} & set(none.money)
    assert not {"alarm", "alarm plan"} & {one.part for one in none.not_counted}
    missed = {one.part: one.keys for one in campaign_costs(Costs(trip=3), make()).not_counted}
    assert missed["alarm"] == ("costs.alarm", "costs.equipment_campaigns")
    assert missed["alarm plan"] == ("costs.alarm_plan",)


def test_no_campaigns_are_refused():
    with pytest.raises(StudyError, match="no campaigns to cost"):
        cost_summary(Costs(trip=1), make(0))


def test_no_pig_no_cost_per_pig():
    campaigns = make()
    nothing = dataclasses.replace(campaigns, caught=campaigns.caught * 0)
    summary = cost_summary(Costs(**ALL), nothing)
    assert math.isnan(summary["cost_per_pig"].estimate)
    assert summary["cost_per_pig"].why == "no pig was caught"
    assert summary["cost_per_group"].why == "no whole group was caught"
    assert summary["cost_per_campaign"].estimate > 0
    assert summary["net_per_campaign"].estimate == -summary["cost_per_campaign"].estimate
    assert summary.to_json()["cost_per_pig"]["estimate"] is None
    assert summary.parts_table["money_per_pig"].isna().all()


def test_intervals_are_over_campaigns():
    costs, campaigns = Costs(**ALL), make(200)
    figure = cost_summary(costs, campaigns, level=0.9)["cost_per_campaign"]
    total = campaign_costs(costs, campaigns).total
    assert (figure.low, figure.high) == pytest.approx(mean_t(total, 0.9)[:2])
    one = cost_summary(costs, make(1))["cost_per_campaign"]
    assert math.isnan(one.low)
    assert one.why == "there is one campaign: no known spread"


def test_what_luck_cannot_change_is_known_exactly():
    only = cost_summary(Costs(equipment=800, equipment_campaigns=40), make())["cost_per_campaign"]
    assert (only.estimate, only.low, only.high) == (20, 20, 20)
    assert only.why == "the same in every campaign"


def test_without_a_currency_it_is_money():
    summary = cost_summary(Costs(trip=10), make())
    assert summary["cost_per_pig"].unit == "money a pig"
    assert summary.currency == ""
    with pytest.raises(KeyError, match="no figure is named 'cost'; there are cost_per_campaign"):
        summary["cost"]
    assert "cost_per_pig" in summary._repr_html_()


def test_published_figures_are_within_reach():
    """Plausibility only, nothing fitted: US$ 46.95 a pig by corral (Bodenchuk 2014); US$ 50 and
    6.8 h a pig of the first 99 % (Fischer et al. 2020, Sci. Rep. 10:11528). Invented prices and
    campaigns that catch five of eight must come within a factor of ten of both.
    """
    prices = ALL | {"visit_time": "1 h", "wage": 15, "trip": 8, "bait": 5, "currency": "USD"}
    summary = cost_summary(Costs(**prices), make(400))
    assert 46.95 / 10 < summary["cost_per_pig"].estimate < 500
    assert 0.68 < summary["hours_per_pig"].estimate < 68


def test_a_data_plan_is_missed_only_where_somebody_watches(make):
    """One that is paid for is counted all the same."""
    unwatched, watched = make(0.5), make(0.5, watch=10.0)
    priced = Costs(trip=10)
    assert "data plan" not in [one.part for one in campaign_costs(priced, unwatched).not_counted]
    assert "data plan" in [one.part for one in campaign_costs(priced, watched).not_counted]
    assert campaign_costs(Costs(data_plan=30), unwatched).money["data plan"].any()
