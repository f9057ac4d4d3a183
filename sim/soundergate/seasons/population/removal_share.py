"""What share of the pigs must go each year to stop growth, and what published figures say of it.

N pigs are counted at the end of a year. Within the next, those N become lambda N by births and
deaths, some are removed, and I = i N arrive from elsewhere. Which comes last decides the formula:

- arrivals after removal: N' = lambda N (1 - s) + i N, level at s = 1 - (1 - i) / lambda;
- arrivals before removal: N' = (lambda + i) N (1 - s), level at s = 1 - 1 / (lambda + i).

The first is used unless stated. s is a share of the pigs there when removal begins. Pigs that
arrive do not breed before the count. Removal before births, at the count, would need the same
s in the first case, for lambda (1 - s) is the same in either order, but of fewer pigs. The number
of pigs that must go after births is N (lambda - 1 + i) a year whatever the timing. Growth here
knows no limit of food or room, so it holds for the few years of a plan.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soundergate.studies.errors import StudyError

Array = NDArray[np.float64]
Timing = Literal["arrivals after removal", "arrivals before removal"]
AFTER: Timing = "arrivals after removal"
BEFORE: Timing = "arrivals before removal"
TIMINGS: tuple[Timing, ...] = (AFTER, BEFORE)


def stopping_shares(
    growth_factor: ArrayLike, immigration: ArrayLike = 0.0, timing: Timing = AFTER
) -> Array:
    """Share to remove a year so that numbers do not grow; arrays of any common shape.

    ``growth_factor`` lambda a year without removal, > 0; ``immigration`` i, arrivals a year as a
    share of the pigs there, >= 0; StudyError for others. 0 where numbers do not grow by themselves;
    nan where no removal holds them: with arrivals last and i > 1, they alone exceed the level.
    """
    factor, i = np.asarray(growth_factor, float), np.asarray(immigration, float)
    for least_and_most in (np.min, np.max):
        within("growth_factor", float(least_and_most(factor)), 0, math.inf, above=True)
        within("immigration", float(least_and_most(i)), 0, math.inf)
    if check_timing(timing) == BEFORE:
        share = 1 - 1 / (factor + i)
    else:
        share = np.where(i > 1, np.nan, 1 - (1 - i) / factor)
    return np.asarray(np.maximum(share, 0.0), float)


BASES = (
    "share of pigs alive after births",
    "share of pigs there all year round",
    "share of pigs counted before births",
)
"""How a published share may be meant, the greatest implied growth first."""


def held_factor(
    share: float, base: str = BASES[0], immigration: float = 0.0, timing: Timing = AFTER
) -> float:
    """Growth factor that removing a ``share`` a year holds level; nan where none is held.

    Of pigs alive after births: the inverse of `stopping_shares`. Of those counted before births:
    s N pigs go whatever the timing, lambda = 1 + s - i. All year round, removal, births and
    arrivals run side by side, and s counts what goes against the level: ln(lambda) + i = s.
    """
    within("share", share, 0, math.nextafter(1, 0))
    check_timing(timing)
    if base == BASES[0]:
        left = 1 - share
        return factor_or_none(
            (1 - immigration) / left if timing == AFTER else 1 / left - immigration
        )
    if base == BASES[1]:
        return math.exp(share - immigration)
    return factor_or_none(1 + share - immigration)


def check_timing(timing: Timing) -> Timing:
    """The timing; StudyError for any but `TIMINGS`."""
    if timing not in TIMINGS:
        hint = f"use {' or '.join(map(repr, TIMINGS))}"
        raise StudyError("no such timing", key="timing", value=timing, hint=hint)
    return timing


def within(key: str, value: float, low: float, high: float, above: bool = False) -> float:
    """The value; StudyError unless it lies in low..high (``above``: and is more than low)."""
    if not (low < value <= high if above else low <= value <= high) or math.isinf(value):
        words = f"more than {low:g}" if above else f"at least {low:g}"
        most = "finite" if math.isinf(high) else f"at most {high:g}"
        raise StudyError(
            "not possible here", key=key, value=value, hint=f"it must be {words} and {most}"
        )
    return value


def factor_or_none(value: float) -> float:
    """The growth factor; nan for one that cannot be."""
    return value if value > 0 else math.nan
