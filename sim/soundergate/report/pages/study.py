"""The page of a study: a comparison, its setups in panels, and the same over plausible worlds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from soundergate.report.contents import Picture
from soundergate.report.figures import robust as robust_figures
from soundergate.report.figures.panels import MOST_PANELS, caught_panels, filling_panels
from soundergate.report.pages.comparison import comparison_page, embedded
from soundergate.report.pages.page import Page
from soundergate.report.tables.nights import failed_table
from soundergate.report.tables.worlds import sensitivity_table, world_tables
from soundergate.report.words import answers
from soundergate.studies.worlds.phrases import named

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import Setup
    from soundergate.studies.compare import Comparison
    from soundergate.studies.study import StudyResult
    from soundergate.studies.worlds.robust_result import RobustComparison
    from soundergate.studies.worlds.tornado import DifferenceTornado

_WORTH = 5
"""Unknowns most worth knowing that lead the list of what a study of many worlds leans on."""

TRACED = 24
"""Nights of each arm that are played again to draw how its trap fills."""


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
        shown = (one.unknown for one in study.robust.worth() if one.shown)
        matters = list(dict.fromkeys(shown))[:_WORTH]
    page = comparison_page(study.comparison, setups, study.study.title, matters, leans, examples)
    page.kind = f"Study, {page.kind}"
    page.data = _embedded(embedded(study.comparison, study.to_json()))
    fates, *forests = page.pictures
    page.pictures = [fates, *arm_pictures(study.comparison), *forests]
    if study.robust is not None:
        put_worlds(page, study.robust, study.comparison)
    if study.sensitivity is not None:
        page.answer = [*page.answer, study.sensitivity.sentence]
        page.tables = [*page.tables, sensitivity_table(study.sensitivity)]
    if study.failed:
        page.tables = [*page.tables, *failed_table(study.failed)]
        page.answer = [
            *page.answer,
            f"{len(study.failed)} of the setups could not be played; see below.",
        ]
    return page


_CARRIED = 20
"""Unknowns, and pairs in every measure, beyond which a page carries the leading ones alone."""


def _embedded(told: dict[str, Any]) -> dict[str, Any]:
    """What a page carries for other programs; of very many rows over worlds the files have the
    rest."""
    over = told.get("robust")
    if over is None or len(over["differences"]) <= 4 * _CARRIED:
        return told
    main = [d for d in over["differences"] if d["measure"] == over["worth"]["measure"]]
    worth = over["worth"] | {"each": over["worth"]["each"][:_CARRIED]}
    kept = {key: value for key, value in over.items() if key != "sentences"}
    left = len(over["differences"]) - len(main)
    kept |= {"differences": main, "differences_left_out": left, "worth": worth}
    return told | {"robust": kept}


def put_worlds(page: Page, over: RobustComparison, comparison: Comparison) -> None:
    """What holds over plausible worlds, before what holds where all is as it is assumed."""
    page.answer = [
        *answers.robust_answer(over), *answers.comparison_answer(comparison, over_worlds=True)
    ]  # fmt: skip
    page.pictures = [*robust_pictures(over), *page.pictures]
    page.tables = [*world_tables(over), *page.tables]


def arm_pictures(comparison: Comparison) -> list[Picture]:
    """Number caught and filling of every arm in a panel; nothing where panels would be too many."""
    results = {arm.name: arm.result for arm in comparison.arms}
    if len(results) > MOST_PANELS:
        return []
    means = "; ".join(f"{name} {r['caught'].estimate:.1f}" for name, r in results.items())
    pictures = [
        Picture(
            caught_panels(results),
            f"Bars: share of nights by number caught, a panel a setup. Means: {means}.",
            "How many animals a night catches. One night is far less certain than the mean.",
            "caught",
        )
    ]
    traces = arm_traces(comparison)
    if traces:
        nights = len(next(iter(traces.values())))
        pictures.append(
            Picture(
                filling_panels(traces),
                f"Curves: number inside over time, a panel a setup, over {nights} nights.",
                f"How the traps fill, over the first {nights} nights; ticks mark releases.",
                "filling",
            )
        )
    return pictures


def arm_traces(comparison: Comparison) -> Mapping[str, Sequence[Trace]]:
    """The first nights of each arm, played again event by event."""
    from soundergate.engine.trace.one_night import trace_night

    count = min(TRACED, comparison.nights)
    return {
        arm.name: [trace_night(arm.result.scenario, comparison.seed, k) for k in range(count)]
        for arm in comparison.arms
        if arm.result.scenario is not None
    }


def robust_pictures(result: RobustComparison) -> list[Picture]:
    """How differences lie over the worlds, and what is worth knowing before choosing.

    Of one arm alone, how its own answer lies.
    """
    if len(result.arms) == 1:
        return [_arm_picture(result)]
    main = result.measures[0]
    words = result.kind().words
    shares = "; ".join(
        f"{d.a} has more than {d.b} in {100 * d.share:.0f} % of worlds"
        for d in result.differences
        if d.measure == main
    )
    return [
        Picture(
            robust_figures.worlds(result).figure,  # type: ignore[arg-type]
            f"Lines: differences in {words} over {result.worlds} plausible worlds. {shares}.",
            f"Differences in {words} over {result.worlds} plausible worlds: every default that "
            f"is not known was drawn from its range, and all setups met the same "
            f"{result.nights} nights in each world. A share within brackets is its "
            f"{100 * result.level:g} % interval, all pairs together.",
            "worlds",
        ),
        *_worth_pictures(result),
    ]


def _worth_pictures(result: RobustComparison) -> list[Picture]:
    """What is worth knowing before a choice, a picture a circumstance in which there is one."""
    pictures = []
    between = [(met, names) for met, names in result.choices.items() if len(names) > 1]
    for place, (met, names) in enumerate(between, 1):
        leading = "; ".join(named(w.unknown) for w in result.worth("", names)[:3])
        which = f"the setups that meet “{met}”" if met else "all these setups"
        pictures.append(
            Picture(
                robust_figures.worth(result, arms=names).figure,  # type: ignore[arg-type]
                f"Bars: worth of knowing an unknown before choosing; largest: {leading}.",
                f"What it would be worth to know one thing before choosing between {which}: how "
                "much more an average night would bring. What matters alike for all of them is "
                "worth nothing here.",
                "worth" if len(between) == 1 else f"worth_{place}",
            )
        )
    return pictures


def _arm_picture(result: RobustComparison) -> Picture:
    words = result.kind().words
    return Picture(
        robust_figures.arm_spreads(result).figure,  # type: ignore[arg-type]
        f"Line: {words} over {result.worlds} plausible worlds. {' '.join(result.sentences)}",
        f"The {words} over {result.worlds} plausible worlds, {result.nights} nights in each: every "
        "default that is not known was drawn from its range.",
        "worlds",
    )
