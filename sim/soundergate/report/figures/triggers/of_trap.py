"""The pictures of a trap's triggers, and of the place of the bait, by name.

Each draws what the model uses, from the scenario and its solved mechanics, so that a reader sees
why moving the line, the bait or the container changes the night.
"""

from __future__ import annotations

from types import ModuleType
from typing import TYPE_CHECKING, Any

from soundergate.kinds import module_of
from soundergate.report.figures import bait_place as bait_place_figure
from soundergate.report.words.plan_words import bait_from
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario

PLACE = "bait place"
"""Name of the picture of where the bait lies; further openings are numbered."""


def trigger_figures(
    scenario: Scenario, setup: Setup, units: Units = SI
) -> dict[str, tuple[Figure, str]]:
    """A figure and its words for a screen reader, by name: each trigger, then the bait's place."""
    drawn: dict[str, tuple[Figure, str]] = {}
    parts: tuple[Any, ...] = scenario.trigger.parts
    for number, part in enumerate(parts):
        if part.releases:
            name = part.kind if part.kind not in drawn else f"{part.kind} {number + 1}"
            drawn[name] = _picture(part.kind).draw(part, scenario, setup, units)
    drawn |= _places(scenario, setup, units)
    return drawn


def _picture(kind: str) -> ModuleType:
    return module_of("soundergate.report.figures.triggers", kind)


def _places(scenario: Scenario, setup: Setup, units: Units) -> dict[str, tuple[Figure, str]]:
    """One picture for each opening that differs in its gate or in how far its bait lies."""
    drawn: dict[str, tuple[Figure, str]] = {}
    seen: list[tuple[OpeningSetup, float]] = []
    for index, solved in enumerate(setup.openings):
        here = (solved, round(bait_from(scenario, index), 6))
        known = any(solved is other and here[1] == far for other, far in seen)
        if solved.latch_kind == "none" or known:  # nobody runs out of a one-way entrance
            continue
        seen.append(here)
        name = PLACE if not drawn else f"{PLACE} {index + 1}"
        drawn[name] = bait_place_figure.bait_place_figure(scenario, index, solved, units)
    return drawn


def file_stem(name: str) -> str:
    """The file, without its ending, that a picture of `trigger_figures` is written to."""
    stem = name.replace(" ", "_")
    return stem if name.startswith(PLACE) else f"trigger_{stem}"


def caption_of(name: str) -> str:
    """The line under a picture of `trigger_figures`."""
    if name.startswith(PLACE):
        return bait_place_figure.CAPTION
    caption: str = _picture(name.split(" ")[0]).CAPTION
    return caption
