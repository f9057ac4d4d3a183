"""`run`: what one setup catches over plausible worlds, and with every unknown as it is assumed."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from soundergate.commands import console, outputs, repeat
from soundergate.commands.options import RunOptions
from soundergate.commands.progress import progress
from soundergate.commands.workplace import ended_early, how_many, in_worlds, keeps_nights, workplace
from soundergate.report.tables.nights import OPEN_TRAP, measure_table
from soundergate.report.tables.worlds import over_worlds_tables
from soundergate.report.words.answers import STANDING, may_stay_open, run_told, stopped
from soundergate.report.words.world_answers import worlds_answer
from soundergate.scenario.loading import load

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.worlds.one_setup import OverWorlds


def command(options: RunOptions) -> int | None:
    """Estimate what the setup in a file catches, or repeat what a run.json says."""
    from soundergate.studies.estimate import run

    scenario, settled = _asked(options)
    worlds = how_many(settled.worlds, settled)
    keep = keeps_nights(settled)
    with workplace(settled) as at:
        with progress("nights", settled.quiet, at.waiting) as tell:
            result = run(
                scenario,
                settled.nights,
                settled.precision,
                settled.seed,
                settled.workers,
                settled.engine,
                keep_outcomes=keep,
                progress=tell,
                level=settled.level,
                executor=at.executor,
                store=at.store,
            )
        over = None if result.interrupted else _over_worlds(result, worlds, keep, settled)
        _show(result, over, settled)
        if result.interrupted or (over is None and worlds):
            return ended_early(at.out)
        if at.out is not None:
            outputs.write_run(at.out, result, settled, over, worlds)
    return None


def _over_worlds(
    result: RunResult, worlds: int, keep: bool, options: RunOptions
) -> OverWorlds | None:
    """The same setup over plausible worlds; None without any, or if stopped by hand."""
    from soundergate.studies.worlds.one_setup import over_worlds

    if not worlds or result.scenario is None:
        return None
    play = partial(
        over_worlds,
        result.scenario,
        worlds,
        seed=result.seed,
        engine=options.engine,
        level=options.level,
        workers=options.workers,
        keep_nights=keep,
    )
    over = in_worlds(options, lambda tell: play(progress=tell))
    stopped_early = over is not None and over.found is not None and over.found.interrupted
    return None if stopped_early else over


def _asked(options: RunOptions) -> tuple[Scenario, RunOptions]:
    from soundergate.studies.repeat import Asked

    record = repeat.record_of([options.file], "run")
    if record is None:
        return load(options.file), options
    assert isinstance(record.asked, Asked)
    settled, replaced = repeat.options_of(record, record.asked, options)
    worlds = record.asked.worlds if options.worlds is None else options.worlds
    replaced += repeat.replacements({"worlds": record.asked.worlds}, {"worlds": worlds})
    repeat.say(record, replaced, options)
    return record.setups[""].scenario, replace(settled, worlds=worlds)


def _show(result: RunResult, over: OverWorlds | None, options: RunOptions) -> None:
    if not options.quiet:
        if over is not None and result.scenario is not None:
            console.tell(*worlds_answer(over, result.scenario, result.group_size))
        console.tell(*run_told(result, over is not None and over.found is not None))
    elif result.interrupted:
        console.tell(stopped(result.nights))
    if options.json:
        told = None if over is None else over.to_json()
        console.print_json(result.to_json() | {"worlds": told})
    else:
        for table in over_worlds_tables(over, result, short=True) if over is not None else ():
            console.print_table(table)
        console.print_table(measure_table(result))
    if not options.quiet:
        if may_stay_open(result) and not options.json:
            console.tell(OPEN_TRAP)
        console.tell(STANDING)
