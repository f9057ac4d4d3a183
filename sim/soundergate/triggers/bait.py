"""A bait container on a stand, worked by feeding animals: who can move it, and what it pulls.

It slides when pushed with more than mu m(t) g. As bait is eaten it moves more easily and its
falling weight pulls less, so a latch that a full container frees may hold against an empty one.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from soundergate.behavior.group import group_of
from soundergate.behavior.speeds import LEVELS
from soundergate.scenario.constants import GRAVITY
from soundergate.scenario.distributions import Duration, LogNormal

if TYPE_CHECKING:
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.bait import BaitTrigger

LEFT = (1.0, 0.75, 0.5, 0.25, 0.0)
"""Share of the bait taken to be in the container at each level: the upper end of the level."""


def container_mass(bait: BaitTrigger, scenario: Scenario, level: int) -> float:
    """Mass in kg of container and bait at a bait level."""
    return bait.container + LEFT[level] * scenario.bait.mass


def able_by_class(bait: BaitTrigger, scenario: Scenario, level: int) -> tuple[float, ...]:
    """By class of `group_of`: share strong enough to slide it, P(strength m g > mu M g).

    All three are log-normal; 1 where nothing rubs or nothing is left to slide.
    """
    group, strength = group_of(scenario), scenario.body.strength
    weight = container_mass(bait, scenario, level)
    if bait.friction.ln_median == -math.inf or weight <= 0.0:
        return (1.0,) * len(group.classes)
    needed = bait.friction.ln_median + math.log(weight)
    shares = []
    for kind in group.classes:
        spread = math.sqrt(strength.sigma**2 + kind.ln_mass_sd**2 + bait.friction.sigma**2)
        ahead = strength.ln_median + kind.ln_mass - needed
        shares.append(NormalDist().cdf(ahead / spread) if spread > 0.0 else float(ahead > 0.0))
    return tuple(shares)


def able_share(bait: BaitTrigger, scenario: Scenario, level: int) -> float:
    """Share of the group strong enough to slide it at a bait level."""
    group, able = group_of(scenario), able_by_class(bait, scenario, level)
    total = 0.0
    for c in group.class_of:
        total += able[c]
    return total / group.size


def push_needed(bait: BaitTrigger, scenario: Scenario, level: int) -> LogNormal:
    """Push (N) that slides it, mu m(t) g, as an uncertain quantity."""
    return bait.friction.scaled(container_mass(bait, scenario, level) * GRAVITY)


def speeds(bait: BaitTrigger, scenario: Scenario) -> NDArray[np.float64]:
    """float[N + 1, L]: speed of the disturbance clock, able animals feeding; 0 without bait."""
    feeding = np.arange(scenario.animals + 1, dtype=np.float64)
    able = [able_share(bait, scenario, level) for level in range(LEVELS - 1)]
    return np.outer(feeding, np.array([*able, 0.0]))


def tables(bait: BaitTrigger, scenario: Scenario) -> dict[str, NDArray[np.float64]]:
    """The tables that the engines look up, by their names in the plan: `speeds`."""
    return {"bucket_speed": speeds(bait, scenario)}


def row(bait: BaitTrigger, scenario: Scenario, setup: Setup) -> dict[str, Any]:
    """Pull in N on the latch by bait level; -1 where the container works a switch."""
    by_animal = any(o.puller == "animal" for o in setup.openings)
    pulls = (container_mass(bait, scenario, level) * GRAVITY for level in range(LEVELS))
    return {"container_pull": tuple(pulls) if by_animal else (-1.0,) * LEVELS}


def durations(bait: BaitTrigger) -> dict[str, Duration]:
    """The times that the engines draw, by the name of their row."""
    return {"X_BUCKET": bait.rate}
