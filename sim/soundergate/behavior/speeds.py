"""How fast pigs make up their minds, as tables over whole numbers.

A speed is 1 in the reference state, in which a scenario's clocks are given: a fully trained group,
an opening of the reference width, nobody inside, all the bait there. Engines only look speeds up.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from soundergate.behavior.group import Group
    from soundergate.scenario.schema import Scenario

LEVELS = 5
"""Bait levels: 100 to 75 %, 75 to 50 %, 50 to 25 %, 25 to 0 %, gone."""

DEPARTURES = 5
"""Recent departures counted: 0 to 4 or more."""

LEADERS = ("sow",)
FOLLOWERS = ("juvenile", "piglet")


def habituation(scenario: Scenario) -> float:
    """Share of the fully trained entry speed, 1 - exp(-(nights + 1) / tau).

    The set night counts as one, so that an untrained group is wary rather than absent.
    """
    tau = scenario.entry.habituation_nights
    return 1.0 if tau <= 0.0 else 1.0 - math.exp(-(scenario.training.nights + 1) / tau)


def openness(scenario: Scenario) -> float:
    """(total clear width / reference width) ** slope; a slope of 0 says that width is no matter."""
    total = sum(opening.width for opening in scenario.opening)
    reference = scenario.entry.reference_width
    return math.exp(scenario.entry.openness_slope * math.log(total / reference))


def capacity(scenario: Scenario) -> float:
    """Animals that the corral has room for; inf if they need none."""
    each = scenario.corral.space_per_pig
    return math.inf if each <= 0.0 else scenario.corral.area / each


def entry_speed(scenario: Scenario, group: Group) -> NDArray[np.float64]:
    """float[C, 2, N + 1, L]: speed of trying to enter by lead, count inside and bait level.

    Lead is 1 while a sow is inside (or where the group has none); until then the young hold back.
    """
    size = group.size
    base = habituation(scenario) * openness(scenario)
    room = capacity(scenario)
    table = np.zeros((len(group.classes), 2, size + 1, LEVELS))
    for inside in range(size + 1):
        pull = 1.0 + scenario.entry.social_pull * inside
        left = 1.0 if room == math.inf else (room - inside) / (scenario.entry.taper * room)
        table[:, :, inside, : LEVELS - 1] = base * pull * min(1.0, max(0.0, left))
    for c, kind in enumerate(group.classes):
        if kind.name in FOLLOWERS:
            table[c, 0] *= scenario.entry.leaderless
    return table


def leave_speed(scenario: Scenario, group: Group) -> NDArray[np.float64]:
    """float[C, N + 1, L, D]: speed of leaving by count inside, bait level, recent departures."""
    size, leaving = group.size, scenario.leaving
    room = capacity(scenario)
    table = np.zeros((len(group.classes), size + 1, LEVELS, DEPARTURES))
    for inside in range(size + 1):
        fill = 0.0 if room == math.inf else min(1.0, inside / room)
        for level, appetite in enumerate(scenario.bait.levels_appetite):
            for recent in range(DEPARTURES):
                speed = (1.0 + leaving.crowding * fill) * (1.0 + leaving.contagion * recent)
                table[:, inside, level, recent] = speed * appetite
    return table


def frailty(scenario: Scenario) -> tuple[str, float, float]:
    """Gamma frailty of mean 1 between animals as (kind, shape, scale); fixed 1 if there is none."""
    cv = scenario.entry.frailty_cv
    unseen = 1e-4  # a smaller scatter than this changes no night that one could count
    return ("gamma", 1.0 / (cv * cv), cv * cv) if cv > unseen else ("fixed", 1.0, 0.0)
