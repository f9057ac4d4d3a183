"""How what nobody knows is spread: quantiles of a register entry, and a range moved elsewhere.

An unknown has its median, a value below which 5 % of plausible values lie, and one above which 5 %
lie. On a scale that its support asks for (logarithm, logit, or the number itself) each half is that
of a normal distribution, so that the median may lie anywhere between the two ends. Such a split
normal distribution is that of Fechner 1897 (Wallis 2014, Statistical Science 29:106), but for its
weights: here each half has a half. Some unknowns are exactly 0 in a share of plausible worlds.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist
from typing import Any

_NORMAL = NormalDist()
_TAIL = _NORMAL.inv_cdf(0.95)
"""Standard deviations from the median to either end."""

Scale = tuple[Callable[[float], float], Callable[[float], float]]


def scale(distribution: str, support: tuple[float, float]) -> Scale:
    """To the scale on which halves are normal, and back. ``support`` is that of a logit."""
    if distribution == "log-normal":
        return math.log, math.exp
    if distribution == "normal":
        return float, float
    least, most = support

    def logit(x: float) -> float:
        return math.log((x - least) / (most - x))

    def expit(y: float) -> float:
        return least + (most - least) / (1.0 + math.exp(-y))

    return logit, expit


def quantile(
    middle: float,
    low: float,
    high: float,
    share: float,
    distribution: str,
    support: tuple[float, float] = (0.0, 1.0),
    none: float = 0.0,
) -> float:
    """The value below which a ``share`` of plausible values lies, above 0 and below 1.

    ``none`` is the share of worlds in which it is exactly 0. With half of them or more the median
    is 0, and what is not 0 lies as a whole between ``low`` and ``high``.
    """
    if share <= none:
        return 0.0
    if none < 0.05 and share in (0.05, 0.95):
        return low if share == 0.05 else high
    to, back = scale(distribution, support)
    if none >= 0.5:
        ends = to(low), to(high)
        z = _NORMAL.inv_cdf((share - none) / (1.0 - none))
        return back((ends[0] + ends[1]) / 2 + z / _TAIL * (ends[1] - ends[0]) / 2)
    if share >= 0.5:
        z, reach = _NORMAL.inv_cdf(share), to(high) - to(middle)
    else:
        z = _NORMAL.inv_cdf((share - none) / (0.5 - none) / 2)
        reach = to(middle) - to(low)
    return middle if z == 0.0 or reach == 0.0 else back(to(middle) + z / _TAIL * reach)


def around(
    centre: float,
    middle: float,
    low: float,
    high: float,
    distribution: str,
    support: tuple[float, float] = (0.0, 1.0),
    none: float = 0.0,
) -> tuple[float, float]:
    """Low and high of the same spread about another median: as many times, or as much.

    Raises ValueError for a centre outside the support.
    """
    to, back = scale(distribution, support)
    if none >= 0.5:
        half = (to(high) - to(low)) / 2
        return back(to(centre) - half), back(to(centre) + half)
    return back(to(centre) - to(middle) + to(low)), back(to(centre) - to(middle) + to(high))


def each(values: Any, of: Callable[..., Any], *others: Any) -> Any:
    """A function of numbers, or of each number of lists beside one another."""
    if not isinstance(values, list):
        return of(values, *others)
    return [of(*one) for one in zip(values, *others, strict=True)]
