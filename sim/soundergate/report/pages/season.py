"""A page on campaigns to hand to a board: what they catch, cost and leave, and how sure that is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.report.contents import Picture
from soundergate.report.figures import season as season_figures
from soundergate.report.pages.page import Page
from soundergate.report.pages.parts import LEANS, as_written
from soundergate.report.pages.subject import sources_of_arms
from soundergate.report.tables.season import published_table, season_tables
from soundergate.report.tables.season_worlds import season_worlds_tables
from soundergate.report.words.season_answers import season_answer

if TYPE_CHECKING:
    from soundergate.seasons.season import SeasonResult
    from soundergate.seasons.worlds.result import SeasonWorlds

CAUTIONS = (
    "A set trap is to be checked as often as the law asks, daily at least where it asks for that; "
    "a picture from afar does not replace a visit unless the law says so.",
    "Pigs carry diseases that people and stock can catch, and removing, moving or killing them is "
    "regulated: ask the authority that is in charge before the first night.",
)


_DRAWN = 4
"""Setups of which pictures of their own are drawn; tables have them all."""


def season_page(result: SeasonResult, over: SeasonWorlds | None = None) -> Page:
    """Campaigns of one or several setups, over plausible worlds if they were played."""
    scenarios = {setup.name: setup.scenario for setup in result.setups}
    worlds = [] if over is None else season_worlds_tables(over)
    titles = {scenario.title for scenario in scenarios.values()}
    return Page(
        title=(titles.pop() if len(titles) == 1 else "") or "Campaigns",
        kind=f"Season: {result.campaigns:,} campaigns of each setup",
        answer=season_answer(result, over),
        pictures=season_pictures(result),
        tables=[*worlds, *season_tables(result), published_table(result)],
        leans_on=sources_of_arms(scenarios, _unknown(result)),
        leans_intro=LEANS,
        added_cautions=CAUTIONS,
        made=[
            ("campaigns played", f"{result.campaigns:,} of each setup"),
            ("seed", str(result.seed)),
            ("confidence", f"{100 * result.level:g} %"),
        ],
        scenario_text=as_written({name: scenario.raw for name, scenario in scenarios.items()}),
        data=result.to_json() | {"worlds": None if over is None else over.to_json()},
    )  # fmt: skip


def _unknown(result: SeasonResult) -> list[str]:
    return [one.key for moved in result.unknowns for one in moved]


def season_pictures(result: SeasonResult) -> list[Picture]:
    """Catch by night, costs, break-even, assumptions, population."""
    pictures = [
        Picture(
            season_figures.caught_by_night(result.setups).figure,  # type: ignore[arg-type]
            "Curves: " + "; ".join(
                f"{s.name}: {100 * s['fraction_caught'].estimate:.0f} % by the last set night"
                for s in result.setups
            ),
            "Mean share of the group caught by the end of each set night; bands: its range.",
            "caught_by_night",
        )
    ]  # fmt: skip
    pictures += _money_pictures(result)
    for number, (setup, moved) in enumerate(zip(result.setups, result.unknowns, strict=True), 1):
        if moved and number <= _DRAWN:
            pictures.append(
                Picture(
                    season_figures.assumptions_moved(moved).figure,  # type: ignore[arg-type]
                    f"Bars: how far assumptions about learning move the catch of {setup.name}.",
                    f"{setup.name}: the share caught with one assumption at either end of its "
                    "plausible range.",
                    f"assumptions_{number}",
                )
            )
    return pictures + _population_pictures(result)


def _money_pictures(result: SeasonResult) -> list[Picture]:
    from soundergate.report.figures.costs import cost_parts

    priced = [setup for setup in result.setups if setup.any_price]
    pictures = []
    if priced:
        pictures.append(
            Picture(
                cost_parts([setup.costs for setup in priced]).figure,  # type: ignore[arg-type]
                "Stacked bars: what a caught pig costs, by what it is spent on; see the tables.",
                "What a caught pig costs, by what it is spent on.",
                "cost_parts",
            )
        )
    for number, one in enumerate(result.break_even[: _DRAWN - 1], 2):
        pictures.append(
            Picture(one.plot().figure, f"Line: {one.told}", one.told, f"break_even_{number}")
        )
    for number, surface in enumerate(result.surfaces[: _DRAWN - 1], 2):
        pictures.append(
            Picture(
                surface.plot().figure, f"Map: {surface.sentence}", surface.sentence,
                f"prices_{number}",
            )
        )  # fmt: skip
    return pictures


def _population_pictures(result: SeasonResult) -> list[Picture]:
    if result.shown_outlook is None:
        return []
    first, name = result.shown_outlook
    return [
        Picture(
            first.plot(what="share").figure,
            "Curves: the share to remove each year against growth, with published figures.",
            "The share of the pigs to remove each year to stop growth, by growth and arrivals; "
            "published figures disagree, and none is preferred here.",
            "stop_growth",
        ),
        Picture(
            first.plot(what="projection").figure,
            f"Bands: pigs on the property over years with {result.campaigns_a_year:g} campaigns.",
            f"Pigs on the property with {result.campaigns_a_year:g} campaigns a year like those of "
            f"{name}, and without: once with the growth and arrivals that the file states, once "
            "with both anywhere in their plausible ranges. Compare each line with its like.",
            "population",
        ),
    ]
