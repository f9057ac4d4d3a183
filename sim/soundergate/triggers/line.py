"""A line across the trap: how high it hangs, and what the engines read of it.

Its statics are in `mechanics.trip_line`. Where animals are the pullers it pulls each latch with its
whole tension; otherwise it works a switch, which is set on the hung line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soundergate.mechanics import trip_line
from soundergate.mechanics.pullers.animal import hung
from soundergate.scenario import places
from soundergate.scenario.distributions import Duration
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.line import LineTrigger


@dataclass(frozen=True)
class LineWork:
    """What a line asks of an animal, at typical friction. Heights m, forces N.

    ``beyond`` says that the bait lies between the line and the first opening; ``pull`` is what it
    must give to the hardest latch, or to a switch, ``push`` what that takes, at mid-span (0 where
    its own tension is enough, inf where it breaks before).
    """

    height: float
    beyond: bool
    switch: bool
    pull: float
    push: float


def line_work(line: LineTrigger, scenario: Scenario, setup: Setup) -> LineWork:
    """The line of this scenario, working the latch itself or a switch beside it."""
    by_animal = [o for o in setup.openings if o.puller == "animal"]
    if by_animal:
        pull = max(o.pull_required for o in by_animal)
        push = max(push_on_latch(line, o.pull_required, o.trip_travel) for o in by_animal)
    else:
        pull, push = line.switch_force, push_on_switch(line)
    return LineWork(
        height=hung(line).height,
        beyond=places.beyond_the_bait(line, scenario),
        switch=not by_animal,
        pull=pull,
        push=push,
    )


def share_left(line: LineTrigger) -> float:
    """Share of the tension that is left after eyes and bends, at typical friction."""
    return trip_line.share_left(line.bends * line.bend_angle, line.friction.median)


def push_on_latch(line: LineTrigger, pull: float, travel: float) -> float:
    """Push (N) that frees a latch which needs ``pull`` (N) over ``travel`` (m)."""
    tension = pull / share_left(line)
    if tension > line.break_force:
        return math.inf
    if tension <= line.tension:
        return 0.0
    give = line.slack + travel
    return float(trip_line.push_for(tension, line.tension, give, line.stiffness, line.span))


def push_on_switch(line: LineTrigger) -> float:
    """Push (N) that works the line's switch, which takes its force beyond the tension as hung."""
    tension = line.tension + line.switch_force / share_left(line)
    give = line.slack + line.switch_travel
    return float(trip_line.push_for(tension, line.tension, give, line.stiffness, line.span))


def refuse_endless(line: LineTrigger, scenario: Scenario, most_events: int) -> None:
    """Raises ScenarioError where those at the bait would go to the line in no time, for ever."""
    if scenario.movement.roam == Duration.fixed(0.0):
        raise ScenarioError(
            "animals would go to and fro across the line without time passing",
            file=scenario.source, key="movement.roam", value="0 s", hint="give it some time",
        )  # fmt: skip


def row(line: LineTrigger, scenario: Scenario, setup: Setup) -> dict[str, Any]:
    """The numbers that the engines read for this line."""
    work, met = line_work(line, scenario, setup), hung(line)
    (ax, ay), (bx, by) = places.line_ends(line, scenario)
    rubs = met.friction.median > 0.0
    return {
        "line_height": work.height,
        "line_ax": ax,
        "line_ay": ay,
        "line_bx": bx,
        "line_by": by,
        "line_span": met.span,
        "line_tension": met.hung,
        "line_slack": met.slack,
        "line_stiffness": met.stiffness,
        "line_turn": met.turn if rubs else 0.0,
        "friction_mu": line.friction.ln_median if rubs else 0.0,
        "friction_sigma": met.friction.sigma,
        "break_force": met.break_force,
        "switch_force": line.switch_force if work.switch else -1.0,
        "switch_travel": line.switch_travel,
    }


def durations(line: LineTrigger) -> dict[str, Duration]:
    """The times that the engines draw: none."""
    return {}
