"""`run`: play one setup's night many times and say what it catches."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.commands import console, outputs, repeat
from soundergate.commands.options import FileOptions, Options
from soundergate.commands.progress import progress
from soundergate.commands.workplace import ended_early, keeps_nights, workplace
from soundergate.report.tables.nights import measure_table
from soundergate.report.words.answers import STANDING, run_told, stopped
from soundergate.scenario.loading import load

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimate import RunResult


def command(options: FileOptions) -> int | None:
    """Estimate what the setup in a file catches, or repeat what a run.json says."""
    from soundergate.studies.estimate import run

    scenario, settled = _asked(options)
    with workplace(settled) as at:
        with progress("nights", settled.quiet, at.waiting) as tell:
            result = run(
                scenario,
                settled.nights,
                settled.precision,
                settled.seed,
                settled.workers,
                settled.engine,
                keep_outcomes=keeps_nights(settled),
                progress=tell,
                level=settled.level,
                executor=at.executor,
                store=at.store,
            )
        _show(result, settled)
        if result.interrupted:
            return ended_early(at.out)
        if at.out is not None:
            outputs.write_run(at.out, result, settled)
    return None


def _asked(options: FileOptions) -> tuple[Scenario, Options]:
    from soundergate.studies.repeat import Asked

    record = repeat.record_of([options.file], "run")
    if record is None:
        return load(options.file), options
    assert isinstance(record.asked, Asked)
    settled, replaced = repeat.options_of(record, record.asked, options)
    repeat.say(record, replaced, options)
    return record.setups[""].scenario, settled


def _show(result: RunResult, options: Options) -> None:
    if not options.quiet:
        console.tell(*run_told(result))
    elif result.interrupted:
        console.tell(stopped(result.nights))
    if options.json:
        console.print_json(result.to_json())
    else:
        console.print_table(measure_table(result))
    if not options.quiet:
        console.tell(STANDING)
