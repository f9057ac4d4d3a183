"""`season`: campaigns night after night, what they cost, and the pigs of the property."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from soundergate.commands import console
from soundergate.commands.options import Options, SeasonOptions
from soundergate.commands.outputs import all_at_once, say_written, write_page
from soundergate.commands.progress import announce_compiling, progress
from soundergate.commands.workplace import prepare
from soundergate.report.words.answers import STANDING

if TYPE_CHECKING:
    from soundergate.seasons.season import SeasonResult


def command(options: SeasonOptions) -> None:
    """Play campaigns of setups from files, each with every combination of what is varied."""
    from soundergate.report.words.season_answers import season_answer
    from soundergate.seasons.season import season
    from soundergate.studies.arms import make_arms

    make_arms(
        list(options.files), options.vary or None
    )  # a mistake in any of them shows before anything is made
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
    if not options.quiet:
        console.tell(*season_answer(result))
    _print(result, options)
    if not options.quiet:
        console.tell(STANDING)
    if out is not None:
        write(out, result, options)


def _print(result: SeasonResult, options: Options) -> None:
    if options.json:
        console.print_json(result.to_json())
        return
    from soundergate.report.tables.season import season_tables

    for table in season_tables(result):
        console.print_table(table)


def write(out: Path, result: SeasonResult, options: Options) -> None:
    """campaigns.csv, summary.csv, season.json, pictures and report.html."""
    from soundergate.report.pages.season import season_page
    from soundergate.seasons.record import write_season

    with all_at_once():
        written = write_season(out, result, options.engine)
        # the page holds its pictures as vectors already
        written += write_page(out / "report.html", season_page(result), ("png",))
    say_written(out, written, options)
