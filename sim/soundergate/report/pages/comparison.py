"""The page of a comparison: several setups on the same nights."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from soundergate.report.contents import Picture
from soundergate.report.figures import estimates as figures
from soundergate.report.pages.page import Page
from soundergate.report.pages.parts import (
    LEANS,
    LEANS_RANKED,
    as_written,
    fates_picture,
    leans_picture,
    made,
)
from soundergate.report.pages.subject import setup_cautions, sources_of_arms, units_of
from soundergate.report.replay.drawing import replays
from soundergate.report.tables.nights import arm_table, difference_tables
from soundergate.report.words import answers
from soundergate.report.words.telling import (
    DRAWN,
    ON_PAGE,
    left_out,
    most_telling,
)
from soundergate.studies.estimates.measures import MEASURES
from soundergate.studies.sentences import sentences

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.compare import Comparison
    from soundergate.studies.estimates.paired import Difference
    from soundergate.studies.worlds.tornado import DifferenceTornado

_LONG = 14
"""Pairs beyond which only the main measure is drawn; tables have them all."""


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
        pictures=[fates_picture(results), *_forest_pictures(comparison)],
        replay=replays(shown, units) if shown else None,
        replay_title=f"Nights of “{name}” played again",
        replay_intro=_replay_intro(name, comparison),
        tables=[arm_table(comparison), *difference_tables(comparison, ON_PAGE)],
        leans_pictures=[leans_picture(leans)] if leans is not None else [],
        leans_on=sources_of_arms(scenarios, matters),
        leans_intro=LEANS_RANKED if matters else LEANS,
        added_cautions=setup_cautions((setups or {}).values(), units),
        made=made(comparison.nights, comparison.seed, comparison.level, first),
        scenario_text=_scenarios_text(comparison),
        data=embedded(comparison, comparison.to_json()),
    )


def embedded(comparison: Comparison, told: dict[str, Any]) -> dict[str, Any]:
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
    return as_written(told) if told else ""


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
