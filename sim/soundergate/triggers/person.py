"""A person on a slow link: what they count on the screen, and when they would release."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from soundergate.scenario.schema import Scenario
    from soundergate.scenario.trigger_keys import PersonTrigger


def rule_steps(person: PersonTrigger, group_size: int) -> list[tuple[float, float]]:
    """(seconds since watching began, least count to release at), in order of time."""
    if person.rule:
        return [(step.after, float(step.count)) for step in person.rule]
    if person.count is not None:
        wanted = person.count
    else:
        share = 1.0 if person.share is None else person.share
        wanted = max(1, math.ceil(share * group_size - 1e-9))
    steps = [(0.0, float(wanted))]
    if person.patience < math.inf:
        steps.append((person.patience, float(min(wanted, person.min_count))))
    return steps


def is_exact(person: PersonTrigger) -> bool:
    """Whether the count on the screen is always the true one."""
    return person.undercount == 0.0 and person.overcount == 0.0


def seen_distribution(person: PersonTrigger, group_size: int) -> NDArray[np.float64]:
    """float[N + 1, 2 N + 1]: P(counted <= m | n inside).

    Each animal inside is hidden with probability ``undercount``, and otherwise counted twice with
    probability ``overcount``, independently: the count is a sum of n such numbers.
    """
    hidden = person.undercount
    twice = (1.0 - hidden) * person.overcount
    one = np.array([hidden, 1.0 - hidden - twice, twice])
    table = np.zeros((group_size + 1, 2 * group_size + 1))
    mass = np.array([1.0])
    for n in range(group_size + 1):
        table[n, : len(mass)] = np.minimum(np.cumsum(mass), 1.0)
        table[n, len(mass) - 1 :] = 1.0
        mass = np.convolve(mass, one)
    return table


def row(person: PersonTrigger, scenario: Scenario) -> dict[str, Any]:
    """The numbers that the engines read; times in s."""
    return {
        "SEE_CLEAR": float(person.clear_opening),
        "AWAKE_SHARE": person.awake,
        "FRAME": person.frame_interval,
        "VIEW_DELAY": person.view_delay,
        "DROPOUT": person.dropout,
        "RETRY": person.retry,
        "REFRESH": person.refresh if person.refresh > 0.0 else math.inf,
        "SEE_EXACT": float(is_exact(person)),
    }
