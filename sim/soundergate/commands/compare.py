"""`compare`: several setups on the same nights."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from soundergate.commands import console, outputs, repeat
from soundergate.commands.options import Given, Options
from soundergate.commands.progress import progress
from soundergate.commands.workplace import ended_early, keeps_nights, workplace
from soundergate.report.tables.nights import arm_table, difference_tables
from soundergate.report.tables.trial import trial_table
from soundergate.report.words.answers import STANDING, stopped
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from soundergate.studies.arms import Arm
    from soundergate.studies.compare import Comparison
    from soundergate.studies.trial_size import TrialSize


def command(
    files: Sequence[Path],
    vary: Sequence[str],
    against: str | None,
    given: Given,
    options: Options,
    trial_power: float | None = None,
) -> int | None:
    """Compare setups from files, each with every combination of what is varied.

    Or repeat what a run.json says.
    """
    from soundergate.report.words.answers import comparison_answer
    from soundergate.studies.compare import compare
    from soundergate.studies.trial_size import check_power, trial_sizes

    arms, against, trial_power, options = _asked(files, vary, against, given, options, trial_power)
    if trial_power is not None:
        check_power(trial_power)
    with workplace(options) as at:
        with progress("nights", options.quiet, at.waiting) as tell:
            comparison = compare(
                arms,
                None,
                options.nights,
                options.precision,
                options.seed,
                options.workers,
                options.engine,
                keep_outcomes=keeps_nights(options),
                progress=tell,
                level=options.level,
                against=against,
                executor=at.executor,
                store=at.store,
            )
        sizes = trial_sizes(comparison, trial_power) if trial_power is not None else []
        told = {"trial": [size.to_json() for size in sizes]} if sizes else {}
        show(comparison, comparison_answer(comparison), comparison.to_json() | told, options, sizes)
        if comparison.interrupted:
            return ended_early(at.out)
        if at.out is not None:
            asked = {"against": against, "trial_power": trial_power}
            outputs.write_comparison(at.out, comparison, options, sizes, asked)
    return None


def _asked(
    files: Sequence[Path],
    vary: Sequence[str],
    against: str | None,
    given: Given,
    options: Options,
    trial_power: float | None,
) -> tuple[list[Arm], str | None, float | None, Options]:
    """Arms, against which, the power of a trial, and options: as typed, or as a record has them.

    A mistake in any file shows here, before anything is made.
    """
    from soundergate.studies.arms import Arm, make_arms
    from soundergate.studies.repeat import Asked

    record = repeat.record_of(files, "compare")
    if record is None:
        return make_arms(list(files), vary or None), against, trial_power, given.over(options)
    if vary:
        raise ScenarioError(
            "says itself what is compared; --vary goes with scenario files", file=record.file
        )
    asked = record.asked
    assert isinstance(asked, Asked)
    options, replaced = repeat.options_of(record, asked, given, options)
    then = {"against": asked.against, "trial power": asked.trial_power}
    against = asked.against if against is None else against
    trial_power = asked.trial_power if trial_power is None else trial_power
    replaced += repeat.replacements(then, {"against": against, "trial power": trial_power})
    repeat.say(record, replaced, options)
    arms = [Arm(name, one.scenario, one.set) for name, one in record.setups.items()]
    return arms, against, trial_power, options


def show(
    comparison: Comparison,
    answer: Sequence[str],
    data: dict[str, object],
    options: Options,
    trials: Sequence[TrialSize] = (),
) -> None:
    """The answer in sentences, then every arm and every difference."""
    if not options.quiet:
        console.tell(*answer)
    elif comparison.interrupted:
        console.tell(stopped(comparison.nights))
    if options.json:
        console.print_json(data)
    else:
        console.print_table(arm_table(comparison))
        for table in difference_tables(comparison):
            console.print_table(table)
        if trials:
            table = trial_table(trials)
            console.print_table(table)
            if not options.quiet:
                console.tell(table.note)
    if not options.quiet:
        console.tell(STANDING)
