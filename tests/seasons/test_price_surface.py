"""Prices moved without playing again: against campaigns recounted, and where setups are equal."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from soundergate.scenario.planning import Costs
from soundergate.seasons.money import price_surface
from soundergate.seasons.money.break_even import CostedSetup, break_even_value
from soundergate.seasons.money.costs import campaign_costs
from soundergate.seasons.money.price_surface import Axis, break_even_surface
from soundergate.studies.errors import StudyError

KEYS = ("wage", "trip", "bait", "data_plan", "watch_wage", "equipment_campaigns", "equipment")


@pytest.mark.parametrize("measure", ["cost_per_pig", "net_per_campaign"])
@given(keys=st.permutations((*KEYS, "damage_per_pig")).map(lambda k: k[:2]), data=st.data())
@settings(max_examples=25, deadline=None)
def test_any_point_is_what_the_campaigns_cost_at_those_prices(measure, keys, data, pair):
    if measure == "cost_per_pig":
        keys = [key if key != "damage_per_pig" else "wage" for key in keys]
        keys = ["trip", "bait"] if keys[0] == keys[1] else keys
    a, b = pair(n=40)
    values = [tuple(sorted(data.draw(st.sets(st.integers(1, 400), min_size=2, max_size=3))))
              for _ in keys]  # fmt: skip
    axes = [
        Axis(key, v, "remote" if key == "equipment" else "")
        for key, v in zip(keys, values, strict=True)
    ]
    found = break_even_surface(a, b, *axes, measure)
    moved = {"remote": set(keys), "line": set(keys) - {"equipment", "data_plan"}}
    for row, y in enumerate(values[1]):
        for column, x in enumerate(values[0]):
            per = []
            for setup in (a, b):
                now = {k: v for k, v in zip(keys, (x, y), strict=True) if k in moved[setup.label]}
                priced = campaign_costs(setup.costs.model_copy(update=now), setup.campaigns)
                pigs = setup.pigs.mean()
                net = measure == "net_per_campaign"
                per.append(priced.net.mean() if net else priced.total.mean() / pigs)
            assert found.difference[row, column] == pytest.approx(per[0] - per[1], abs=1e-8)


@pytest.mark.parametrize(
    ("x", "y", "measure"),
    [
        (Axis("equipment", of="remote"), Axis("equipment_campaigns"), "cost_per_pig"),
        (Axis("equipment_campaigns"), Axis("equipment", of="remote"), "cost_per_pig"),
        (Axis("data_plan", (0.0, 2000.0)), Axis("wage", (0.0, 500.0)), "cost_per_pig"),
        (Axis("damage_per_pig", (0.0, 160.0)), Axis("wage"), "net_per_campaign"),
        (
            Axis("watch_wage", (0.0, 300.0)),
            Axis("damage_per_pig", (0.0, 300.0)),
            "net_per_campaign",
        ),
    ],
)
def test_the_line_is_where_they_are_equal_and_parts_the_signs(x, y, measure, pair):
    a, b = pair()
    found = break_even_surface(a, b, x, y, measure)
    assert len(found.line) > 20
    size = np.abs(found.difference).max()
    for at_x, at_y in found.line[:: len(found.line) // 9]:
        just = [
            dataclasses.replace(axis, values=(at, at * (1 + 1e-9) + 1e-9))
            for axis, at in ((x, at_x), (y, at_y))
        ]
        there = break_even_surface(a, b, *just, measure).difference[0, 0]
        assert there == pytest.approx(0, abs=1e-8 * size)
    assert found.first_ahead.any()
    assert not found.first_ahead.all()
    on_edge = np.isclose(found.line, [found.x[0], found.y[0]]) | np.isclose(
        found.line, [found.x[-1], found.y[-1]]
    )
    assert on_edge[[0, -1]].any(axis=1).all()  # the line runs from edge to edge


def test_net_is_the_paired_t_test_at_every_point(pair):
    a, b = pair(n=50)
    found = break_even_surface(
        a, b, Axis("damage_per_pig", (50.0, 100.0)), Axis("wage", (5.0, 30.0)), "net_per_campaign"
    )
    now = {"damage_per_pig": 100.0, "wage": 5.0}
    nets = [campaign_costs(s.costs.model_copy(update=now), s.campaigns).net for s in (a, b)]
    low, high = stats.ttest_rel(*nets).confidence_interval(0.95)
    assert found.difference[0, 1] == pytest.approx((low + high) / 2)
    assert found.half_width[0, 1] == pytest.approx((high - low) / 2)


def test_cost_per_pig_has_the_bootstraps_standard_error(pair):
    """4,000 resamples give a standard error to 1.1 %; five of those, and 2 % for second order."""
    a, b = pair(n=400)
    found = break_even_surface(a, b, Axis("wage", (10.0, 20.0)), Axis("trip", (5.0, 15.0)))
    rng, draws = np.random.default_rng(2), []
    for _ in range(4000):
        i = rng.integers(0, 400, 400)
        draws.append(a.cost[i].mean() / a.pigs[i].mean() - b.cost[i].mean() / b.pigs[i].mean())
    error = found.half_width[1, 1] / stats.t.ppf(0.975, 399)
    assert error == pytest.approx(np.std(draws), rel=0.076)


def test_a_line_straight_up_is_found(pair):
    """Pigs on one axis alone decide: a price that neither setup meets moves nothing."""
    a, b = pair()
    quiet = [dataclasses.replace(s, campaigns=dataclasses.replace(
        s.campaigns, watched_min=np.zeros(200))) for s in (a, b)]  # fmt: skip
    found = break_even_surface(
        *quiet,
        Axis("damage_per_pig", (0.0, 200.0)),
        Axis("watch_wage", (1.0, 9.0)),
        "net_per_campaign",
    )
    assert found.line.shape == (2, 2)
    assert found.line[0, 0] == pytest.approx(found.line[1, 0])
    assert list(found.line[:, 1]) == [1.0, 9.0]


def test_a_setup_against_itself_is_equal_everywhere(pair):
    a, _ = pair()
    found = break_even_surface(a, dataclasses.replace(a, label="twin"), "wage", "trip")
    assert not found.difference.any()
    assert not found.settled.any()
    assert len(found.line) == 0
    assert found.sentence == "line and twin come to the same at all of these prices."


def test_the_files_own_point_and_ranges(pair):
    a, b = pair()
    found = break_even_surface(a, b, "wage", "equipment_campaigns")
    assert found.own == (20.0, 40.0)
    assert (found.x[0], found.x[-1], found.y[0], found.y[-1]) == (0, 40, 1, 80)
    assert len(found.table) == 41 * 41
    assert list(found.table.columns)[:2] == ["costs.wage", "costs.equipment_campaigns"]
    json.dumps(found.to_json(), allow_nan=False)
    told = break_even_surface(a, b, Axis("watch_wage", (1, 2)), Axis("data_plan"))
    assert told.own == (20.0, 30.0)  # watching is paid at the wage


def test_what_cannot_be_varied_is_refused(pair):
    a, b = pair()
    for axes, words in (
        (("wage", "equipment"), r"costs\.equipment: is 900 in line and 4200 in remote; say in "
         r"which to vary it: Axis\('equipment', of='remote'\)"),
        (("wage", "wage"), r"costs\.wage: is on both axes"),
        (("hat", "wage"), r"costs\.hat: is not a price; vary one of wage, trip"),
        (("damage_per_pig", "wage"), r"costs\.damage_per_pig: does not change the cost per pig"),
        ((Axis("wage", (3.0, 2.0)), "trip"), "that are no axis; two or more, rising, from 0"),
        ((Axis("equipment_campaigns", (0.5, 2.0)), "trip"), "two or more, rising, from 1"),
        ((Axis("wage", of="hat"), "trip"), "no setup is called 'hat'; they are 'line' and"),
    ):  # fmt: skip
        with pytest.raises(StudyError, match=words):
            break_even_surface(a, b, *axes)
    with pytest.raises(StudyError, match="measure is 'gain'; it must be one of cost_per_pig"):
        break_even_surface(a, b, "wage", "trip", "gain")
    bare = CostedSetup("bare", Costs(currency="EUR"), a.campaigns)
    with pytest.raises(StudyError, match="no part of the cost of bare is known; give one"):
        break_even_surface(a, bare, "equipment", "equipment_campaigns")
    with pytest.raises(StudyError, match=r"costs\.watch_wage: is not given, so there is no range"):
        break_even_surface(bare, dataclasses.replace(bare, label="b"), "watch_wage", "trip")
    poor = CostedSetup("poor", Costs(trip=15, currency="EUR"), a.campaigns)
    with pytest.raises(StudyError, match=r"costs\.damage_per_pig: is not given for poor"):
        break_even_surface(a, poor, "wage", "trip", "net_per_campaign")


def test_setups_that_cannot_be_compared_are_refused(pair):
    a, b = pair()
    for one, other, words in (
        (a, pair(n=20)[1], "line has 200 campaigns and remote 20; a comparison needs the same"),
        (a, dataclasses.replace(b, label="line"), "both setups are called 'line'"),
        (a, pair(currency="USD")[1], r"costs\.currency: is 'EUR' and 'USD'"),
        (a, CostedSetup("bare", Costs(currency="EUR"), a.campaigns), "costs: no part of the cost"),
    ):
        with pytest.raises(StudyError, match=words):
            break_even_value(one, other)


# ---- the wage of watching --------------------------------------------------------------------


@pytest.mark.parametrize("measure", ["cost_per_pig", "net_per_campaign"])
def test_a_stated_wage_of_watching_is_held_and_said(pair, measure):
    """Without one, an hour of watching costs what the axis says; with one, what the file says."""
    axes = Axis("wage", (5.0, 60.0)), Axis("trip", (1.0, 15.0))
    free = break_even_surface(*pair(), *axes, measure)
    held = break_even_surface(*pair(watch_wage=7.0), *axes, measure)
    assert free.held == ()
    assert free.held_words == ""
    assert held.held == (("remote", 7.0),)
    assert held.sentence.endswith(
        " An hour of watching stays at what is stated, 7.00 EUR in remote: only the other hours "
        "vary."
    )
    _, b = pair()
    per = b.campaigns.watched_min.mean() / 60
    per /= b.pigs.mean() if measure == "cost_per_pig" else 1.0
    sign = 1.0 if measure == "cost_per_pig" else -1.0
    for column, wage in enumerate((5.0, 60.0)):
        dearer = -sign * per * (wage - 7.0)
        gap = free.difference[:, column] - held.difference[:, column]
        assert gap == pytest.approx([dearer] * 2, abs=1e-9)


def test_a_wage_of_watching_is_not_spoken_of_where_it_does_not_matter(pair):
    a, b = pair(watch_wage=7.0)
    assert break_even_surface(a, b, Axis("trip"), Axis("bait")).held == ()
    moved = break_even_surface(a, b, Axis("wage"), Axis("watch_wage", (1.0, 9.0), "remote"))
    assert moved.held == ()
    still = dataclasses.replace(b.campaigns, watched_min=np.zeros(200))
    quiet = dataclasses.replace(b, campaigns=still)
    assert break_even_surface(a, quiet, "wage", "trip").held == ()


# ---- what it says of itself ------------------------------------------------------------------


@pytest.mark.parametrize("measure", ["cost_per_pig", "net_per_campaign"])
def test_who_is_ahead_and_how_surely_is_told_from_the_campaigns(pair, measure):
    """Every row of the table against both setups costed at its prices: which is cheaper a pig, or
    nets more, and the ends of the interval around the difference."""
    a, b = pair(n=60)
    x, y = Axis("wage", (2.0, 20.0, 90.0)), Axis("equipment", (100.0, 4000.0, 60000.0), "remote")
    found = break_even_surface(a, b, x, y, measure)
    rows = found.table.to_dict("records")
    assert [(r["costs.wage"], r["costs.equipment of remote"]) for r in rows] == [
        (wage, price) for price in y.values for wage in x.values
    ]
    ahead = []
    for row in rows:
        wage, price = row["costs.wage"], row["costs.equipment of remote"]
        per, spreads = [], []
        for setup, now in ((a, {}), (b, {"equipment": price})):
            costs = setup.costs.model_copy(update=now | {"wage": wage})
            spent = campaign_costs(costs, setup.campaigns)
            if measure == "net_per_campaign":
                per.append(spent.net.mean())
                spreads.append(spent.net)
            else:
                mean = spent.total.mean() / setup.pigs.mean()
                per.append(mean)
                spreads.append((spent.total - mean * setup.pigs) / setup.pigs.mean())
        gap = per[0] - per[1]
        half = stats.sem(spreads[0] - spreads[1]) * stats.t.ppf(0.975, 59)
        assert row["difference"] == pytest.approx(gap)
        assert row["low"] == pytest.approx(gap - half)
        assert row["high"] == pytest.approx(gap + half)
        assert row["low"] < row["difference"] < row["high"]
        assert row["settled"] == (abs(gap) > half)
        first = gap > 0 if measure == "net_per_campaign" else gap < 0
        assert row["ahead"] == ("line" if first else "remote")
        ahead.append(first)
    assert 0 < sum(ahead) < 9
    share = f"{100 * sum(ahead) / 9:.0f} % of these prices, remote at the others"
    verb = "nets more" if measure == "net_per_campaign" else "is cheaper a pig"
    assert found.sentence.startswith(f"line {verb} at {share}")


@pytest.mark.parametrize("measure", ["cost_per_pig", "net_per_campaign"])
def test_a_setup_ahead_everywhere_is_named(pair, measure):
    """The same campaigns, one setup with dearer trips: it is behind at all prices of the others."""
    a, _ = pair()
    costs = a.costs.model_copy(update={"trip": 50.0})
    dear = dataclasses.replace(a, label="dear", costs=costs)
    verb = "nets more" if measure == "net_per_campaign" else "is cheaper a pig"
    for pair_of in ((a, dear), (dear, a)):
        found = break_even_surface(
            *pair_of, Axis("wage", (1.0, 9.0)), Axis("bait", (1.0, 9.0)), measure
        )
        assert found.sentence == (
            f"line {verb} at all of these prices; at all of them it is settled."
        )


def test_how_much_is_settled_is_counted(pair):
    """All, most or some of the prices; what is not all never reads as all, nor some as none."""
    a, b = pair(n=60)
    told = set()
    for top in (2.0, 30.0, 300.0, 3000.0):
        found = break_even_surface(
            a, b, Axis("wage", tuple(np.linspace(0, top, 40))), Axis("bait", (0.0, 1.0)),
        )  # fmt: skip
        share = sum(row["settled"] for row in found.table.to_dict("records")) / 80
        words = found.sentence.split("; at ")[1].split(" of them")[0]
        if share in (0, 1):
            assert words in ("none", "all")
            assert (words == "all") == (share == 1)
        elif share > 0.99:
            assert words == "over 99 %"
        else:
            assert words == f"{max(100 * share, 1):.0f} %"
        told.add(words)
    assert len(told) > 1


@pytest.mark.parametrize(
    ("share", "words"),
    [(1.0, "all"), (0.9999, "over 99 %"), (0.99, "99 %"), (0.5, "50 %"), (0.0001, "1 %"),
     (0.0, "none")],
)  # fmt: skip
def test_a_share_of_all_is_never_rounded_to_all_or_none(share, words):
    assert price_surface._share_of_all(share) == words
