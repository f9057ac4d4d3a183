"""A line across the trap: how low it hangs, and how hard an animal's push pulls on the latch.

Statics of a light line of span S pushed sideways by delta at mid-span with force P: the tension is
T = P / (2 sin alpha) with tan alpha = 2 delta / S, and its ends give 2 (sqrt((S/2)^2 + delta^2)
- S/2). A long span multiplies the force and gives little travel, so slack, stretch and the
latch's own travel decide as much as force. Each bend loses exp(-mu theta) (capstan equation,
Euler 1769 and Eytelwein 1808).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.mechanics.model import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.trigger_keys import LineTrigger


def sag(line: LineTrigger) -> float:
    """Sag in m at mid-span, w S^2 / (8 T0), of a line of weight w (N/m) tight with T0."""
    weight = line.weight * 9.80665
    return weight * line.span * line.span / (8.0 * line.tension)


def height_at_middle(line: LineTrigger) -> float:
    """Height in m of the line where animals meet it."""
    return line.height - sag(line)


def capstan(line: LineTrigger) -> float:
    """Share of the tension that is left after the eyes and bends."""
    return math.exp(-line.friction.median * line.bends * line.bend_angle)


def deflection(span: float, travel: float) -> float:
    """Sideways push in m at mid-span that draws in ``travel`` m of line."""
    half, reach = span / 2.0, (span + travel) / 2.0
    return math.sqrt(reach * reach - half * half)


def end_travel(span: float, delta: float) -> float:
    """Line in m drawn in by a sideways push of ``delta`` m at mid-span."""
    half = span / 2.0
    return 2.0 * (math.hypot(half, delta) - half)


def push_needed(line: LineTrigger, pull: float, travel: float) -> float:
    """Sideways push in N at mid-span that puts ``pull`` N on the latch over ``travel`` m."""
    tension = pull / capstan(line)
    drawn = line.slack + travel + tension / line.stiffness
    delta = deflection(line.span, drawn)
    return 2.0 * tension * delta / math.hypot(line.span / 2.0, delta)


@dataclass(frozen=True)
class LineWork:
    """What a line asks of an animal. Heights m, forces N, ``gain`` pull at the latch a push."""

    height: float
    share: float
    beyond: bool
    gain: float
    switch: bool
    switch_force: float
    break_force: float


def line_work(line: LineTrigger, scenario: Scenario, setup: Setup) -> LineWork:
    """The line of this scenario, working the latch itself or a switch beside it."""
    by_animal = [o for o in setup.openings if o.puller == "animal"]
    if by_animal:
        pull = max(o.pull_required for o in by_animal)
        travel = max(o.trip_travel for o in by_animal)
    else:
        pull, travel = line.switch_force, line.switch_travel
    reach = max(opening.bait_distance for opening in scenario.opening)
    return LineWork(
        height=height_at_middle(line),
        share=line.distance / reach if reach > 0.0 else math.inf,
        beyond=line.distance >= reach,
        gain=_gain(line, pull, travel),
        switch=not by_animal,
        switch_force=line.switch_force,
        break_force=line.break_force * capstan(line),
    )


def _gain(line: LineTrigger, pull: float, travel: float) -> float:
    """Pull on the latch per push, at the pull that is needed."""
    if not 0.0 < pull < math.inf:
        return 1.0
    push = push_needed(line, pull, travel)
    return pull / push if push > 0.0 else 1.0


def row(line: LineTrigger, scenario: Scenario, setup: Setup) -> dict[str, Any]:
    """The numbers that the engines read for this line."""
    work = line_work(line, scenario, setup)
    return {
        "LINE_HEIGHT": work.height,
        "LINE_SHARE": work.share,
        "LINE_BEYOND": float(work.beyond),
        "LINE_GAIN": work.gain,
        "LINE_BREAKS": work.break_force,
        "LINE_SWITCH": work.switch_force if work.switch else -1.0,
    }
