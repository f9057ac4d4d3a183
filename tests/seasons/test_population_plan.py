"""Plans: how many campaigns hold the pigs of a property, by figures that disagree."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from soundergate.scenario.planning import Population
from soundergate.scenario.register import entry
from soundergate.seasons.population import published
from soundergate.seasons.population.outlook import Catch, Outlook, outlook
from soundergate.seasons.population.projection import Ranges, Removal, expected
from soundergate.seasons.population.removal_share import AFTER, BASES
from soundergate.studies.errors import StudyError


@pytest.fixture(scope="module")
def plan() -> Outlook:
    """Invented: five sounders of eleven, four campaigns a year of eight pigs each."""
    ground = Population(sounders=5, growth=0.32, immigration=0.1)
    return outlook(ground, 11, Catch(8.0, 7.0, 9.0), 4, years=8, runs=400, seed=3)


def test_campaigns_that_hold_the_level_hold_it(plan: Outlook) -> None:
    for row in plan.table.itertuples():
        factor = (row.growth_factor_low + row.growth_factor_high) / 2
        start = replace(plan.dynamics, growth_factor=factor)
        held = expected(start, Removal.of_campaigns(row.campaigns, 8.0), 5)
        np.testing.assert_allclose(held, 55, rtol=1e-9)
        assert row.campaigns_low <= row.campaigns <= row.campaigns_high


def test_the_own_figure_and_the_published_stand_side_by_side(plan: Outlook) -> None:
    table = plan.table.set_index(["figure", "read_as"])
    own = table.loc[("this file", "growth without removal")]
    assert own["pigs_a_year"] == pytest.approx(55 * 0.42)
    assert own["campaigns_low"] == pytest.approx(55 * 0.42 / 9)
    assert own["campaigns_high"] == pytest.approx(55 * 0.42 / 7)
    advice = table.loc[("Texas advice", BASES[0])]
    # N = 55: 66 % of lambda N go, with lambda = 0.9/0.34
    assert advice["pigs_a_year"] == pytest.approx(0.66 * 0.9 / 0.34 * 55)
    assert advice["years"] == math.inf
    assert own["years_best"] <= own["years"] <= own["years_worst"] < math.inf
    assert {f.name for f in published.PUBLISHED} <= set(plan.published["figure"])


def test_where_nothing_holds_the_level_the_table_says_so() -> None:
    flood = outlook(Population(immigration=1.5), 10, Catch(8, 7, 9), 4, years=3, runs=20)
    assert math.isnan(flood.share)
    assert flood.table["campaigns"].isna().all()
    assert flood.to_json()["share_to_stop_growth"] is None


def test_the_range_is_the_registers_stretched_to_the_files_own(plan: Outlook) -> None:
    growth, arrivals = entry("population.growth"), entry("population.immigration")
    assert plan.ranges == Ranges((growth.low, growth.high), (arrivals.low, arrivals.high))
    rows = plan.over_ranges
    assert len(rows) == 9
    for one, other in (("growth", "immigration"), ("immigration", "growth")):
        for _, part in rows.sort_values(other).groupby(one):
            assert part["campaigns"].is_monotonic_increasing
            assert part["share"].is_monotonic_increasing
    own = rows[(rows["growth"] - 0.32).abs().lt(1e-9) & rows["immigration"].eq(0.1)].iloc[0]
    assert own["share"] == plan.share
    wide = outlook(Population(growth=-0.2), 11, Catch(8, 7, 9), 1, years=3, runs=20)
    assert wide.ranges.growth == (-0.2, growth.high)


def test_a_plan_is_json_and_html(plan: Outlook) -> None:
    told = json.loads(json.dumps(plan.to_json(), allow_nan=False))
    assert told["share_to_stop_growth"] == pytest.approx(1 - 0.9 / 1.32)
    assert told["timing"] == AFTER
    assert any(row["years"] == "never" for row in told["needs"])
    assert len(told["projections"]["with removal"]["years"]) == 9
    html = plan._repr_html_()
    assert "Texas advice" in html
    assert published.WHY_THEY_DIFFER[0] in html
    assert "eliminated" in plan.projections["with removal"]._repr_html_()


def test_whole_sounders_go_together() -> None:
    ground = Population(sounders=5, growth=0.32, immigration=0.0)
    whole = outlook(ground, 11, Catch(8.2, 7, 9), 4, years=3, runs=50, whole_sounders=True)
    assert whole.projections["with removal"].removal.together == 8


def test_an_unknown_picture_is_refused(plan: Outlook) -> None:
    with pytest.raises(StudyError, match="share or projection"):
        plan.plot(what="pigs")


def test_pigs_left_over_the_ranges_are_worked_out_year_by_year(plan: Outlook) -> None:
    """Births, then 32 taken as long as there are any, then as many arrive as a share of 55."""
    for row in plan.over_ranges.itertuples():
        pigs = 55.0
        for _ in range(plan.projections["with removal"].years):
            pigs = max(pigs * (1 + row.growth) - 4 * 8, 0.0) + row.immigration * 55
        assert row.pigs_left == pytest.approx(pigs, rel=1e-9)
