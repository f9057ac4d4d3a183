"""Nights of one campaign: the same animals come again, and bring what they learned.

What an animal is like (its body, strength and readiness to enter) is drawn by the number of the
campaign's first night, all other luck by the night's own. Both engines play such nights; a night
that stands alone is one whose animals are all `codes.AS_DRAWN`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine.plan import Ints, NightPlan


class Carried(NamedTuple):
    """C nights of N animals; ``before`` and ``after`` have no rows for nights that stand alone."""

    number: Ints
    """int64[C]: number of the night."""
    traits: Ints
    """int64[C]: number of the night whose draws say what the animals are like."""
    before: Ints
    """int64[C, N]: AS_DRAWN, ABSENT, WILLING or WARY."""
    after: Ints
    """int64[C, N], filled in: sums of the flags WAS_* of `codes`."""


def alone(plan: NightPlan, first: int, count: int) -> Carried:
    """Nights ``first`` to ``first + count - 1``, which stand alone."""
    number = np.arange(first, first + count, dtype=np.int64)
    nobody = np.zeros((0, plan.group_size), np.int64)
    return Carried(number, number, nobody, nobody)


def carried(plan: NightPlan, number: Ints, traits: Ints, before: Ints) -> Carried:
    """Nights of campaigns, to be played.

    Parameters
    ----------
    plan : NightPlan
    number, traits : int[C], at least 0
    before : int[C, N]

    Raises
    ------
    ValueError
        If shapes, numbers or codes are none that can be played.
    """
    given = [np.ascontiguousarray(values, np.int64) for values in (number, traits, before)]
    nights = len(given[0])
    shapes = [values.shape for values in given]
    wanted = [(nights,), (nights,), (nights, plan.group_size)]
    if shapes != wanted:
        raise ValueError(f"number, traits and before have shapes {shapes}, not {wanted}")
    if nights and min(given[0].min(), given[1].min()) < 0:
        raise ValueError("a number of a night is below 0")
    if not np.isin(given[2], (k.AS_DRAWN, k.ABSENT, k.WILLING, k.WARY)).all():
        raise ValueError(f"before holds other codes than {k.AS_DRAWN} to {k.WARY}")
    return Carried(given[0], given[1], given[2], np.zeros_like(given[2]))
