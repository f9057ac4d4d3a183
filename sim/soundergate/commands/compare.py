"""`compare`: several setups on the same nights, in plausible worlds and as they are assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from soundergate.commands import console, outputs, repeat
from soundergate.commands.options import CompareOptions, Options
from soundergate.commands.progress import progress
from soundergate.commands.workplace import ended_early, how_many, in_worlds, keeps_nights, workplace
from soundergate.report.tables.nights import arm_table, difference_tables
from soundergate.report.tables.trial import trial_table
from soundergate.report.tables.worlds import world_tables
from soundergate.report.words.answers import STANDING, stopped
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from soundergate.studies.arms import Arm
    from soundergate.studies.compare import Comparison
    from soundergate.studies.trial_size import TrialSize
    from soundergate.studies.worlds.robust_result import RobustComparison


def command(options: CompareOptions) -> int | None:
    """Compare setups from files, each with every combination of what is varied.

    Or repeat what a run.json says.
    """
    from soundergate.report.words.answers import comparison_answer, robust_answer
    from soundergate.studies.compare import compare
    from soundergate.studies.trial_size import check_power, trial_sizes
    from soundergate.studies.worlds.verdicts import check_negligible

    arms, options = _asked(options)
    worlds = how_many(options.worlds, options)
    check_negligible(options.negligible)
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
        over = None if comparison.interrupted else _over_worlds(arms, comparison, worlds, options)
        told: dict[str, object] = {"worlds": None if over is None else over.to_json()}
        if sizes:
            told |= {"trial": [size.to_json() for size in sizes]}
        answer = comparison_answer(comparison, over is not None)
        if over is not None:
            answer = [*robust_answer(over), *answer]
        show(comparison, answer, comparison.to_json() | told, options, sizes, over)
        if comparison.interrupted or (worlds and over is None and len(arms) > 1):
            return ended_early(at.out)
        if at.out is not None:
            asked = {"against": options.against, "trial_power": power, "worlds": worlds}
            asked |= {"negligible": options.negligible}
            outputs.write_comparison(at.out, comparison, options, sizes, asked, over)
    return None


def _over_worlds(
    arms: list[Arm], comparison: Comparison, worlds: int, options: CompareOptions
) -> RobustComparison | None:
    """The same setups over plausible worlds; None without any, or if stopped by hand."""
    from soundergate.studies.worlds.robust import robust

    pairs = list(dict.fromkeys((d.a, d.b) for d in comparison.differences))
    if not worlds or not pairs:
        return None
    play = partial(
        robust,
        arms,
        worlds,
        seed=comparison.seed,
        engine=options.engine,
        level=options.level,
        pairs=pairs,
        negligible=options.negligible,
        workers=options.workers,
    )
    found = in_worlds(options, lambda tell: play(progress=tell))
    return None if found is not None and found.interrupted else found


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
    then: dict[str, object] = {"against": asked.against, "trial power": asked.trial_power}
    options, replaced = repeat.options_of(record, asked, options)
    options = replace(
        options,
        against=asked.against if options.against is None else options.against,
        trial_power=asked.trial_power if options.trial_power is None else options.trial_power,
    )
    worlds = asked.worlds if options.worlds is None else options.worlds
    then |= {"worlds": asked.worlds, "negligible": asked.negligible}
    near = options.negligible if "negligible" in options.given else asked.negligible
    options = replace(options, worlds=worlds, negligible=near)
    now = {
        "against": options.against,
        "trial power": options.trial_power,
        "worlds": worlds,
        "negligible": near,
    }
    repeat.say(record, [*replaced, *repeat.replacements(then, now)], options)
    return [Arm(name, one.scenario, one.set) for name, one in record.setups.items()], options


def show(
    comparison: Comparison,
    answer: Sequence[str],
    data: dict[str, object],
    options: Options,
    trials: Sequence[TrialSize] = (),
    over: RobustComparison | None = None,
) -> None:
    """The answer in sentences, then every arm and every difference."""
    if not options.quiet:
        console.tell(*answer)
    elif comparison.interrupted:
        console.tell(stopped(comparison.nights))
    if options.json:
        console.print_json(data)
    else:
        for table in world_tables(over, short=True) if over is not None else ():
            console.print_table(table)
        console.print_table(arm_table(comparison, narrow=True))
        for table in difference_tables(comparison, narrow=True):
            console.print_table(table)
        if trials:
            table = trial_table(trials)
            console.print_table(table)
            if not options.quiet:
                console.tell(table.note)
    if not options.quiet:
        console.tell(STANDING)
