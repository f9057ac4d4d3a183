"""results_demo/season_worth is what its command gives, and its README says what it holds."""

from __future__ import annotations

import csv
import json
import math
import re
from pathlib import Path

import pytest

from soundergate.scenario.loading import load
from soundergate.seasons.season import SeasonResult, season
from soundergate.seasons.worlds.playing import season_worlds
from soundergate.seasons.worlds.result import CATCH, COST
from soundergate.studies.arms import Arm
from soundergate.studies.worlds.verdicts import DEPENDS

REPO = Path(__file__).parents[2]
HERE, RESULTS = REPO / "experiments" / "season_worth", REPO / "results_demo" / "season_worth"
README = (HERE / "README.md").read_text(encoding="utf-8")
FILES = [HERE / f"{name}.toml" for name in ("line", "watched", "afar")]


@pytest.fixture(scope="module")
def played() -> SeasonResult:
    return season(FILES, campaigns=2000, campaigns_a_year=6)


@pytest.mark.slow
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


@pytest.mark.slow
def test_what_the_answer_says_is_so(played: SeasonResult) -> None:
    text = re.sub(r"\s+", " ", README.split("<!-- table")[0])
    gains = {(g.second, g.estimate.name): g.estimate for g in played.gains}
    behind = gains["watched", "fraction_caught"]
    assert f"costs {-100 * behind.estimate:.1f} points of the group" in text
    assert f"({-100 * behind.high:.1f} to {-100 * behind.low:.1f})" in text
    assert round(-gains["watched", "nights"].estimate) == 2  # "two nights sooner"
    by_name = {setup.name: setup for setup in played.setups}
    line, watched, afar = (by_name[name] for name in ("line", "watched", "afar"))
    whole = [round(100 * s["whole_group"].estimate) for s in (watched, line)]
    assert f"in {whole[0]} campaigns of 100 instead of {whole[1]}," in text
    pig = [s.costs["cost_per_pig"].estimate for s in (watched, line, afar)]
    assert f"{pig[0]:.0f} dollars against {pig[1]:.0f}." in text
    assert f"a pig costs {pig[2]:.0f} dollars" in text
    campaigns = watched.course.campaigns
    empty = (campaigns.gave_up & (campaigns.caught == 0)).mean()
    assert f"in {100 * empty:.0f} campaigns of 100 the trap is gone" in text
    saved = watched["visits"].estimate - afar["visits"].estimate
    assert round(10 * saved) == 6  # "six visits in ten campaigns"


@pytest.mark.slow
def test_what_it_says_of_worlds_is_so() -> None:
    text = re.sub(r"\s+", " ", README.split("<!-- table")[0])
    arms = [Arm(file.stem, load(file)) for file in FILES]
    found = season_worlds(arms, [(0, 1), (0, 2)])
    for name in ("line", "watched"):
        low, middle, high = (round(100 * q.estimate) for q in found.quantiles(name, CATCH))
        assert f"between {low} and {high} %" in text
        assert f"{middle} % in the middle one" in text
    middle = [found.quantiles(name, COST)[1].estimate for name in ("line", "watched")]
    assert f"{middle[0]:.0f} dollars with the line in the middle world and {middle[1]:.0f}" in text
    (v,) = (v for v in found.verdicts if (v.a, v.b, v.measure) == ("line", "watched", CATCH))
    assert v.verdict == DEPENDS
    assert f"{100 * v.mean:.0f} points more on average" in text
    assert f"more in {100 * v.a_better:.0f} % of worlds" in text
    assert f"as much less in {100 * v.b_better:.0f} %" in text
    holds = found.order("line", "watched", COST)
    assert holds.better == "line"
    assert f"the cheaper one in {100 * holds.holds:.0f} % of worlds" in text
    assert found.rules["line", "watched", CATCH] is None  # "no one or two of them tell"


def test_the_readme_has_question_answer_and_command() -> None:
    for head in ("## Question", "## Answer", "## Command"):
        assert head in README
    files = " ".join(f"experiments/season_worth/{file.name}" for file in FILES)
    options = "--campaigns 2000 --campaigns-a-year 6 --out results_demo/season_worth --force"
    assert f"soundergate season {files} {options}" in README
