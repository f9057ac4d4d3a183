"""Pages for a run, a comparison, a study and a night: what each shows, in what order.

Every page answers first, in a sentence; then come the picture, the table, what the answer leans
on, and the cautions. `page.render` turns any of them into one self-contained file.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from soundergate.report import answers, figures, study_parts
from soundergate.report.gate_figure import gate_figure, opening_words
from soundergate.report.night_figure import night_figure
from soundergate.report.numbers import about_percent, digits_shown
from soundergate.report.page import Page, Picture, Table, render, write
from soundergate.report.replay import replay, replays
from soundergate.report.subject import (
    bodies_of,
    setup_cautions,
    sources_of,
    steel_table,
    units_of,
)
from soundergate.report.trigger_figure import caption_of, trigger_figures
from soundergate.study.measures import MEASURES, REQUIRED

if TYPE_CHECKING:
    from soundergate.engine.trace import Trace
    from soundergate.mechanics.model import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.study.compare import Comparison
    from soundergate.study.estimate import Estimate, RunResult
    from soundergate.study.sensitivity import Tornado
    from soundergate.study.study_file import StudyResult

__all__ = ["comparison_page", "night_page", "render", "run_page", "study_page", "write"]

_LEANS = (
    "Values that the scenario file did not set: the least certain origins first, and among them "
    "what pigs do before what steel does. An assumption is a guess with a range; nobody has "
    "measured it. Set what you know better, and see what changes."
)
_LEANS_RANKED = (
    "Values that the scenario file did not set, those that move the answer most first. An "
    "assumption is a guess with a range; nobody has measured it."
)


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
    system = units_of(scenario)
    shown = dict(examples or {}) or ({"": traces[0]} if traces else {})
    pictures = [_fates_picture(result)]
    if result.nights:
        pictures.append(_distribution_picture(result))
    if len(traces) > 1:
        pictures.append(_course_picture(traces))
    openings = _different_openings(setup)
    pictures += [_gate_picture(name, o, scenario, system) for name, o in openings.items()]
    if scenario is not None and setup is not None:
        pictures += _trigger_pictures(scenario, setup, system)
    pictures += [_night_picture(trace, system, what) for what, trace in shown.items()][:1]
    pictures += [_leans_picture(leans)] if leans is not None else []
    tables = [_measure_table(result)]
    tables += [steel_table(openings, system)] if openings else []
    return Page(
        title=_title(scenario, "A run"),
        kind=f"One setup, {result.nights:,} nights",
        answer=answers.run_answer(result),
        pictures=pictures,
        replay=replays(shown, system) if shown else None,
        replay_title="Nights played again" if len(shown) > 1 else "One night, played again",
        replay_intro=_replay_intro(shown, result),
        tables=tables,
        leans_on=sources_of(scenario, matters),
        leans_intro=_LEANS_RANKED if matters else _LEANS,
        added_cautions=setup_cautions([setup], system),
        made=_made(result.nights, result.seed, result.level, scenario),
        scenario_text=_scenario_text(scenario),
        data=result.to_json(),
    )


def comparison_page(
    comparison: Comparison,
    setups: Mapping[str, Setup] | None = None,
    title: str = "",
    matters: Sequence[str] = (),
) -> Page:
    """Several setups on the same nights: which catches more, and which differences are settled."""
    results = {arm.name: arm.result for arm in comparison.arms}
    scenario = comparison.arms[0].result.scenario
    pictures = [
        Picture(
            figures.fates(results).figure,  # type: ignore[arg-type]
            "Stacked bars: " + "; ".join(answers.fates_in_words(n, r) for n, r in results.items()),
            "What became of the group, as mean shares over the nights.",
            "fates",
        ),
        *_forest_pictures(comparison),
    ]
    tables = [_arm_table(results), _difference_table(comparison)]
    return Page(
        title=title or _title(scenario, "A comparison"),
        kind=f"{len(results)} setups on the same {comparison.nights:,} nights",
        answer=answers.comparison_answer(comparison),
        pictures=pictures,
        tables=[table for table in tables if table.rows],
        leans_on=sources_of(scenario, matters),
        leans_intro=(_LEANS_RANKED if matters else _LEANS) + _FIRST_ARM,
        added_cautions=setup_cautions((setups or {}).values(), units_of(scenario)),
        made=_made(comparison.nights, comparison.seed, comparison.level, scenario),
        scenario_text=_scenario_text(scenario),
        data=comparison.to_json(),
    )


_LONG = 14
"""Pairs beyond which only the main measure is drawn; tables have them all."""
_FIRST_ARM = " Listed for the first setup; the others differ from it where the tables say."


def study_page(
    study: StudyResult, setups: Mapping[str, Setup] | None = None, matters: Sequence[str] = ()
) -> Page:
    """A study file played: its arms, their comparison, and the same over plausible worlds."""
    page = comparison_page(study.comparison, setups, study.study.title, matters)
    page.kind = f"Study, {page.kind}"
    page.data = study.to_json()
    fates, *forests = page.pictures
    page.pictures = [fates, *study_parts.arm_pictures(study.comparison), *forests]
    if study.robust is not None:
        page.answer = [*page.answer, *answers.robust_answer(study.robust)]
        page.pictures = [*page.pictures, *study_parts.robust_pictures(study.robust)]
        page.tables = [*page.tables, *study_parts.robust_tables(study.robust)]
    if study.failed:
        rows = [[name, reason] for name, reason in study.failed.items()]
        page.tables = [*page.tables, Table("Arms that could not be played", ["arm", "why"], rows)]
        page.answer = [*page.answer, f"{len(rows)} of the arms could not be played; see below."]
    return page


def night_page(trace: Trace, scenario: Scenario | None = None, setup: Setup | None = None) -> Page:
    """One night told, drawn and played again."""
    system = units_of(scenario)
    openings = _different_openings(setup)
    rows = [[str(cell) for cell in row] for row in trace.table.itertuples(index=False)]
    columns = [str(name) for name in trace.table.columns]
    return Page(
        title=trace.title or _title(scenario, "A night"),
        kind=f"Night {trace.night} of seed {trace.seed}",
        answer=[
            answers.night_answer(trace),
            "One night is an example. How often it goes this way is for a run to say.",
        ],
        pictures=[
            _night_picture(trace, system),
            *(_gate_picture(name, o, scenario, system) for name, o in openings.items()),
        ],
        replay=replay(trace, system),
        tables=[
            Table("Everything that happened", columns, rows),
            *([steel_table(openings, system)] if openings else []),
        ],
        leans_on=sources_of(scenario),
        leans_intro=_LEANS,
        added_cautions=setup_cautions([setup], system),
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


def _title(scenario: Scenario | None, otherwise: str) -> str:
    return (scenario.title if scenario is not None else "") or otherwise


def _scenario_text(scenario: Scenario | None) -> str:
    import json

    if scenario is None:
        return ""
    return json.dumps(scenario.raw, indent=2, ensure_ascii=False, default=str)


def _made(nights: int, seed: int, level: float, scenario: Scenario | None) -> list[tuple[str, str]]:
    made = [
        ("nights played", f"{nights:,}"),
        ("seed", str(seed)),
        ("confidence", f"{100 * level:g} %"),
    ]
    if scenario is not None and scenario.source:
        from pathlib import Path

        made.append(("scenario file", Path(scenario.source).name))
    return made


def _different_openings(setup: Setup | None) -> dict[str, OpeningSetup]:
    """Openings by name, those with the same mechanics told once."""
    if setup is None:
        return {}
    alike: list[tuple[list[int], OpeningSetup]] = []
    for number, opening in enumerate(setup.openings, 1):
        for numbers, seen in alike:
            if _same_steel(seen, opening):
                numbers.append(number)
                break
        else:
            alike.append(([number], opening))
    if len(alike) == 1:
        return {"opening" if len(alike[0][0]) == 1 else "each opening": alike[0][1]}
    return {f"opening {', '.join(map(str, numbers))}": opening for numbers, opening in alike}


def _same_steel(a: OpeningSetup, b: OpeningSetup) -> bool:
    facts = ("gate_kind", "latch_kind", "puller", "width", "height", "mass", "pull_required")
    same = all(getattr(a, fact) == getattr(b, fact) for fact in facts)
    return same and a.curve.time.tobytes() == b.curve.time.tobytes()


def _fates_picture(result: RunResult) -> Picture:
    return Picture(
        figures.fates(result).figure,  # type: ignore[arg-type]
        "Stacked bar: " + answers.fates_in_words("", result),
        "What became of the group, as mean shares over the nights.",
    )


def _distribution_picture(result: RunResult) -> Picture:
    mean = result["caught"].estimate
    whole = about_percent(result["whole_group"].estimate)
    varies = result.tally.smallest_group != result.group_size
    return Picture(
        figures.plot_run(result).figure,  # type: ignore[arg-type]
        f"Bars: share of nights by number caught. The mean is {mean:.1f} of "
        f"{'up to ' if varies else ''}{result.group_size}; the whole group on {whole} of nights.",
        "How many animals a night catches. One night is far less certain than the mean of many.",
    )


def _course_picture(traces: Sequence[Trace]) -> Picture:
    return Picture(
        figures.inside_over_time(traces).figure,  # type: ignore[arg-type]
        f"Curve: number inside over the time since the first arrival, over {len(traces)} nights.",
        f"How the trap fills, over {len(traces)} of the nights; ticks mark their releases.",
    )


def _trigger_pictures(scenario: Scenario, setup: Setup, system: str) -> list[Picture]:
    return [
        Picture(figure, words, caption_of(name), f"trigger_{name.replace(' ', '_')}")
        for name, (figure, words) in trigger_figures(scenario, setup, system).items()
    ]


def _gate_picture(
    name: str, opening: OpeningSetup, scenario: Scenario | None, system: str
) -> Picture:
    bodies = bodies_of(scenario, opening.curve.measure)
    shut = opening.curve.shut_time
    closes = f"shuts in {shut:.2f} s" if math.isfinite(shut) else "does not shut"
    title = f"{name.capitalize()}: {opening_words(opening)}"
    return Picture(
        gate_figure(opening, bodies, system, title),
        f"{title}. Drawn to scale, with its pulls and its closing: it {closes}.",
        _gate_caption(opening),
    )


def _gate_caption(opening: OpeningSetup) -> str:
    latch = "" if opening.latch_kind == "none" else " (forces not), the pull at its latch"
    return (
        f"The gate to scale{latch}, and what can still pass as it closes. Bodies are medians of "
        "their class."
    )


def _night_picture(trace: Trace, system: str, what: str = "") -> Picture:
    night = f"Night {trace.night} of seed {trace.seed}" + (f" ({what})" if what else "")
    return Picture(
        night_figure(trace, system),
        f"Night {trace.night} as lanes, one an animal. {answers.night_answer(trace)}",
        f"{night}: the deeper in, the thicker the line.",
    )


def _leans_picture(leans: Tornado) -> Picture:
    named = ", ".join(leans.matters()) or "none of them"
    return Picture(
        leans.plot().figure,
        f"Bars: how far each default moves the answer; shown to move it most: {named}.",
        "What the answer leans on: where it would stand if one default were at the low or the "
        f"high end of its plausible range. {leans.sentence()}",
    )


def _forest_pictures(comparison: Comparison) -> list[Picture]:
    measures = list(dict.fromkeys(d.measure for d in comparison.differences))
    long = len(comparison.differences) > _LONG * max(len(measures), 1)
    pictures = []
    for measure in measures[: 1 if long else 4]:
        rows = [d for d in comparison.differences if d.measure == measure]
        settled = sum(d.settled for d in rows)
        words = MEASURES[measure].words
        pictures.append(
            Picture(
                figures.forest(rows, measure).figure,  # type: ignore[arg-type]
                f"Differences in {words}: {settled} of {len(rows)} settled; see the table.",
                f"Differences in {words}, on common nights.",
                f"difference_{measure}",
            )
        )
    return pictures


def _interval_cells(e: Estimate) -> list[str]:
    factor, unit = figures.scale_of(e.name)
    digits = digits_shown(e.low, e.high, factor)
    low_high = "no interval" if math.isnan(e.low) else _range(e.low, e.high, factor, digits)
    value = "—" if math.isnan(e.estimate) else f"{factor * e.estimate:.{digits}f}"
    return [value, low_high, unit or e.unit]


def _range(low: float, high: float, factor: float, digits: int) -> str:
    return f"{factor * low:.{digits}f} to {factor * high:.{digits}f}".replace("-", "−")


def _measure_table(result: RunResult) -> Table:
    rows = [[words, *_interval_cells(e)] for words, e in answers.measures_told(result)]
    level = f"{100 * result.level:g} % interval"
    return Table(
        f"Over {result.nights:,} nights",
        ["measure", "estimate", level, "unit"],
        rows,
        frozenset({1, 2}),
        "The night is the unit: animals of one night share its luck, so intervals count nights.",
    )


def _arm_table(results: Mapping[str, RunResult]) -> Table:
    rows: list[list[str]] = []
    for name, result in results.items():
        cells: list[Any] = [_interval_cells(result[measure]) for measure in REQUIRED]
        rows.append([name, *(f"{value} ({interval})" for value, interval, _ in cells)])
    columns = ["setup", *(f"{MEASURES[m].words} ({figures.scale_of(m)[1]})" for m in REQUIRED)]
    return Table("Every setup", columns, rows, frozenset())


def _difference_table(comparison: Comparison) -> Table:
    rows = []
    for d in comparison.differences:
        factor, unit = figures.scale_of(d.measure)
        digits = digits_shown(d.low, d.high, factor)
        value = f"{factor * d.estimate:+.{digits}f}".replace("-", "−")
        interval = "no interval" if math.isnan(d.low) else _range(d.low, d.high, factor, digits)
        sign = unit.replace("%", "points,")
        settled = "yes" if d.settled else "no"
        rows.append([f"{d.a} − {d.b}", MEASURES[d.measure].words, value, interval, sign, settled])
    level = f"{100 * comparison.level:g} % interval"
    return Table(
        "Every difference, on common nights",
        ["difference", "in", "estimate", level, "unit", "settled"],
        rows,
        frozenset({2, 3}),
        "Intervals of one measure hold together over all pairs, so picking the largest is allowed.",
    )
