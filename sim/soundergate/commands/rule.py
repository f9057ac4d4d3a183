"""`rule`: when the person at the link should release, as a card."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from soundergate.commands import console
from soundergate.commands.options import Options, RuleOptions
from soundergate.commands.outputs import all_at_once, say_written, write_page
from soundergate.commands.progress import announce_compiling, progress
from soundergate.commands.workplace import how_many, prepare
from soundergate.files import write_text
from soundergate.report.words.answers import STANDING

if TYPE_CHECKING:
    from soundergate.studies.rule.release import ReleaseResult


def command(options: RuleOptions) -> None:
    """Find the rule, try it, print the card."""
    from soundergate.report.words.rule_answers import rule_answer
    from soundergate.scenario.loading import load
    from soundergate.studies.rule.release import rule

    scenario = load(options.file)
    worlds = how_many(options.worlds, options)
    out = prepare(options.out, options.force)
    announce_compiling(options)
    with progress("nights", options.quiet) as tell:
        result = rule(
            scenario,
            options.measure,
            options.nights,
            options.seed,
            options.workers,
            taught_costs=options.taught_costs,
            worlds=worlds,
            negligible=options.negligible,
            level=options.level,
            progress=tell,
        )
    if not options.quiet:
        console.tell(*rule_answer(result))
    _print(result, options)
    if not options.quiet:
        console.tell(STANDING)
    if out is not None:
        write(out, result, options)


def _print(result: ReleaseResult, options: Options) -> None:
    if options.json:
        console.print_json(result.to_json())
        return
    from soundergate.report.tables.nights import arm_table
    from soundergate.report.tables.rule import rule_table, rule_world_tables, value_table

    card = rule_table(result)
    console.print_table(card)
    console.print_text(f"\nUnder [trigger]:\n{result.rule.toml()}\n")
    for table in rule_world_tables(result):
        console.print_table(table)
    console.print_table(value_table(result))
    console.print_table(arm_table(result.comparison, narrow=True))


def write(out: Path, result: ReleaseResult, options: Options) -> None:
    """rule.toml, rule.json, the card, pictures and report.html."""
    from soundergate.report.pages.rule import rule_page
    from soundergate.studies.record import scenario_json, write_json
    from soundergate.studies.store.versions import versions

    record = {
        "command": "rule",
        **result.to_json(),
        "scenario": scenario_json(result.scenario),
        "versions": versions(),
    }
    with all_at_once():
        line = write_text(out / "rule.toml", f"# put under [trigger]\n{result.rule.toml()}\n")
        written = [line, write_json(out / "rule.json", record)]
        written += write_page(out / "report.html", rule_page(result), ("png",))
    say_written(out, written, options)
