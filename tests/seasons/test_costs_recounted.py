"""Costs counted again from campaigns.csv by other code, and held against summary.csv."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import pytest
from scipy import stats

from soundergate.seasons.record import write_season
from soundergate.seasons.season import SeasonResult, season

SEED, CAMPAIGNS = 12, 250
PRICES: dict[str, Any] = {
    "currency": "EUR",
    "wage": 21,
    "trip": 17,
    "setup_time": "7 h",
    "visit_time": "80 min",
    "removal_time": "150 min",
    "watch_wage": 9,
    "bait": 13,
    "equipment": 3300,
    "equipment_campaigns": 30,
    "data_plan": 19,
    "alarm": 450,
    "alarm_plan": 6,
    "damage_per_pig": 140,
}
NAMES = ("checked", "alarmed", "watched")


@pytest.fixture(scope="module")
def result(made) -> SeasonResult:
    """Invented: a trap checked daily, one with an alarm, and one that a person watches."""
    unchecked = {"checks": "after closure", "bait_every": 3, "quiet_nights": 7}
    return season(
        [
            made(title="checked", costs=PRICES),
            made(title="alarmed", costs=PRICES, campaign=unchecked | {"alarm": True}),
            made(title="watched", costs=PRICES, campaign=unchecked, trigger={"kind": "person"}),
        ],
        campaigns=CAMPAIGNS,
        seed=SEED,
    )


@pytest.fixture(scope="module")
def folder(result: SeasonResult, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("season")
    write_season(out, result, "batch")
    return out


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as source:
        return list(csv.DictReader(source))


def counted(row: dict[str, str]) -> dict[str, float]:
    """Money of one campaign by part, from one line of campaigns.csv."""
    visits = sum(int(row[f"{what}_visits"]) for what in ("pre_bait", "bait", "check"))
    months = int(row["nights"]) / (365.25 / 12)
    alarm = row["alarm"] == "True"
    return {
        "setup labour": 7 * 21,
        "visit labour": visits * 80 / 60 * 21,
        "removal labour": int(row["captures"]) * 2.5 * 21,
        "watching": float(row["watched_min"]) / 60 * 9,
        "travel": (visits + 2) * 17,
        "bait": int(row["heaps"]) * 13,
        "equipment": 3300 / 30,
        "data plan": months * 19,
        "alarm": 450 / 30 if alarm else 0,
        "alarm plan": months * 6 if alarm else 0,
    }


@pytest.mark.parametrize("name", NAMES)
def test_money_by_part_is_that_of_the_campaigns(folder: Path, name: str) -> None:
    money = [counted(row) for row in rows_of(folder / "campaigns.csv") if row["setup"] == name]
    assert len(money) == CAMPAIGNS
    told = {row["measure"]: row for row in rows_of(folder / "summary.csv") if row["setup"] == name}
    spent = 0
    for part in money[0]:
        values = [one[part] for one in money]
        row = told.get(f"money: {part}")
        if row is None:  # nobody watched, or there is no alarm
            assert not any(values)
            continue
        spent += 1
        mean = sum(values) / CAMPAIGNS
        assert float(row["estimate"]) == pytest.approx(mean, rel=1e-9)
        if len(set(values)) > 1:
            low, high = stats.t.interval(0.95, CAMPAIGNS - 1, mean, stats.sem(values))
            assert float(row["low"]) == pytest.approx(max(low, 0), rel=1e-6)
            assert float(row["high"]) == pytest.approx(high, rel=1e-6)
    assert spent == {"checked": 7, "alarmed": 9, "watched": 8}[name]


@pytest.mark.parametrize("name", NAMES)
def test_figures_are_those_of_the_campaigns(folder: Path, name: str) -> None:
    lines = [row for row in rows_of(folder / "campaigns.csv") if row["setup"] == name]
    cost = sum(sum(counted(row).values()) for row in lines)
    pigs = sum(int(row["caught"]) for row in lines)
    whole = sum(row["caught"] == row["group_size"] for row in lines)
    told = {
        row["measure"]: float(row["estimate"])
        for row in rows_of(folder / "summary.csv")
        if row["setup"] == name
    }
    assert told["cost_per_campaign"] == pytest.approx(cost / CAMPAIGNS, rel=1e-9)
    assert told["cost_per_pig"] == pytest.approx(cost / pigs, rel=1e-9)
    assert told["cost_per_group"] == pytest.approx(cost / whole, rel=1e-9)
    assert told["prevented_per_campaign"] == pytest.approx(140 * pigs / CAMPAIGNS, rel=1e-9)
    net = (140 * pigs - cost) / CAMPAIGNS
    assert told["net_per_campaign"] == pytest.approx(net, rel=1e-9)
    assert told["cost_per_prevented"] == pytest.approx(cost / (140 * pigs), rel=1e-9)
    parts = [value for measure, value in told.items() if measure.startswith("money: ")]
    assert sum(parts) == pytest.approx(told["cost_per_campaign"], rel=1e-9)
    hours = [value for measure, value in told.items() if measure.startswith("hours: ")]
    assert sum(hours) == pytest.approx(told["hours_per_campaign"], rel=1e-9)


def test_visits_and_bait_of_the_campaigns_fit_together(folder: Path) -> None:
    """Bait on every visit but a last check; a heap only where somebody went."""
    for row in rows_of(folder / "campaigns.csv"):
        visits = sum(int(row[f"{what}_visits"]) for what in ("pre_bait", "bait", "check"))
        assert visits - int(row["heaps"]) in ((1,) if row["setup"] == "checked" else (0, 1))
        quiet = 10 if row["setup"] == "checked" else 7
        scares, rest = divmod(int(row["quiet_nights"]), quiet)
        assert rest == 0
        least = 1 + scares * math.ceil(quiet / (2 if row["setup"] == "checked" else 3))
        if row["setup"] == "checked":
            assert int(row["bait_visits"]) == least
        assert int(row["bait_visits"]) >= least


def test_the_break_even_is_that_of_the_campaigns(folder: Path, result: SeasonResult) -> None:
    lines = rows_of(folder / "campaigns.csv")
    totals = {
        name: (
            sum(sum(counted(row).values()) for row in lines if row["setup"] == name),
            sum(int(row["caught"]) for row in lines if row["setup"] == name),
        )
        for name in NAMES
    }
    assert [{one.better, one.other} for one in result.break_even] == [
        {"checked", "alarmed"}, {"checked", "watched"},
    ]  # fmt: skip
    for one in result.break_even:
        (dear, more), (cheap, fewer) = totals[one.better], totals[one.other]
        assert more >= fewer
        assert one.extra_cost == pytest.approx((dear - cheap) / CAMPAIGNS, rel=1e-9)
        assert one.extra_pigs == pytest.approx((more - fewer) / CAMPAIGNS, rel=1e-9)
