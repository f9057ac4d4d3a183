"""Sentences and tables of a season, word for word and sign for sign, against its campaigns."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from shared.traps import SOLENOID_DROP
from soundergate.report.figures.costs import break_even_map, value_line
from soundergate.report.figures.season import assumptions_moved, caught_by_night
from soundergate.report.tables.season import (
    cost_table,
    figures_table,
    gains_table,
    parts_table,
    population_table,
    season_tables,
    unknowns_table,
)
from soundergate.report.words.season_answers import season_answer
from soundergate.scenario.loading import from_table
from soundergate.seasons.campaigns.questions import QUESTIONS
from soundergate.seasons.money.price_surface import Axis, break_even_surface
from soundergate.seasons.season import SeasonResult, costed, season

BASE: dict[str, Any] = {
    "title": "quick",
    "sounder": {"sows": 2, "juveniles": 4, "piglets": 2},
    "opening": [SOLENOID_DROP],
    "trigger": {"kind": "counter", "count": 3},
    "costs": {
        "currency": "EUR", "wage": 20, "visit_time": "1 h", "trip": 15, "equipment": 900,
        "equipment_campaigns": 30, "damage_per_pig": 100,
    },
}  # fmt: skip
OTHER = BASE | {
    "title": "patient", "trigger": {"kind": "counter", "count": 7},
    "costs": BASE["costs"] | {"equipment": 9000},
}  # fmt: skip


@pytest.fixture(scope="module")
def result() -> SeasonResult:
    """Two invented setups: a counter that waits for three, and a dearer one for seven of eight."""
    both = [from_table(BASE), from_table(OTHER)]
    return season(both, campaigns=300, campaigns_a_year=4)


def numbers(cell: str) -> list[float]:
    """Those of a cell, a true minus as a sign."""
    text = cell.replace(",", "").replace("\N{MINUS SIGN}", "-")
    return [float(one) for one in re.findall(r"[-+]?\d+(?:\.\d+)?", text)]


def within(told: float, value: float, cell: str) -> bool:
    """Whether a figure is the value, rounded as the cell shows it."""
    digits = max((len(d) for d in re.findall(r"\.(\d+)", cell)), default=0)
    return abs(told - value) <= 0.5 * 10**-digits + 1e-9


def test_the_first_sentences_are_the_campaigns(result: SeasonResult) -> None:
    for line, setup in zip(season_answer(result), result.setups, strict=False):
        c = setup.course.campaigns
        found = re.fullmatch(
            r"(\w+): a campaign catches ([\d.]+) % \(.*\) of the group, and the whole group "
            r"in ([\d.]+) % \(.*\) of campaigns. It takes (\d+) nights from the first bait to the "
            r"last check; the trap is set on ([\d.]+) of them\.",
            line,
        )
        assert found, line
        assert found[1] == setup.name
        shares = 100 * (c.caught / c.group_size).mean(), 100 * (c.caught == c.group_size).mean()
        for text, value in zip(found.groups()[1:3], shares, strict=True):
            assert within(float(text), value, text)
        assert int(found[4]) == round(c.nights.mean())
        assert within(float(found[5]), c.set_nights.mean(), found[5])


def test_money_is_told_with_what_is_left_out(result: SeasonResult) -> None:
    for line, setup in zip(season_answer(result)[2:4], result.setups, strict=True):
        figure = setup.costs["cost_per_pig"]
        value, low, high = numbers(line.split("EUR")[0])
        for told, meant in ((value, figure.estimate), (low, figure.low), (high, figure.high)):
            assert within(told, meant, f"{told:g}")
        assert low < value < high
        assert line.startswith(f"{setup.name}: ")
        assert line.endswith(
            " EUR a pig. Not counted: hours of setup labour, hours of removal labour, bait."
        )
    trips = "A trip is counted for each visit, and two more a campaign, to set up and to take away."
    assert season_answer(result).count(trips) == 1
    for setup in result.setups:
        c, trip = setup.course.campaigns, BASE["costs"]["trip"]
        visits = c.pre_bait_visits + c.bait_visits + c.check_visits
        paid = setup.costs.parts_table.loc["travel", "money_per_campaign"]
        assert paid == pytest.approx(trip * (visits.mean() + 2))
    bare = season(from_table(BASE | {"trigger": {"kind": "counter", "count": 40}}), campaigns=20)
    assert "quick: no cost a pig: no pig was caught." in season_answer(bare)


def test_how_many_campaigns_stop_growth_is_from_least_to_most(result: SeasonResult) -> None:
    (line,) = (line for line in season_answer(result) if "stop growth" in line)
    outlook = result.outlooks[0]
    needed = [x for x in outlook.table["campaigns"] if not math.isnan(x)]
    assert f"they ask for {math.ceil(min(needed))} to {math.ceil(max(needed))} campaigns" in line
    assert f"as the file states it, {100 * outlook.share:.0f} % of the pigs must" in line
    assert "like those of quick; 4 campaigns a year are planned." in line
    unsaid = replace(result, campaigns_a_year=5.0, a_year_by_default=True)
    (line,) = (line for line in season_answer(unsaid) if "stop growth" in line)
    assert "planned; " not in line
    assert line.endswith(
        "nobody has planned a number, so the default is taken: 5 a year, one for each sounder of "
        "the property."
    )
    # with 32 % growth and a tenth arriving: 1 - 0.9 / 1.32 of the pigs
    assert outlook.share == pytest.approx(1 - (1 - 0.1) / 1.32)


def test_a_trap_given_up_empty_handed_says_so(result: SeasonResult) -> None:
    """A trap that never shuts is given up in every campaign; a good one hardly ever is."""
    never = {"trigger": {"kind": "counter", "count": 40}}
    for give_up, words in ((1, "1 set night"), (2, "2 set nights in a row")):
        bare = season(from_table(BASE | never | {"campaign": {"give_up": give_up}}), campaigns=20)
        (told,) = (
            line for line in season_answer(bare) if "given up before anything was caught" in line
        )
        assert told.startswith("quick in 100 % of campaigns: given up before anything was caught")
        assert f"after {words} without a new pig inside. To wait longer, set" in told
    shares = {}
    for setup in result.setups:
        campaigns = setup.course.campaigns
        shares[setup.name] = sum(
            bool(gave_up) and caught == 0
            for gave_up, caught in zip(campaigns.gave_up, campaigns.caught, strict=True)
        ) / len(campaigns)
    told = [line for line in season_answer(result) if "given up before anything was caught" in line]
    often = {name: share for name, share in shares.items() if share >= 0.02}
    setups = ", ".join(f"{name} in {100 * share:.0f} %" for name, share in often.items())
    assert [line.split(": ")[0] for line in told] == [f"{setups} of campaigns"] * bool(often)


def test_what_is_given_up_is_said_once_for_as_many_nights(result: SeasonResult) -> None:
    never = {"trigger": {"kind": "counter", "count": 40}}
    setups = []
    for name, nights in (("a", 2), ("b", 1), ("c", 2)):
        told = season(from_table(BASE | never | {"campaign": {"give_up": nights}}), campaigns=20)
        setups.append(replace(told.setups[0], name=name))
    lines = [line for line in season_answer(replace(result, setups=tuple(setups)))
             if "given up before anything was caught" in line]  # fmt: skip
    assert [
        lines[0].startswith("a in 100 %, c in 100 % of"),
        lines[1].startswith("b in 100 % of"),
    ] == [True, True]
    assert len(lines) == 2


def test_a_table_of_figures_holds_them(result: SeasonResult) -> None:
    table = figures_table(result)
    assert [row[0] for row in table.rows] == [question.words for question in QUESTIONS.values()]
    for row, name in zip(table.rows, QUESTIONS, strict=True):
        for cell, setup in zip(row[1:3], result.setups, strict=True):
            e = setup[name]
            factor = 100 if row[-1].startswith("% of") else 1
            assert (factor == 100) == (name in ("fraction_caught", "whole_group", "moved_away",
                                                "gave_up"))  # fmt: skip
            told = numbers(cell)
            assert within(told[0], factor * e.estimate, cell), (name, cell)
            if len(told) == 3:
                assert within(told[1], factor * e.low, cell)
                assert within(told[2], factor * e.high, cell)
            else:
                assert math.isnan(e.low)


def test_differences_have_their_signs(result: SeasonResult) -> None:
    """The second less the first, from the campaigns themselves."""
    first, second = (setup.course.campaigns for setup in result.setups)
    means = {
        "share of the group caught": 100 * (second.caught - first.caught) / 8,
        "pigs caught": second.caught - first.caught,
        "nights from first bait to last check": second.nights - first.nights,
        "visits with bait and to the set trap": sum(getattr(second, v) - getattr(first, v)
                      for v in ("pre_bait_visits", "bait_visits", "check_visits")),
        "hours watched": np.zeros(300),
    }  # fmt: skip
    rows = gains_table(result).rows
    assert [row[1] for row in rows] == list(means)
    for row in rows:
        mean = means[row[1]].mean()
        (told,) = numbers(row[2])
        assert within(told, mean, row[2])
        assert row[0] == "patient \N{MINUS SIGN} quick"
        assert row[2][0] == ("+" if told >= 0 else "\N{MINUS SIGN}")
        ends = numbers(row[3])
        assert not ends or ends[0] <= told <= ends[1]
        assert row[5] == ("yes" if ends and (ends[0] > 0 or ends[1] < 0) else "no")
    assert any(row[5] == "yes" for row in rows)


def test_tables_of_money_hold_it(result: SeasonResult) -> None:
    names = dict(zip(
        ("money a campaign", "money a pig caught", "money a whole group", "hours a campaign",
         "hours a pig caught", "damage prevented less cost"),
        ("cost_per_campaign", "cost_per_pig", "cost_per_group", "hours_per_campaign",
         "hours_per_pig", "net_per_campaign"), strict=True,
    ))  # fmt: skip
    table = cost_table(result)
    assert [row[0] for row in table.rows] == list(names)
    for row in table.rows:
        for cell, setup in zip(row[1:3], result.setups, strict=True):
            figure = setup.costs[names[row[0]]]
            for told, meant in zip(
                numbers(cell.replace(" to ", "  ")),
                (figure.estimate, figure.low, figure.high),
                strict=True,
            ):
                assert told == pytest.approx(meant, rel=0.01, abs=0.6)
    for row in parts_table(result).rows:
        for cell, setup in zip(row[1:], result.setups, strict=True):
            money, hours = (one.get(row[0]) for one in (setup.costs.money, setup.costs.hours))
            told = numbers(cell)
            assert len(told) == (money is not None) + (hours is not None)
            if money is not None:
                assert within(told[0], money, "0")
            if hours is not None:
                assert cell.endswith(" h")
                assert within(told[-1], hours, "0.0")


def test_ends_of_assumptions_stand_in_their_order(result: SeasonResult) -> None:
    moved = [(setup.name, one) for setup, them in zip(result.setups, result.unknowns, strict=True)
             for one in them]  # fmt: skip
    rows = unknowns_table(result).rows
    for row, (name, one) in zip(rows, moved, strict=True):
        assert row[:2] == [name, one.key]
        assert numbers(row[2]) == [one.entry.low, one.entry.high]
        for cell, figure, factor in ((row[3], "fraction_caught", 100), (row[4], "nights", 1)):
            for told, e in zip(numbers(cell), one.figure(figure), strict=True):
                assert within(told, factor * e.estimate, "0.0")
    quiet = next(row for row in rows if row[1] == "campaign.quiet_nights")
    low, high = numbers(quiet[4])
    assert low < high  # the longer they keep off, the longer it takes


def test_bars_of_assumptions_are_named_at_their_ends(result: SeasonResult) -> None:
    moved = result.unknowns[0]
    axes = assumptions_moved(moved)
    assert axes.lines[0].get_xdata()[0] == 100 * result.setups[0]["fraction_caught"].estimate
    for row, one in enumerate(moved):
        low, high = (100 * e.estimate for e in one.figure("fraction_caught"))
        texts = {t.get_text(): t for t in axes.texts if t.xy[1] == row and t.xy[0] > 1}
        for value, at, to_left in (
            (one.entry.low, low, low <= high), (one.entry.high, high, high < low),
        ):  # fmt: skip
            text = texts[f"{value:g}"]
            assert text.xy[0] == at
            assert text.get_ha() == ("right" if to_left else "left")
            assert (text.xyann[0] < 0) == to_left


def test_bands_of_the_curve_are_its_intervals(result: SeasonResult) -> None:
    axes = caught_by_night(result.setups)
    for band, setup in zip(axes.collections, result.setups, strict=True):
        y = band.get_paths()[0].vertices[:, 1]
        lows = [100 * i.low for _, i in setup.caught_by_night]
        highs = [100 * i.high for _, i in setup.caught_by_night]
        assert (y.min(), y.max()) == pytest.approx((min(lows), max(highs)))
        assert max(lows) < y.max()
    assert axes.get_ylim() == (0, 100)


def test_a_table_of_growth_says_what_it_takes(result: SeasonResult) -> None:
    table = population_table(result)
    known = result.outlooks[0].table
    for row, number in zip(table.rows, known.index, strict=True):
        for cell, outlook in zip(row[1:3], result.outlooks, strict=True):
            ends = [float(outlook.table[f"campaigns_{e}"][number]) for e in ("low", "high")]
            for told, meant in zip(numbers(cell), sorted({*ends}), strict=False):
                assert within(told, meant, "0.0")
        growth = [float(known[f"growth_factor_{e}"][number]) for e in ("low", "high")]
        assert within(numbers(row[3])[0], growth[0], "0.00")
        assert within(numbers(row[3])[-1], growth[1], "0.00")
        share = [100 * float(known[f"share_{e}"][number]) for e in ("low", "high")]
        assert within(numbers(row[4])[0], share[0], "0")
        assert within(numbers(row[4])[-1], share[1], "0")


def test_a_table_of_growth_stands_where_something_is_caught(result: SeasonResult) -> None:
    nothing = season(from_table(BASE | {"trigger": {"kind": "counter", "count": 40}}), campaigns=20)
    for one, there in ((result, True), (nothing, False)):
        captions = [table.caption for table in season_tables(one)]
        assert any("stop growth" in caption for caption in captions) == there


# ---- pictures of money -----------------------------------------------------------------------


@pytest.mark.parametrize("measure", ["cost_per_pig", "net_per_campaign"])
@pytest.mark.parametrize("turned", [False, True])
def test_a_side_of_the_map_is_named_for_who_is_ahead_there(
    result: SeasonResult, measure: str, turned: bool
) -> None:
    setups = [costed(one) for one in result.setups]
    axis = Axis("equipment", tuple(np.linspace(0, 40_000, 41)), "patient")
    a, b = setups[::-1] if turned else setups
    surface = break_even_surface(a, b, Axis("wage", tuple(np.linspace(1, 60, 30))), axis, measure)
    assert surface.first_ahead.any()
    assert not surface.first_ahead.all()
    axes = break_even_map(surface)
    words = "nets more" if measure == "net_per_campaign" else "cheaper"
    named = {}
    for text in axes.texts:
        if text.get_text().endswith(f"\n{words}"):
            named[text.get_text().split("\n")[0]] = text.get_position()
    assert set(named) == {"quick", "patient"}
    for name, (wage, price) in named.items():
        per = {}
        for setup, update in zip(setups, ({}, {"equipment": price}), strict=True):
            costs = setup.costs.model_copy(update={"wage": wage, **update})
            one = type(setup)(setup.label, costs, setup.campaigns)
            per[setup.label] = (
                (100 * one.pigs - one.cost).mean() if measure == "net_per_campaign"
                else -one.cost.mean() / one.pigs.mean()
            )  # fmt: skip
        assert max(per, key=per.__getitem__) == name


def test_the_line_of_gain_crosses_nothing_at_the_break_even(result: SeasonResult) -> None:
    (found,) = result.break_even
    assert found.kind == "pays above"
    axes = value_line(found)
    x, y = axes.lines[0].get_data()
    assert np.interp(found.value.estimate, x, y) == pytest.approx(0, abs=1e-6 * abs(y).max())
    assert y[0] == -found.extra_cost
    assert y[-1] > y[0]
    band = axes.collections[0].get_paths()[0].vertices
    at_start = band[np.isclose(band[:, 0], x[0]), 1]
    assert at_start.min() == pytest.approx(-found.extra_cost_interval.high)
    assert at_start.max() == pytest.approx(-found.extra_cost_interval.low)
