"""The page of a run: what one setup catches, its gate, some of its nights.

Every page answers first, in a sentence; then come the picture, the table, what the answer leans
on, and the cautions. `page.render` turns any of them into one self-contained file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from soundergate.report.contents import Picture
from soundergate.report.figures import course as course_figure
from soundergate.report.figures import estimates as figures
from soundergate.report.figures.robust import share_over_worlds
from soundergate.report.figures.triggers.of_trap import caption_of, trigger_figures
from soundergate.report.pages.page import Page
from soundergate.report.pages.parts import (
    LEANS,
    LEANS_RANKED,
    as_written,
    different_openings,
    fates_picture,
    gate_pictures,
    leans_picture,
    made,
    night_picture,
    title_of,
)
from soundergate.report.pages.subject import (
    setup_cautions,
    sources_of,
    steel_table,
    units_of,
)
from soundergate.report.replay.drawing import replays
from soundergate.report.tables.nights import measure_table
from soundergate.report.tables.worlds import over_worlds_tables
from soundergate.report.words import answers
from soundergate.report.words.world_answers import worlds_answer
from soundergate.scenario.unit_system import Units
from soundergate.studies.sentences import about_percent

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.worlds.one_setup import OverWorlds
    from soundergate.studies.worlds.tornado import Tornado


def run_page(
    result: RunResult,
    setup: Setup | None = None,
    traces: Sequence[Trace] = (),
    matters: Sequence[str] = (),
    leans: Tornado | None = None,
    examples: Mapping[str, Trace] | None = None,
    over: OverWorlds | None = None,
) -> Page:
    """One setup: what it catches, its gate, some of its nights.

    `traces` are recorded nights of the same run, to show how the trap fills. `examples` are played
    again in the page, each under what it is ("typical", "worst", "best": `chosen_nights`), and the
    first is drawn; without any, the first of `traces` is. `matters` names the inputs known to move
    the answer most; `leans`, the tornado that found them, names them itself and is drawn. With
    `over`, what holds over plausible worlds comes first.
    """
    scenario = result.scenario
    matters = matters or (leans.matters() if leans is not None else ())
    if over is not None:
        matters = matters or [one.unknown.id for one in over.movers() if one.shown][:5]
    units = units_of(scenario)
    shown = dict(examples or {}) or ({"": traces[0]} if traces else {})
    pictures = [_worlds_picture(over, result)] if over is not None and over.found else []
    pictures += [fates_picture({"": result})]
    if result.nights:
        pictures.append(_distribution_picture(result))
    if len(traces) > 1:
        pictures.append(_course_picture(traces))
    openings = different_openings(setup)
    pictures += gate_pictures(setup, scenario, units)
    if scenario is not None and setup is not None:
        pictures += _trigger_pictures(scenario, setup, units)
    pictures += [night_picture(trace, units, what) for what, trace in shown.items()][:1]
    lead = answers.run_answer(result)
    tables = []
    caption = f"Over {result.nights:,} nights"
    if over is not None and over.found is not None and scenario is not None:
        lead = [*worlds_answer(over, scenario, result.group_size), *answers.run_told(result, True)]
        tables += over_worlds_tables(over, result)
        caption += ", every unknown at its middle value"
    tables += [measure_table(result, caption)]
    tables += [steel_table(openings, units)] if openings else []
    return Page(
        title=title_of(scenario, "A run"),
        kind=f"One setup, {result.nights:,} nights",
        answer=lead,
        pictures=pictures,
        replay=replays(shown, units) if shown else None,
        replay_title="Nights played again" if len(shown) > 1 else "One night, played again",
        replay_intro=_replay_intro(shown, result),
        tables=tables,
        leans_pictures=[leans_picture(leans)] if leans is not None else [],
        leans_on=sources_of(scenario, matters),
        leans_intro=LEANS_RANKED if matters else LEANS,
        added_cautions=setup_cautions([setup], units),
        made=made(result.nights, result.seed, result.level, scenario),
        scenario_text=as_written(scenario.raw) if scenario is not None else "",
        data=result.to_json() | {"worlds": None if over is None else over.to_json()},
    )


def _worlds_picture(over: OverWorlds, result: RunResult) -> Picture:
    found = over.found
    assert found is not None
    low, middle, high = (about_percent(q.estimate) for q in over.quantiles("fraction_caught"))
    return Picture(
        share_over_worlds(over, result["fraction_caught"].estimate).figure,  # type: ignore[arg-type]
        f"Bars: plausible worlds by the share of the group caught. Nine of ten lie between {low} "
        f"and {high}, the middle one at {middle}.",
        f"What the trap catches in each of {found.worlds} plausible worlds, {found.nights} nights "
        "in each. Dashed: with every unknown at its middle value.",
        "worlds",
    )


def _replay_intro(shown: Mapping[str, Trace], result: RunResult) -> str:
    if not any(shown):
        return "One of the nights behind the numbers above, not a typical one and not a forecast."
    return (
        f"Single nights out of {result.nights:,}, none of them a forecast. The typical one catches "
        "the median number; the worst and the best catch the smallest and the largest share of "
        "the group among the nights that were searched."
    )


def _distribution_picture(result: RunResult) -> Picture:
    mean = result["caught"].estimate
    whole = about_percent(result["whole_group"].estimate)
    varies = result.tally.smallest_group != result.group_size
    return Picture(
        figures.caught_distribution(result).figure,  # type: ignore[arg-type]
        f"Bars: share of nights by number caught. The mean is {mean:.1f} of "
        f"{'up to ' if varies else ''}{result.group_size}; the whole group on {whole} of nights.",
        "How many animals a night catches. One night is far less certain than the mean of many.",
        "caught",
    )


def _course_picture(traces: Sequence[Trace]) -> Picture:
    released = any(trace.release_time is not None for trace in traces)
    releases = "; ticks mark their releases" if released else ""
    return Picture(
        course_figure.inside_over_time(traces).figure,  # type: ignore[arg-type]
        f"Curve: number inside over the time since the first arrival, over {len(traces)} nights.",
        f"How the trap fills, over {len(traces)} of the nights{releases}.",
        "filling",
    )


def _trigger_pictures(scenario: Scenario, setup: Setup, units: Units) -> list[Picture]:
    return [
        Picture(figure, words, caption_of(name), f"trigger_{name.replace(' ', '_')}")
        for name, (figure, words) in trigger_figures(scenario, setup, units).items()
    ]
