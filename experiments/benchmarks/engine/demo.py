"""The nights that are timed: one demo group and gate, each trigger in turn, and larger groups."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from soundergate.engine.build import build
from soundergate.engine.plan import NightPlan
from soundergate.mechanics.setup import solve
from soundergate.scenario.loading import from_table, load

HERE = Path(__file__).parent
DEMO = HERE / "demo.toml"
PLAIN = HERE / "plain.toml"
SEED = 20260101

TRIGGERS: dict[str, dict[str, Any]] = {
    "line beyond the bait": {"kind": "line", "height": "20 in", "distance": "22 ft"},
    "bait": {"kind": "bait"},
    "counter": {"kind": "counter", "count": 10},
    "person": {"kind": "person"},
    "line before the bait": {"kind": "line", "height": "20 in", "distance": "12 ft"},
}
JUDGED = tuple(TRIGGERS)[:4]
"""Whose cost an event is held against a target: that of a night which is over after twenty of them
is mostly the cost of its start."""
SIZES = (6, 12, 24, 48, 96, 200)


def plan_of(table: dict[str, Any]) -> NightPlan:
    """The plan of a scenario given as a table."""
    scenario = from_table(table)
    return build(scenario, solve(scenario))


def demo_plan(trigger: str) -> NightPlan:
    """The demo group and gate with one of `TRIGGERS`."""
    return plan_of({**load(DEMO).raw, "trigger": TRIGGERS[trigger]})


def by_a_far_line(roam: str) -> NightPlan:
    """The demo with a line so low that most can touch it, so short and far that hardly any do."""
    line = {"kind": "line", "height": "10 in", "distance": "25 ft", "span": "6 in"}
    return plan_of({**load(DEMO).raw, "trigger": line, "movement": {"roam": roam}})


def plain_plan() -> NightPlan:
    """The night of ``plain.toml``."""
    return plan_of(load(PLAIN).raw)


def grown_plan(animals: int) -> NightPlan:
    """A group of this size in the demo's proportions, with ground to match.

    The counter waits for five in six of the group, so that a night's work grows with the group.
    """
    sows = max(1, animals // 6)
    juveniles = (animals - sows) // 2
    return plan_of(
        {
            **load(DEMO).raw,
            "sounder": {
                "sows": sows,
                "juveniles": juveniles,
                "piglets": animals - sows - juveniles,
            },
            "corral": {"diameter": f"{26.0 * math.sqrt(max(1.0, animals / 12.0)):.1f} ft"},
            "trigger": {"kind": "counter", "count": animals * 5 // 6},
        }
    )
