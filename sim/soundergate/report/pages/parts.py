"""What several pages share: how a page is headed, pictures, and what was played."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from soundergate.report.contents import Picture
from soundergate.report.figures import estimates as figures
from soundergate.report.figures import trap_plan
from soundergate.report.figures.gate import gate_figure, opening_words
from soundergate.report.figures.night import night_figure
from soundergate.report.pages.subject import bodies_of
from soundergate.report.words.answers import fates_in_words, night_answer
from soundergate.report.words.plan_words import plan_words
from soundergate.scenario.unit_system import Units
from soundergate.studies.worlds.phrases import named
from soundergate.studies.worlds.tornado import DifferenceTornado

if TYPE_CHECKING:
    from soundergate.engine.trace.trace import Trace
    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimate import RunResult
    from soundergate.studies.worlds.tornado import Tornado

LEANS = (
    "Values that the scenario file did not set: the least certain origins first, and among them "
    "what pigs do before what steel does. An assumption is a guess with a range; nobody has "
    "measured it. Set what you know better, and see what changes."
)
LEANS_RANKED = (
    "Values that the scenario file did not set, those that move the answer most first. An "
    "assumption is a guess with a range; nobody has measured it."
)


def title_of(scenario: Scenario | None, otherwise: str) -> str:
    """The scenario's title, or what to say without one."""
    return (scenario.title if scenario is not None else "") or otherwise


def made(nights: int, seed: int, level: float, scenario: Scenario | None) -> list[tuple[str, str]]:
    """How the numbers were made: (name, value) pairs for the foot of a page."""
    rows = [
        ("nights played", f"{nights:,}"),
        ("seed", str(seed)),
        ("confidence", f"{100 * level:g} %"),
    ]
    if scenario is not None and scenario.source:
        from pathlib import Path

        from soundergate.studies.cells import shown

        rows.append(("scenario file", shown(Path(scenario.source).name)))
    return rows


def different_openings(setup: Setup | None) -> dict[str, OpeningSetup]:
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


def leans_picture(leans: Tornado) -> Picture:
    """How far each default moves the answer, to stand above the list of all of them."""
    known = "; ".join(named(name) for name in leans.matters()) or "none of them"
    marks = "the upright line is the answer as it is"
    if isinstance(leans, DifferenceTornado):
        marks += ", the dashed one no difference"
    return Picture(
        leans.plot().figure,
        f"Bars: how far each default moves the answer; shown to move it most: {known}.",
        "Where the answer would stand if one default were at the low or the high end of its "
        f"plausible range; {marks}. {leans.sentence()}",
        "leans_on",
    )


def fates_picture(results: Mapping[str, RunResult]) -> Picture:
    """What became of the group, a bar a setup."""
    words = "; ".join(fates_in_words(name, result) for name, result in results.items())
    only = next(iter(results.values())) if list(results) == [""] else None
    return Picture(
        figures.fates(results if only is None else only).figure,  # type: ignore[arg-type]
        f"Stacked bar{'s' if len(results) > 1 else ''}: {words}",
        "What became of the group, as mean shares over the nights.",
        "fates",
    )


def plan_pictures(scenario: Scenario | None, units: Units) -> list[Picture]:
    """The trap from above; none without a scenario."""
    if scenario is None:
        return []
    figure, told = trap_plan.trap_plan(scenario, units), plan_words(scenario, units)
    return [Picture(figure, told, trap_plan.caption(scenario), trap_plan.NAME)]


def gate_pictures(setup: Setup | None, scenario: Scenario | None, units: Units) -> list[Picture]:
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
        f"The gate to scale{latch}, and what can still pass as it closes. Each body is of median "
        "size for its class."
    )


def night_picture(trace: Trace, units: Units, what: str = "") -> Picture:
    night = f"Night {trace.night} of seed {trace.seed}" + (f" ({what})" if what else "")
    return Picture(
        night_figure(trace, units),
        f"Night {trace.night} as lanes, one an animal. {night_answer(trace)}",
        f"{night}: the deeper in, the thicker the line.",
        "night",
    )


def as_written(told: Any) -> str:
    """Scenarios as their files have them, for the foot of a page."""
    return json.dumps(told, indent=2, ensure_ascii=False, default=str)
