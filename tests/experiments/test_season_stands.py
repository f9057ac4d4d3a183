"""results_demo/season_worth is what its command gives, and its README says what it holds."""

from __future__ import annotations

import csv
import json
import math
import re
from pathlib import Path

import pytest

from soundergate.season.season import SeasonResult, season

REPO = Path(__file__).parents[2]
HERE, RESULTS = REPO / "experiments" / "season_worth", REPO / "results_demo" / "season_worth"
README = (HERE / "README.md").read_text(encoding="utf-8")
FILES = [HERE / f"{name}.toml" for name in ("line", "watched", "afar")]


@pytest.fixture(scope="module")
def played() -> SeasonResult:
    return season(FILES, campaigns=2000, campaigns_a_year=6)


def test_the_command_gives_every_committed_number(played: SeasonResult) -> None:
    with (RESULTS / "summary.csv").open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    tables = {setup.name: setup.table for setup in played.setups}
    assert len(rows) == sum(map(len, tables.values()))
    for row in rows:
        e = tables[row["setup"]].loc[row["measure"]]
        for key in ("estimate", "low", "high"):
            told = float(row[key]) if row[key] else math.nan
            now = float(e[key])
            assert math.isclose(now, told, rel_tol=1e-9) or (math.isnan(now) and math.isnan(told))
    record = json.loads((RESULTS / "season.json").read_text(encoding="utf-8"))
    for setup, told in zip(played.setups, record["setups"], strict=True):
        cost = told["costs"]["cost_per_pig"]["estimate"]
        assert setup.costs["cost_per_pig"].estimate == pytest.approx(cost, rel=1e-9)


def test_what_the_answer_says_is_so(played: SeasonResult) -> None:
    gains = {(g.second, g.estimate.name): g for g in played.gains}
    ahead = gains["watched", "fraction_caught"].estimate
    told = f"{100 * ahead.estimate:.1f} points of the group\nahead"
    assert re.sub(r"\s+", " ", told) in re.sub(r"\s+", " ", README)
    assert f"({100 * ahead.low:.1f} to {100 * ahead.high:.1f})" in README
    assert round(-gains["watched", "nights"].estimate.estimate) == 3
    assert round(-gains["afar", "visits"].estimate.estimate) == 4
    whole = {s.name: round(100 * s["whole_group"].estimate) for s in played.setups}
    assert (whole["watched"], whole["line"]) == (40, 27)
    watched, afar = played.break_even
    assert watched.kind == "pays above"
    assert 550 < watched.value.estimate < 650
    assert (round(watched.value.low, -1), round(watched.value.high, -1)) == (430, 1030)
    assert afar.kind == "always pays"
    costs = {s.name: s.costs["cost_per_pig"] for s in played.setups}
    assert costs["afar"].high < costs["line"].low < costs["line"].high < costs["watched"].low


def test_the_readme_has_question_answer_and_command() -> None:
    for head in ("## Question", "## Answer", "## Command"):
        assert head in README
    files = " ".join(f"experiments/season_worth/{file.name}" for file in FILES)
    options = "--campaigns 2000 --campaigns-a-year 6 --out results_demo/season_worth --force"
    assert f"soundergate season {files} {options}" in README
