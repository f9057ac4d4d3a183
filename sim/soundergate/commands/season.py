"""`season`: campaigns night after night, what they cost, and the pigs of the property."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from soundergate.commands import console
from soundergate.commands.options import Options, SeasonOptions
from soundergate.commands.outputs import all_at_once, say_written, write_page
from soundergate.commands.progress import announce_compiling, progress
from soundergate.commands.workplace import ended_early, how_many, in_worlds, prepare
from soundergate.report.words.answers import STANDING

if TYPE_CHECKING:
    from soundergate.seasons.season import SeasonResult
    from soundergate.seasons.worlds.result import SeasonWorlds
    from soundergate.studies.arms import Arm


def command(options: SeasonOptions) -> int | None:
    """Play campaigns of setups from files, each with every combination of what is varied."""
    from soundergate.report.words.season_answers import season_answer
    from soundergate.seasons.season import season
    from soundergate.studies.arms import make_arms
    from soundergate.studies.worlds.verdicts import check_negligible

    # a mistake in any of them shows before anything is made
    arms = make_arms(list(options.files), options.vary or None)
    worlds = how_many(options.worlds, options)
    check_negligible(options.negligible)
    out = prepare(options.out, options.force)
    announce_compiling(options)
    with progress("campaigns", options.quiet) as tell:
        result = season(
            list(options.files),
            options.vary or None,
            options.campaigns,
            options.seed,
            options.workers,
            options.engine,
            campaigns_a_year=options.campaigns_a_year,
            level=options.level,
            progress=tell,
        )
    over, stopped = _over_worlds(arms, result, worlds, options)
    if not options.quiet:
        console.tell(*season_answer(result, over, one_world=bool(worlds)))
    _print(result, over, options)
    if not options.quiet:
        console.tell(STANDING)
    if stopped:
        return ended_early(None)
    if out is not None:
        write(out, result, options, over)
    return None


def _over_worlds(
    arms: list[Arm], result: SeasonResult, worlds: int, options: SeasonOptions
) -> tuple[SeasonWorlds | None, bool]:
    """The same setups over plausible worlds, and whether that was stopped by hand; None without
    any, if nothing is unknown, or if too few were played."""
    from soundergate.seasons.worlds.playing import season_unknowns, season_worlds

    if not worlds or not season_unknowns(arms):
        return None, False
    play = partial(
        season_worlds,
        arms,
        result.pairs,
        worlds,
        seed=result.seed,
        engine=options.engine,
        level=options.level,
        negligible=options.negligible,
        workers=options.workers,
    )
    found = in_worlds(options, lambda tell: play(progress=tell), "campaigns")
    return found, found is None or found.interrupted


def _print(result: SeasonResult, over: SeasonWorlds | None, options: Options) -> None:
    if options.json:
        told = None if over is None else over.to_json()
        console.print_json(result.to_json() | {"worlds": told})
        return
    from soundergate.report.tables.season import season_tables
    from soundergate.report.tables.season_worlds import season_worlds_tables

    for table in [*(season_worlds_tables(over) if over else ()), *season_tables(result)]:
        console.print_table(table)


def write(
    out: Path, result: SeasonResult, options: Options, over: SeasonWorlds | None = None
) -> None:
    """campaigns.csv, summary.csv, worlds.csv, season.json, pictures and report.html."""
    from soundergate.report.pages.season import season_page
    from soundergate.seasons.record import write_season

    with all_at_once():
        written = write_season(out, result, options.engine, over)
        # the page holds its pictures as vectors already
        written += write_page(out / "report.html", season_page(result, over), ("png",))
    say_written(out, written, options)
