"""`compare`: several setups on the same nights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from soundergate.commands import console, outputs, repeat
from soundergate.commands.options import CompareOptions, Options
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


def command(options: CompareOptions) -> int | None:
    """Compare setups from files, each with every combination of what is varied.

    Or repeat what a run.json says.
    """
    from soundergate.report.words.answers import comparison_answer
    from soundergate.studies.compare import compare
    from soundergate.studies.trial_size import check_power, trial_sizes

    arms, options = _asked(options)
    power = options.trial_power
    if power is not None:
        check_power(power)
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
                against=options.against,
                executor=at.executor,
                store=at.store,
            )
        sizes = trial_sizes(comparison, power) if power is not None else []
        told = {"trial": [size.to_json() for size in sizes]} if sizes else {}
        show(comparison, comparison_answer(comparison), comparison.to_json() | told, options, sizes)
        if comparison.interrupted:
            return ended_early(at.out)
        if at.out is not None:
            asked = {"against": options.against, "trial_power": power}
            outputs.write_comparison(at.out, comparison, options, sizes, asked)
    return None


def _asked(options: CompareOptions) -> tuple[list[Arm], CompareOptions]:
    """Arms, and options as typed or as a record has them.

    A mistake in any file shows here, before anything is made.
    """
    from soundergate.studies.arms import Arm, make_arms
    from soundergate.studies.repeat import Asked

    record = repeat.record_of(options.files, "compare")
    if record is None:
        return make_arms(list(options.files), options.vary or None), options
    if options.vary:
        raise ScenarioError(
            "says itself what is compared; --vary goes with scenario files", file=record.file
        )
    asked = record.asked
    assert isinstance(asked, Asked)
    then = {"against": asked.against, "trial power": asked.trial_power}
    options, replaced = repeat.options_of(record, asked, options)
    options = replace(
        options,
        against=asked.against if options.against is None else options.against,
        trial_power=asked.trial_power if options.trial_power is None else options.trial_power,
    )
    now = {"against": options.against, "trial power": options.trial_power}
    repeat.say(record, [*replaced, *repeat.replacements(then, now)], options)
    return [Arm(name, one.scenario, one.set) for name, one in record.setups.items()], options


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
