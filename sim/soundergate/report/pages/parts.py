"""What several pages share: how a page is headed, how numbers stand in a table, what was played."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.report.contents import Picture
from soundergate.report.quantities import scale_of
from soundergate.report.words.numbers import digits_shown
from soundergate.studies.worlds.tornado import DifferenceTornado

if TYPE_CHECKING:
    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.studies.estimate import Estimate
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


def interval_cells(e: Estimate) -> list[str]:
    """Cells of a table: the estimate, its interval, the unit of both."""
    factor, unit = scale_of(e.name)
    digits = digits_shown(e.low, e.high, factor)
    low_high = "no interval" if math.isnan(e.low) else range_words(e.low, e.high, factor, digits)
    value = "—" if math.isnan(e.estimate) else f"{factor * e.estimate:.{digits}f}"
    return [value, low_high, unit or e.unit]


def range_words(low: float, high: float, factor: float, digits: int) -> str:
    """Two ends as text, in the unit that is shown."""
    return f"{factor * low:.{digits}f} to {factor * high:.{digits}f}".replace("-", "−")


def leans_picture(leans: Tornado) -> Picture:
    """How far each default moves the answer, to stand above the list of all of them."""
    named = ", ".join(leans.matters()) or "none of them"
    marks = "the upright line is the answer as it is"
    if isinstance(leans, DifferenceTornado):
        marks += ", the dashed one no difference"
    return Picture(
        leans.plot().figure,
        f"Bars: how far each default moves the answer; shown to move it most: {named}.",
        "Where the answer would stand if one default were at the low or the high end of its "
        f"plausible range; {marks}. {leans.sentence()}",
        "leans_on",
    )
