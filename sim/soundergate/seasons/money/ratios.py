"""Interval of a ratio of two means over campaigns, by Fieller's theorem.

A cost per pig is the mean cost of a campaign over the mean catch of a campaign, never the mean of
the campaigns' own ratios: a campaign that catches nothing has none, but costs. The campaign is the
unit.

Fieller (1954, J. R. Statist. Soc. B 16:175): R is in the set if and only if the t statistic of
x - R y over the campaigns does not exceed its quantile, so that the set's ends are the roots of

    R^2 (my^2 - q^2 syy) - 2 R (mx my - q^2 sxy) + (mx^2 - q^2 sxx) = 0,

with means mx, my, squared standard errors sxx, syy, sxy of them, and q Student's quantile with
n - 1 degrees of freedom. Where the mean of y is not clearly apart from 0 the set has no end on one
side, or leaves out a stretch in the middle, or leaves out nothing. That is what the campaigns say,
and it is returned as it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soundergate.studies.estimates.intervals import Bounds, Interval, finite, t_quantile

_INF = math.inf


@dataclass(frozen=True)
class Ratio:
    """mean(x) / mean(y) and the values that the campaigns do not speak against.

    ``pieces``: closed intervals in ascending order that make up the set, ends may be infinite;
    empty if there is no interval. ``n`` campaigns. ``why`` says in words what keeps the estimate
    or an end from being a number; empty if both ends are finite.
    """

    estimate: float
    pieces: tuple[Bounds, ...]
    level: float
    n: int
    why: str = ""

    @property
    def low(self) -> float:
        """Lowest value of the set; -inf if it has none, nan if there is no interval."""
        return self.pieces[0][0] if self.pieces else math.nan

    @property
    def high(self) -> float:
        """Highest value of the set; inf if it has none, nan if there is no interval."""
        return self.pieces[-1][1] if self.pieces else math.nan

    @property
    def interval(self) -> Interval:
        """From the lowest to the highest value; covers a gap in the middle too."""
        return Interval(self.low, self.high, self.level)

    @property
    def bounded(self) -> bool:
        """Whether there is an interval with two finite ends."""
        return math.isfinite(self.low) and math.isfinite(self.high)

    def __contains__(self, value: float) -> bool:
        return any(low <= value <= high for low, high in self.pieces)

    def to_json(self) -> dict[str, Any]:
        """{"estimate", "low", "high", "level", "why"}; None for an end or estimate not finite."""
        numbers = {"estimate": self.estimate, "low": self.low, "high": self.high}
        data = {name: finite(value) for name, value in numbers.items()}
        return data | {"level": self.level, "why": self.why}


def ratio_of_means(
    x: ArrayLike,
    y: ArrayLike,
    level: float = 0.95,
    at_least: float | None = None,
    divisor: str = "the mean of y",
) -> Ratio:
    """mean(x) / mean(y) with Fieller's set; x and y, shape (n,), are of the same campaigns.

    ``at_least`` cuts the set off below what the ratio can be, such as 0 for a cost per pig.
    ``divisor`` is what ``why`` calls the mean of y.

    No figure, and ``why`` says so: without campaigns, or where the mean of y is 0. A figure
    without an interval: one campaign, or x and y that are the same in every campaign. A y that
    never changes while x does counts as known. Raises ValueError for values that are not finite,
    shapes that differ, or a level outside 0 to 1.
    """
    first, second = _column("x", x), _column("y", y)
    if len(first) != len(second):
        raise ValueError(f"x and y differ in number: {len(first)} and {len(second)}")
    n = len(first)
    quantile = t_quantile(max(n, 2), level)
    if n == 0 or not second.any():
        return Ratio(math.nan, (), level, n, f"{divisor} is 0" if n else "no campaigns")
    mean = float(np.mean(second))
    estimate = float(np.mean(first)) / mean if mean else math.nan
    if n == 1 or (np.ptp(first) == 0 and np.ptp(second) == 0):
        few = "one campaign has" if n == 1 else "campaigns that are all alike have"
        return Ratio(estimate, (), level, n, f"{few} no known spread")
    pieces = _cut(_fieller(first, second, quantile), at_least)
    if len(pieces) == 1 and mean:  # rounding may leave it just outside where x = R y throughout
        pieces = ((min(pieces[0][0], estimate), max(pieces[0][1], estimate)),)
    zero = [f"{divisor} is 0"] if math.isnan(estimate) else []
    return Ratio(estimate, pieces, level, n, "; ".join(zero + _no_ends(pieces, level, divisor)))


def _fieller(x: NDArray[np.float64], y: NDArray[np.float64], q: float) -> tuple[Bounds, ...]:
    """The set's pieces. Worked in units of the largest |x| and |y|, so that nothing overflows."""
    x_unit, y_unit = float(np.abs(x).max()) or 1.0, float(np.abs(y).max())
    x, y = x / x_unit, y / y_unit
    mx, my = float(x.mean()), float(y.mean())
    dx, dy = x - mx, y - my
    scale = len(x) * (len(x) - 1)
    sxx, syy, sxy = (float(np.dot(a, b)) / scale for a, b in ((dx, dx), (dy, dy), (dx, dy)))
    a, b, c = my * my - q * q * syy, mx * my - q * q * sxy, mx * mx - q * q * sxx
    # b^2 - a c as a sum of squares less a Gram determinant: exact 0 for proportional data, where
    # the plain difference would leave rounding errors under the root
    across = mx * dy - my * dx
    root = q * q * float(np.dot(across, across)) / scale
    root -= q**4 * max(sxx * syy - sxy * sxy, 0.0)
    ends = _solved(a, b, c, root)
    unit = x_unit / y_unit
    return tuple((low * unit, high * unit) for low, high in ends)


def _solved(a: float, b: float, c: float, root: float) -> tuple[Bounds, ...]:
    """Where a R^2 - 2 b R + c <= 0, given b^2 - a c; a > 0 has two ends always."""
    if a <= 0 and root <= 0:
        return ((-_INF, _INF),)
    far = b + math.copysign(math.sqrt(max(root, 0.0)), b)
    if a == 0:
        end = c / far
        return ((end, _INF),) if b > 0 else ((-_INF, end),)
    # c / far is the root that b - sqrt() would lose digits on
    low, high = sorted((far / a, c / far)) if far else (0.0, 0.0)
    return ((low, high),) if a > 0 else ((-_INF, low), (high, _INF))


def _cut(pieces: tuple[Bounds, ...], at_least: float | None) -> tuple[Bounds, ...]:
    if at_least is None:
        return pieces
    return tuple((max(low, at_least), high) for low, high in pieces if high >= at_least)


def _no_ends(pieces: tuple[Bounds, ...], level: float, divisor: str) -> list[str]:
    below, above = _INF in {-low for low, _ in pieces}, _INF in {high for _, high in pieces}
    if not (below or above):
        return []
    ends = "lower and no upper" if below and above else "lower" if below else "upper"
    return [f"no {ends} limit: at {100 * level:g} % {divisor} may be 0"]


def _column(name: str, values: ArrayLike) -> NDArray[np.float64]:
    column = np.asarray(values, dtype=np.float64)
    if column.ndim != 1:
        raise ValueError(f"{name} has shape {column.shape}; wanted one number a campaign")
    if not np.isfinite(column).all():
        raise ValueError(f"{name} has nan or infinity in it; leave those campaigns out and say so")
    return column
