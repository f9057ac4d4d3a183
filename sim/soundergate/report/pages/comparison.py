"""Pages for a comparison and a study: several setups on the same nights."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from soundergate.report.contents import Picture, Table
from soundergate.report.figures import estimates as figures
from soundergate.report.pages import study_parts
from soundergate.report.pages.page import Page
from soundergate.report.pages.parts import (
    LEANS,
    LEANS_RANKED,
    interval_cells,
    leans_picture,
    made,
    range_words,
)
from soundergate.report.pages.subject import setup_cautions, sources_of_arms, units_of
from soundergate.report.quantities import scale_of
from soundergate.report.replay.drawing import replays
from soundergate.report.words import answers
from soundergate.report.words.numbers import digits_shown
from soundergate.report.words.telling import (
    DRAWN,
    ON_PAGE,
    few_words,
    left_out,
    most_telling,
    settled_words,
)
from soundergate.studies.estimates.measures import MEASURES, REQUIRED
from soundergate.studies.sentences import sentences

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.compare import Comparison
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.estimates.paired import Difference
    from soundergate.studies.study import StudyResult
    from soundergate.studies.worlds.difference_tornado import DifferenceTornado

_LONG = 14
"""Pairs beyond which only the main measure is drawn; tables have them all."""
_WORTH = 5
"""Unknowns most worth knowing that lead the list of what a study of many worlds leans on."""


def comparison_page(
    comparison: Comparison,
    setups: Mapping[str, Setup] | None = None,
    title: str = "",
    matters: Sequence[str] = (),
    leans: DifferenceTornado | None = None,
    examples: tuple[str, Mapping[str, Trace]] | None = None,
) -> Page:
    """Several setups on the same nights: which catches more, and which differences are settled.

    `matters` names the inputs known to move the answer most; `leans`, the tornado that found them,
    names them itself and is drawn. `examples` are the name of a setup and nights of it that are
    played again in the page, each under what it is (`chosen_nights`).
    """
    results = {arm.name: arm.result for arm in comparison.arms}
    scenarios = {n: r.scenario for n, r in results.items() if r.scenario is not None}
    first = comparison.arms[0].result.scenario
    units = units_of(first)
    matters = matters or (leans.matters() if leans is not None else ())
    name, shown = examples or ("", {})
    return Page(
        title=title or _common_title(scenarios.values()),
        kind=f"{len(results)} setups on the same {comparison.nights:,} nights",
        answer=[*answers.comparison_answer(comparison), *([leans.verdict()] if leans else [])],
        pictures=[_fates_picture(results), *_forest_pictures(comparison)],
        replay=replays(shown, units) if shown else None,
        replay_title=f"Nights of “{name}” played again",
        replay_intro=_replay_intro(name, comparison),
        tables=[t for t in (_arm_table(results), _difference_table(comparison)) if t.rows],
        leans_pictures=[leans_picture(leans)] if leans is not None else [],
        leans_on=sources_of_arms(scenarios, matters),
        leans_intro=LEANS_RANKED if matters else LEANS,
        added_cautions=setup_cautions((setups or {}).values(), units),
        made=made(comparison.nights, comparison.seed, comparison.level, first),
        scenario_text=_scenarios_text(comparison),
        data=_embedded(comparison, comparison.to_json()),
    )


def study_page(
    study: StudyResult,
    setups: Mapping[str, Setup] | None = None,
    matters: Sequence[str] = (),
    leans: DifferenceTornado | None = None,
    examples: tuple[str, Mapping[str, Trace]] | None = None,
) -> Page:
    """A study file played: its arms, their comparison, and the same over plausible worlds.

    Arguments are those of `comparison_page`. Where worlds were played, what was found to be worth
    knowing leads the list of what the answer leans on.
    """
    if study.robust is not None and len(study.robust.arms) > 1 and not matters:
        matters = [one.unknown for one in study.robust.worth() if one.shown][:_WORTH]
    page = comparison_page(study.comparison, setups, study.study.title, matters, leans, examples)
    page.kind = f"Study, {page.kind}"
    page.data = _embedded(study.comparison, study.to_json())
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


def _embedded(comparison: Comparison, told: dict[str, Any]) -> dict[str, Any]:
    """What a page carries for other programs: of very many differences what it shows of them."""
    shown = _shown(comparison)
    if len(shown) == len(comparison.differences):
        return told
    differences = [d.to_json() for d in shown]
    return told | {
        "differences": differences,
        "differences_left_out": len(comparison.differences) - len(shown),
        "sentences": sentences(shown),
    }


def _shown(comparison: Comparison) -> list[Difference]:
    """The differences of a page, measure by measure."""
    rows: dict[str, list[Difference]] = {}
    for d in comparison.differences:
        rows.setdefault(d.measure, []).append(d)
    return [d for of_measure in rows.values() for d in most_telling(of_measure, ON_PAGE)]


def _common_title(scenarios: Iterable[Scenario]) -> str:
    """What all setups are called, if they are called alike; no one's name stands for the others."""
    titles = {scenario.title for scenario in scenarios}
    return (titles.pop() if len(titles) == 1 else "") or "A comparison"


