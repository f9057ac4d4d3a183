"""Quantiles of an answer over plausible worlds, with intervals that ask nothing of its shape.

Of n worlds in order, X(1) <= ... <= X(n), the p quantile lies between X(r) and X(s) with the chance
that a binomial of n and p is at least r and below s (David and Nagaraja 2003, Order Statistics,
3rd ed., 7.1; Conover 1999, Practical Nonparametric Statistics, 3rd ed., 3.2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from soundergate.studies.estimates.intervals import finite

NINE_TENTHS = (0.05, 0.5, 0.95)
"""The low end, the middle and the high end of what is plausible."""


@dataclass(frozen=True)
class Quantile:
    """The value below which ``share`` of plausible worlds lie.

    ``low`` to ``high`` holds it with at least the chance ``level`` (``coverage`` as far as it is
    free of ties); an end is infinite where there are too few worlds to have one.
    """

    share: float
    estimate: float
    low: float
    high: float
    level: float
    coverage: float
    worlds: int

    def to_json(self) -> dict[str, Any]:
        """Its fields; None for an end that there is not."""
        return {name: finite(getattr(self, name)) for name in self.__dataclass_fields__}


def quantile(values: np.ndarray, share: float, level: float = 0.95) -> Quantile:
    """One quantile of values float[W], one a world, and where it lies over all plausible worlds.

    The estimate is NumPy's (linear between order statistics), and infinite where one of the two
    that it lies between is. Both tails of the interval have at
    most (1 - level) / 2. Raises ValueError for no values, or a share or level outside 0 to 1.
    """
    n = len(values)
    if n == 0 or not 0.0 < share < 1.0 or not 0.0 < level < 1.0:
        raise ValueError(f"{n} values, share {share!r}, level {level!r}")
    r, s = ranks(n, share, level)
    ordered = np.concatenate([[-math.inf], np.sort(values), [math.inf]])
    return Quantile(
        share,
        _linear(values, share),
        float(ordered[r]),
        float(ordered[s]),
        level,
        _between(n, share, r, s),
        n,
    )


def _linear(values: np.ndarray, share: float) -> float:
    with np.errstate(invalid="ignore"):  # between infinite ones there is no line
        found = float(np.quantile(values, share))
    return math.inf if math.isnan(found) and not np.isnan(values).any() else found


def ranks(n: int, share: float, level: float = 0.95) -> tuple[int, int]:
    """The order statistics r < s of n that hold a quantile; 0 or n + 1 where there is none."""
    tail = (1.0 - level) / 2.0
    # P(X(r) > quantile) = P(fewer than r lie below it), and likewise above
    below = _binomial(np.arange(-1, n), n, share)  # [r] is P(B <= r - 1)
    r = int(np.flatnonzero(below <= tail)[-1])
    above = _binomial(n - np.arange(0, n + 1), n, 1.0 - share)  # [s] is P(B >= s)
    met = np.flatnonzero(above <= tail)
    return r, int(met[0]) if len(met) else n + 1


def _between(n: int, share: float, r: int, s: int) -> float:
    return float(_binomial(s - 1, n, share) - _binomial(r - 1, n, share))


def _binomial(k: np.ndarray | int, n: int, share: float) -> np.ndarray:
    """P(B <= k) of a binomial B of n."""
    from scipy.special import bdtr

    return np.where(np.less(k, 0), 0.0, bdtr(np.clip(k, 0, n), n, share))
