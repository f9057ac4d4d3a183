"""`check`: what the steel does, before any pig comes."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING, Any

from soundergate.commands import console, outputs
from soundergate.commands.guard import COMPUTED, NOT_SURE
from soundergate.commands.options import CheckOptions, Options
from soundergate.commands.progress import progress
from soundergate.commands.workplace import how_many, prepare
from soundergate.report.tables.margins import margins_table
from soundergate.report.words.steel_answers import check_told
from soundergate.scenario.loading import load

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.commands.check_section import Part
    from soundergate.mechanics.advice.check import CheckReport
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.worlds.steel import SteelOverWorlds


def command(options: CheckOptions) -> int:
    """Verdict, margins, whatever else was asked for, cautions.

    The exit code says whether every opening of the file can be relied on, and nothing else.
    """
    from soundergate.commands import check_json
    from soundergate.commands.check_parts import parts
    from soundergate.mechanics.advice.check import check
    from soundergate.report.pages.check import check_page

    scenario = load(options.file)
    if options.sheet:
        return _sheet(scenario, options)
    worlds = how_many(options.worlds, options)
    report = check(scenario)
    found = parts(scenario, report, options)
    out = prepare(options.out, options.force)
    over = _over_worlds(scenario, worlds, options)
    if not options.quiet:
        console.tell(*check_told(report, over))
    elif not report.ok:
        console.tell(report.failed)
    data = check_json.data(report, scenario, _parts_data(found), over)
    if options.json:
        console.print_json(data)
    else:
        console.print_table(margins_table(report, over))
    for part in found:
        _show(part, options)
    # never silenced: a caution that is left out is the one that was needed
    console.tell("Cautions", *(f"- {line}" for line in report.cautions))
    if out is not None:
        drawn = {name: figure for part in found for name, figure in part.draw().items()}
        drawn |= _triggers(scenario, report)
        page = check_page(report, scenario, over, data)
        page.tables = [*page.tables, *(table for part in found for table in part.tables)]
        outputs.write_gates(out, report.setup, scenario, options, drawn, page)
    return COMPUTED if report.ok else NOT_SURE


def _sheet(scenario: Scenario, options: CheckOptions) -> int:
    from soundergate.mechanics.advice.check import check
    from soundergate.mechanics.advice.sheet import sheet

    lines = sheet(scenario)
    if options.json:
        console.print_json({"sheet": lines})
    else:
        console.print_text("\n".join(wrapped(lines)))
    return COMPUTED if check(scenario).ok else NOT_SURE


def wrapped(lines: list[str], width: int = 79) -> list[str]:
    """Lines of a page of that many columns; what is indented or listed stays so."""
    found: list[str] = []
    for line in lines:
        lead = re.match(r"\s*(?:\d\. |- )?", line)
        deeper = " " * (len(lead[0]) if lead else 0)
        found += textwrap.wrap(line, width, subsequent_indent=deeper) or [""]
    return found


def _over_worlds(scenario: Scenario, worlds: int, options: CheckOptions) -> SteelOverWorlds | None:
    """The same over plausible worlds; None without any, or where there is but one."""
    from soundergate.studies.worlds.steel import steel_over_worlds

    if not worlds:
        return None
    with progress("plausible worlds", options.quiet) as tell:
        return steel_over_worlds(scenario, worlds, progress=tell)


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