def _fates_picture(results: Mapping[str, RunResult]) -> Picture:
    return Picture(
        figures.fates(results).figure,  # type: ignore[arg-type]
        "Stacked bars: " + "; ".join(answers.fates_in_words(n, r) for n, r in results.items()),
        "What became of the group, as mean shares over the nights.",
        "fates",
    )


def _replay_intro(name: str, comparison: Comparison) -> str:
    shares = {arm.name: arm.result["fraction_caught"].estimate for arm in comparison.arms}
    best = name == max(shares, key=shares.__getitem__)
    which = "the setup that catches the largest share of its group, " if best else ""
    return (
        f"Single nights of “{name}”, {which}out of {comparison.nights:,}; none of them is a "
        "forecast. The typical one catches the median number; the worst and the best catch the "
        "smallest and the largest share of the group among the nights that were searched."
    )


def _scenarios_text(comparison: Comparison) -> str:
    """The first setup as written, then of every other what it sets, or all of it if not alike."""
    told: dict[str, Any] = {}
    sources = [arm.result.scenario.source for arm in comparison.arms if arm.result.scenario]
    for number, arm in enumerate(comparison.arms):
        scenario = arm.result.scenario
        if scenario is None:
            continue
        alike = number > 0 and arm.set and scenario.source == sources[0]
        told[arm.name] = {"set": arm.set} if alike else scenario.raw
    return json.dumps(told, indent=2, ensure_ascii=False, default=str) if told else ""


def _forest_pictures(comparison: Comparison) -> list[Picture]:
    measures = list(dict.fromkeys(d.measure for d in comparison.differences))
    long = len(comparison.differences) > _LONG * max(len(measures), 1)
    pictures = []
    for measure in measures[: 1 if long else 4]:
        rows = [d for d in comparison.differences if d.measure == measure]
        settled = sum(d.settled for d in rows)
        words = MEASURES[measure].words
        drawn = most_telling(rows, DRAWN)
        caption = f"Differences in {words}, on common nights. {left_out(len(drawn), len(rows))}"
        pictures.append(
            Picture(
                figures.forest(drawn, measure).figure,  # type: ignore[arg-type]
                f"Differences in {words}: {settled} of {len(rows)} settled; see the table.",
                caption.strip(),
                f"difference_{measure}",
            )
        )
    return pictures


_TOGETHER = (
    "Intervals of one measure hold together over all pairs, so picking the largest is allowed."
)


def _arm_table(results: Mapping[str, RunResult]) -> Table:
    rows: list[list[str]] = []
    for name, result in results.items():
        cells: list[Any] = [interval_cells(result[measure]) for measure in REQUIRED]
        rows.append([name, *(f"{value} ({interval})" for value, interval, _ in cells)])
    columns = ["setup", *(f"{MEASURES[m].words} ({scale_of(m)[1]})" for m in REQUIRED)]
    return Table("Every setup", columns, rows, frozenset())


def _difference_table(comparison: Comparison) -> Table:
    rows = []
    shown = _shown(comparison)
    for d in shown:
        factor, unit = scale_of(d.measure)
        digits = digits_shown(d.low, d.high, factor)
        value = f"{factor * d.estimate:+.{digits}f}".replace("-", "−")
        interval = (
            "no interval" if math.isnan(d.low) else range_words(d.low, d.high, factor, digits)
        )
        sign = unit.replace("%", "points,")
        settled = settled_words(d)
        rows.append([f"{d.a} − {d.b}", MEASURES[d.measure].words, value, interval, sign, settled])
    level = f"{100 * comparison.level:g} % interval"
    notes = (_TOGETHER, few_words(shown), left_out(len(shown), len(comparison.differences)))
    return Table(
        "Every difference, on common nights",
        ["difference", "in", "estimate", level, "unit", "settled"],
        rows,
        frozenset({2, 3}),
        " ".join(filter(None, notes)),
    )
