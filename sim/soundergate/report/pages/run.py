"""Pages for a run, a comparison, a study and a night: what each shows, in what order.

Every page answers first, in a sentence; then come the picture, the table, what the answer leans
on, and the cautions. `page.render` turns any of them into one self-contained file.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from soundergate.report.contents import Picture, Table
from soundergate.report.figures import course as course_figure
from soundergate.report.figures import estimates as figures
from soundergate.report.figures.gate import gate_figure, opening_words
from soundergate.report.figures.night import night_figure
from soundergate.report.figures.triggers.of_trap import caption_of, trigger_figures
from soundergate.report.pages.comparison import comparison_page, study_page
from soundergate.report.pages.page import Page, render, save_pictures, write
from soundergate.report.pages.parts import (
    LEANS,
    LEANS_RANKED,
    different_openings,
    interval_cells,
    leans_picture,
    made,
    title_of,
)
from soundergate.report.pages.subject import (
    bodies_of,
    setup_cautions,
    sources_of,
    steel_table,
    units_of,
)
from soundergate.report.replay.drawing import replay, replays
from soundergate.report.words import answers
from soundergate.report.words.numbers import about_percent
from soundergate.scenario.unit_system import Units

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.worlds.sensitivity import Tornado

__all__ = [
    "comparison_page",
    "night_page",
    "render",
    "run_page",
    "save_pictures",
    "study_page",
    "write",
]


def run_page(
    result: RunResult,
    setup: Setup | None = None,
    traces: Sequence[Trace] = (),
    matters: Sequence[str] = (),
    leans: Tornado | None = None,
    examples: Mapping[str, Trace] | None = None,
) -> Page:
    """One setup: what it catches, its gate, some of its nights.

    `traces` are recorded nights of the same run, to show how the trap fills. `examples` are played
    again in the page, each under what it is ("typical", "worst", "best": `chosen_nights`), and the
    first is drawn; without any, the first of `traces` is. `matters` names the inputs known to move
    the answer most; `leans`, the tornado that found them, names them itself and is drawn.
    """
    scenario = result.scenario
    matters = matters or (leans.matters() if leans is not None else ())
    units = units_of(scenario)
    shown = dict(examples or {}) or ({"": traces[0]} if traces else {})
    pictures = [_fates_picture(result)]
    if result.nights:
        pictures.append(_distribution_picture(result))
    if len(traces) > 1:
        pictures.append(_course_picture(traces))
    openings = different_openings(setup)
    pictures += _gate_pictures(setup, scenario, units)
    if scenario is not None and setup is not None:
        pictures += _trigger_pictures(scenario, setup, units)
    pictures += [_night_picture(trace, units, what) for what, trace in shown.items()][:1]
    tables = [_measure_table(result)]
    tables += [steel_table(openings, units)] if openings else []
    return Page(
        title=title_of(scenario, "A run"),
        kind=f"One setup, {result.nights:,} nights",
        answer=answers.run_answer(result),
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
        scenario_text=_scenario_text(scenario),
        data=result.to_json(),
    )


def night_page(trace: Trace, scenario: Scenario | None = None, setup: Setup | None = None) -> Page:
    """One night told, drawn and played again."""
    units = units_of(scenario)
    openings = different_openings(setup)
    rows = [[str(cell) for cell in row] for row in trace.table.itertuples(index=False)]
    columns = [str(name) for name in trace.table.columns]
    return Page(
        title=trace.title or title_of(scenario, "A night"),
        kind=f"Night {trace.night} of seed {trace.seed}",
        answer=[
            answers.night_answer(trace),
            "One night is an example. How often it goes this way is for a run to say.",
        ],
        pictures=[
            _night_picture(trace, units),
            *_gate_pictures(setup, scenario, units),
        ],
        replay=replay(trace, units),
        tables=[
            Table("Everything that happened", columns, rows),
            *([steel_table(openings, units)] if openings else []),
        ],
        leans_on=sources_of(scenario),
        leans_intro=LEANS,
        added_cautions=setup_cautions([setup], units),
        made=[("night", str(trace.night)), ("seed", str(trace.seed))],
        scenario_text=_scenario_text(scenario),
        data={"night": trace.night, "seed": trace.seed, "row": trace.row},
    )


def _replay_intro(shown: Mapping[str, Trace], result: RunResult) -> str:
    if not any(shown):
        return "One of the nights behind the numbers above, not a typical one and not a forecast."
    return (
        f"Single nights out of {result.nights:,}, none of them a forecast. The typical one catches "
        "the median number; the worst and the best catch the smallest and the largest share of "
        "the group among the nights that were searched."
    )


def _scenario_text(scenario: Scenario | None) -> str:
    import json

    if scenario is None:
        return ""
    return json.dumps(scenario.raw, indent=2, ensure_ascii=False, default=str)


def _fates_picture(result: RunResult) -> Picture:
    return Picture(
        figures.fates(result).figure,  # type: ignore[arg-type]
        "Stacked bar: " + answers.fates_in_words("", result),
        "What became of the group, as mean shares over the nights.",
        "fates",
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


def _gate_pictures(setup: Setup | None, scenario: Scenario | None, units: Units) -> list[Picture]:
    """One a kind of opening, called after the first that is so."""
    numbers = {id(o): n for n, o in reversed([*enumerate(setup.openings, 1)])} if setup else {}
    return [
        _gate_picture(name, opening, scenario, units, f"gate_{numbers[id(opening)]}")
        for name, opening in different_openings(setup).items()
    ]


def _gate_picture(
    name: str, opening: OpeningSetup, scenario: Scenario | None, units: Units, file: str
) -> Picture:
    bodies = bodies_of(scenario, opening.curve.measure)
    shut = opening.curve.shut_time
    closes = f"shuts in {shut:.2f} s" if math.isfinite(shut) else "does not shut"
    title = f"{name.capitalize()}: {opening_words(opening)}"
    return Picture(
        gate_figure(opening, bodies, units, title),
        f"{title}. Drawn to scale, with its pulls and its closing: it {closes}.",
        _gate_caption(opening),
        file,
    )


def _gate_caption(opening: OpeningSetup) -> str:
    latch = "" if opening.latch_kind == "none" else " (forces not), the pull at its latch"
    return (
        f"The gate to scale{latch}, and what can still pass as it closes. Bodies are medians of "
        "their class."
    )


def _night_picture(trace: Trace, units: Units, what: str = "") -> Picture:
    night = f"Night {trace.night} of seed {trace.seed}" + (f" ({what})" if what else "")
    return Picture(
        night_figure(trace, units),
        f"Night {trace.night} as lanes, one an animal. {answers.night_answer(trace)}",
        f"{night}: the deeper in, the thicker the line.",
        "night",
    )


def _measure_table(result: RunResult) -> Table:
    rows = [[words, *interval_cells(e)] for words, e in answers.measures_told(result)]
    level = f"{100 * result.level:g} % interval"
    return Table(
        f"Over {result.nights:,} nights",
        ["measure", "estimate", level, "unit"],
        rows,
        frozenset({1, 2}),
        "The night is the unit: animals of one night share its luck, so intervals count nights.",
    )
