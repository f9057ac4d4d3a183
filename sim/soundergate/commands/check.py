"""`check`: what the steel does, before any pig comes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from soundergate.commands import console, outputs
from soundergate.commands.guard import COMPUTED, NOT_SURE
from soundergate.commands.options import CheckOptions, Options
from soundergate.commands.workplace import prepare
from soundergate.report.tables.table import Table
from soundergate.scenario.loading import load

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.commands.check_section import Part
    from soundergate.mechanics.advice.check import CheckReport
    from soundergate.scenario.schema import Scenario


def command(options: CheckOptions) -> int:
    """Verdict, margins, whatever else was asked for, cautions.

    The exit code says whether every opening of the file can be relied on, and nothing else.
    """
    from soundergate.commands import check_json
    from soundergate.commands.check_parts import parts
    from soundergate.mechanics.advice.check import check

    scenario = load(options.file)
    report = check(scenario)
    found = parts(scenario, report, options)
    out = prepare(options.out, options.force)
    if not options.quiet:
        console.tell(*report.verdict)
    elif not report.ok:
        console.tell(report.failed)
    if options.json:
        console.print_json(check_json.data(report, scenario, _parts_data(found)))
    else:
        _print_margins(report)
    for part in found:
        _show(part, options)
    # never silenced: a caution that is left out is the one that was needed
    console.tell("Cautions", *(f"- {line}" for line in report.cautions))
    if out is not None:
        drawn = {name: figure for part in found for name, figure in part.draw().items()}
        drawn |= _triggers(scenario, report)
        outputs.write_gates(out, report.setup, scenario, options, drawn)
    return COMPUTED if report.ok else NOT_SURE


def _triggers(scenario: Scenario, report: CheckReport) -> dict[str, Figure]:
    """Where the line hangs, what the container pulls, ...; and where the bait lies."""
    from soundergate.report.figures.triggers.of_trap import file_stem, trigger_figures
    from soundergate.report.pages.subject import units_of

    pictures = trigger_figures(scenario, report.setup, units_of(scenario))
    return {file_stem(name): figure for name, (figure, _) in pictures.items()}


def _show(part: Part, options: Options) -> None:
    if not options.quiet:
        console.tell(*part.answer)
    if not options.json:
        for table in part.tables:
            console.print_table(table, tight=True)


def _parts_data(found: list[Part]) -> dict[str, Any]:
    """By part: one entry an opening, or the claims alone, which are asked of one opening."""
    data: dict[str, Any] = {}
    for part in found:
        if part.key == "claims":
            data["claims"] = part.data
        else:
            data.setdefault(part.key, []).append(part.data)
    return data


def _print_margins(report: CheckReport) -> None:
    many = len(report.rows) > 1
    heads = [f"opening {n}" if many else "opening" for n in range(1, len(report.rows) + 1)]
    rows = [[name, *(row[name] for row in report.rows)] for name in report.rows[0]]
    console.print_table(Table("", ["", *heads], rows))
