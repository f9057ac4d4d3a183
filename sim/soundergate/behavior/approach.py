"""By which opening a subgroup comes: the one nearest to its way, which it takes from its bearing.

Bearings of subgroups scatter like a normal distribution wrapped round the circle (Mardia and Jupp
2000, Directional Statistics, section 3.5.7, from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario

_TURNS = 8
"""Turns to either side beyond which a scatter of up to two turns leaves nothing."""


def shares(scenario: Scenario) -> NDArray[np.float64]:
    """float[openings]: probability that each opening is the nearest to where a subgroup comes from.

    Of two at one bearing half go to each.
    """
    from scipy.special import ndtr

    bearings = np.array([opening.bearing for opening in scenario.opening])
    if len(bearings) == 1:
        return np.ones(1)
    places, which = np.unique(np.mod(bearings, 2.0 * math.pi), return_inverse=True)
    after = np.append(places[1:], places[0] + 2.0 * math.pi)
    up_to = (places + after) / 2.0
    since = np.append(up_to[-1] - 2.0 * math.pi, up_to[:-1])
    from_there, sd = scenario.arrival.bearing, scenario.arrival.bearing_scatter
    turns = 2.0 * math.pi * np.arange(-_TURNS, _TURNS + 1)[:, np.newaxis]
    if sd > 0.0:
        ends = ndtr((up_to + turns - from_there) / sd), ndtr((since + turns - from_there) / sd)
    else:
        ends = (up_to + turns > from_there) * 1.0, (since + turns > from_there) * 1.0
    nearest = np.sum(ends[0] - ends[1], axis=0)
    nearest = nearest / nearest.sum()
    each: NDArray[np.float64] = (nearest / np.bincount(which))[which]
    return each
