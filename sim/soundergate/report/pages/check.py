"""The page of `check`: whether latch and gate can be relied on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from soundergate.report.pages.page import Page
from soundergate.report.pages.parts import LEANS, as_written, gate_pictures, title_of
from soundergate.report.pages.subject import setup_cautions, sources_of, units_of
from soundergate.report.tables.margins import margins_table, unknowns_tables
from soundergate.report.words.steel_answers import check_told

if TYPE_CHECKING:
    from soundergate.mechanics.advice.check import CheckReport
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.worlds.steel import SteelOverWorlds


def check_page(
    report: CheckReport, scenario: Scenario, over: SteelOverWorlds | None, data: Any
) -> Page:
    """Verdict, gates to scale, margins, and over plausible worlds what a release hangs on."""
    units = units_of(scenario)
    worlds = [] if over is None else [("plausible worlds", str(over.worlds))]
    return Page(
        title=title_of(scenario, "Latch and gate"),
        kind="What the steel does, before any pig comes",
        answer=check_told(report, over),
        pictures=gate_pictures(report.setup, scenario, units),
        tables=[margins_table(report, over), *unknowns_tables(over)],
        leans_on=sources_of(scenario),
        leans_intro=LEANS,
        added_cautions=setup_cautions([report.setup], units),
        made=worlds,
        scenario_text=as_written(scenario.raw),
        data=data,
    )
