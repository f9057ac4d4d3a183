"""Every picture of a trigger, for examples and for odd traps: labels whole, apart, with units."""

from __future__ import annotations

import pytest

from shared.legible import assert_legible
from soundergate.mechanics.setup import solve
from soundergate.report.figures.triggers.of_trap import trigger_figures
from soundergate.report.pages.subject import units_of
from soundergate.scenario import examples
from soundergate.scenario.loading import loads, with_values

COUNTED = {"kind": "counter", "count": 2, "miss": 0.3, "double": 0.2, "dwell": "90 s"}
LOADED = {"kind": "bait", "container": "60 lb"}
ODD = {
    "a counter of few": ("line", {"trigger": COUNTED}),
    "a heavy container": ("bucket", {"trigger": LOADED, "bait.mass": "200 lb"}),
    "a container at a switch": ("line", {"trigger": {"kind": "bait"}}),
    "a low line before the bait": ("line", {"trigger.distance": "8 ft", "trigger.height": "6 in"}),
    "a high line": ("line", {"trigger.height": "4 ft"}),
    "four classes": ("line", {"sounder": {"sows": 3, "boars": 2, "juveniles": 4, "piglets": 5}}),
    "one boar": ("line", {"sounder": {"boars": 1}}),
    "bait at the opening": ("line", {"corral.bait_distance": "2 ft"}),
    "bait at the far side": ("line", {"corral.bait_distance": "25 ft", "trigger.distance": "6 ft"}),
    "a gate that jams": ("line", {"opening.gate": {"kind": "drop", "drag": "300 lbf"}}),
}


FIRST = ["bucket", "four classes"]
"""A container and a long legend; the rest, slow to draw, is of the second tier."""
REST = [name for name in ["line", "leaf", "watch", "many", "either", *ODD] if name not in FIRST]


@pytest.mark.parametrize(
    "name", [*FIRST, *(pytest.param(name, marks=pytest.mark.slow) for name in REST)]
)
def test_labels_are_whole_and_apart(name: str) -> None:
    example, values = ODD.get(name, (name, {}))
    scenario = loads(examples.text(example), example)
    if values:
        scenario = with_values(scenario, values)
    for figure, words in trigger_figures(scenario, solve(scenario), units_of(scenario)).values():
        assert words
        assert_legible(figure)
