"""The pictures of a trap's triggers, and of the place of the bait, by name.

Each draws what the model uses, from the scenario and its solved mechanics, so that a reader sees
why moving the line, the bait or the container changes the night.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from soundergate.report.figures import bait_place as bait_place_figure
from soundergate.report.figures.triggers import (
    bait as container_figure,
)
from soundergate.report.figures.triggers import (
    counter as counter_figure,
)
from soundergate.report.figures.triggers import (
    line as line_figure,
)
from soundergate.report.figures.triggers import (
    person as person_figure,
)
from soundergate.scenario.unit_system import SI, Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from soundergate.mechanics.opening import OpeningSetup, Setup
    from soundergate.scenario.schema import Scenario

PLACE = "bait place"
"""Name of the picture of where the bait lies; further openings are numbered."""

_CAPTIONS = {
    "line": line_figure.CAPTION,
    "bait": container_figure.CAPTION,
    "counter": counter_figure.CAPTION,
    "person": person_figure.CAPTION,
}


def trigger_figures(
    scenario: Scenario, setup: Setup, units: Units = SI
) -> dict[str, tuple[Figure, str]]:
    """A figure and its words for a screen reader, by name: each trigger, then the bait's place."""
    drawn: dict[str, tuple[Figure, str]] = {}
    for number, part in enumerate(scenario.trigger.parts):
        kind = getattr(part, "kind", "none")
        if kind in _CAPTIONS:
            name = kind if kind not in drawn else f"{kind} {number + 1}"
            drawn[name] = _trigger(part, kind, scenario, setup, units)
    drawn |= _places(scenario, setup, units)
    return drawn


def _trigger(
    part: Any, kind: str, scenario: Scenario, setup: Setup, units: Units
) -> tuple[Figure, str]:
    if kind == "line":
        return line_figure.line_figure(part, scenario, setup, units)
    if kind == "bait":
        return container_figure.container_figure(part, scenario, setup, units)
    if kind == "counter":
        return counter_figure.counter_figure(part, scenario)
    return person_figure.person_figure(part, scenario)


def _places(scenario: Scenario, setup: Setup, units: Units) -> dict[str, tuple[Figure, str]]:
    """One picture for each opening that differs in its gate or in how far its bait lies."""
    drawn: dict[str, tuple[Figure, str]] = {}
    seen: list[tuple[OpeningSetup, float]] = []
    for index, solved in enumerate(setup.openings):
        here = (solved, scenario.opening[index].bait_distance)
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
    return _CAPTIONS[name.split(" ")[0]]
