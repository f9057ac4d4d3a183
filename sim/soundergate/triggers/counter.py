"""A beam or treadle at the opening that counts animals in and out, with its errors.

Each passage is missed with probability m, else counted twice with probability d (of all passages,
never more than 1 - m), else once; its sign is that of the way the animal goes. Passages are
independent, so a net count is a sum of such numbers, and its error grows with every passage.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from soundergate.mechanics.opening import Setup
    from soundergate.scenario.distributions import Duration
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.triggers.counter import CounterTrigger


def row(counter: CounterTrigger, scenario: Scenario, setup: Setup) -> dict[str, Any]:
    """The numbers that the engines read: net count, error shares, dwell in s (inf for none)."""
    return {
        "count_needed": float(counter.count),
        "miss_share": counter.miss,
        "double_share": counter.double,
        "count_dwell": math.inf if counter.dwell is None else counter.dwell,
    }


def passage_shares(counter: CounterTrigger) -> NDArray[np.float64]:
    """float[3]: probability that one passage is counted 0, 1 and 2 times."""
    twice = min(counter.double, 1.0 - counter.miss)
    return np.array([counter.miss, 1.0 - counter.miss - twice, twice])


def net_counts(
    counter: CounterTrigger, entries: int, exits: int = 0
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Net counts int[K], rising, and the probability float[K] of each after so many passages."""
    once = passage_shares(counter)
    mass = np.array([1.0])
    for _ in range(entries):
        mass = np.convolve(mass, once)
    for _ in range(exits):
        mass = np.convolve(mass, once[::-1])
    return np.arange(-2 * exits, 2 * entries + 1), mass


def released_by(counter: CounterTrigger, entries: int) -> float:
    """Probability that the count has been reached once so many have gone in and none out.

    Such a count never falls, so that it has been reached at some time if it is reached now. A
    dwell, which may release sooner, is not in it.
    """
    counts, mass = net_counts(counter, entries)
    return float(mass[counts >= counter.count].sum())


def durations(counter: CounterTrigger) -> dict[str, Duration]:
    """The times that the engines draw: none."""
    return {}
