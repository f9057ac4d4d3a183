"""Durations and other positive quantities that vary: their parameters, moments and quantiles.

Both classes are plain numbers in SI with no behaviour beyond arithmetic, so that the engines can
copy them into arrays. How they are written in a scenario file is in `fields`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Kind = Literal["fixed", "exponential", "lognormal", "gamma", "weibull", "uniform"]

KINDS: tuple[Kind, ...] = ("fixed", "exponential", "lognormal", "gamma", "weibull", "uniform")


@dataclass(frozen=True)
class Duration:
    """A time in seconds drawn from a named distribution with parameters `a` and `b`.

    fixed (value, 0; inf is "never"), exponential (mean, 0), lognormal (ln of the median, sd of
    the ln), gamma (shape, scale), weibull (shape, scale), uniform (low, high). Shapes and sigma
    have no unit; everything else is in seconds.
    """

    kind: Kind
    a: float
    b: float = 0.0

    @classmethod
    def fixed(cls, seconds: float) -> Duration:
        return cls("fixed", seconds, 0.0)

    @property
    def never(self) -> bool:
        """True when the time never comes."""
        return self.kind == "fixed" and self.a == math.inf

    def mean(self) -> float:
        """Mean in seconds; inf for "never", and for one beyond all floats."""
        if self.kind in ("fixed", "exponential"):
            return self.a
        if self.kind == "lognormal":
            return math.exp(self.a + self.b * self.b / 2.0)
        if self.kind == "gamma":
            return self.a * self.b
        if self.kind == "weibull":
            try:
                return self.b * math.gamma(1.0 + 1.0 / self.a)
            except OverflowError:
                return math.inf
        return (self.a + self.b) / 2.0

    def median(self) -> float:
        """Median in seconds."""
        return self.quantile(0.5)

    def quantile(self, q: float) -> float:
        """The time in seconds not exceeded with probability `q`, 0 <= q < 1.

        Raises ValueError for q outside that range. Gamma takes SciPy's inverse of the
        regularised incomplete gamma function, lognormal the standard library's normal inverse.
        """
        if not 0.0 <= q < 1.0:
            raise ValueError(f"q must be at least 0 and below 1, got {q}")
        if self.kind == "fixed":
            return self.a
        if self.kind == "exponential":
            return -self.a * math.log1p(-q)
        if self.kind == "lognormal":
            return math.exp(self.a + self.b * _normal_quantile(q)) if q > 0.0 else 0.0
        if self.kind == "gamma":
            from scipy.special import gammaincinv

            return float(self.b * gammaincinv(self.a, q))
        if self.kind == "weibull":
            return self.b * (-math.log1p(-q)) ** (1.0 / self.a)
        return self.a + q * (self.b - self.a)


@dataclass(frozen=True)
class LogNormal:
    """A quantity known to a factor: its median in SI, and ``sigma``, the sd of its ln.

    ``steady`` is a part of it that does not scatter, (median - steady) exp(sigma z) + steady: the
    seals' drag that is taken off a pull of air, the load's own turn on a finger. What is not there
    is 0, so that with ``steady`` below 0 the quantity may be, too. ``ln_median`` is ln of the
    median of what scatters, -inf where nothing does (no friction, say).
    """

    median: float
    sigma: float = 0.0
    steady: float = 0.0
    ln_median: float = math.nan

    def __post_init__(self) -> None:
        if math.isnan(self.ln_median):
            object.__setattr__(self, "ln_median", _ln(self.median - self.steady))

    @classmethod
    def of(cls, median: float, sigma: float = 0.0) -> LogNormal:
        """From a median as a file says it, at least 0; it is held by its ln."""
        return cls.from_ln(_ln(median), sigma)

    @classmethod
    def from_ln(cls, ln_median: float, sigma: float = 0.0) -> LogNormal:
        """From ln of the median."""
        return cls(math.exp(ln_median), sigma, ln_median=ln_median)

    def scaled(self, factor: float) -> LogNormal:
        """The same scatter around ``factor`` times the median."""
        return LogNormal(self.median * factor, self.sigma, self.steady * factor)

    def at(self, z: float) -> float:
        """The value ``z`` standard deviations of the ln above the median."""
        return math.exp(self.ln_median + z * self.sigma) + self.steady

    def mean(self) -> float:
        return math.exp(self.ln_median + self.sigma * self.sigma / 2.0) + self.steady

    def quantile(self, q: float) -> float:
        """The SI value not exceeded with probability `q`, 0 < q < 1; ValueError otherwise."""
        if not 0.0 < q < 1.0:
            raise ValueError(f"q must be above 0 and below 1, got {q}")
        return self.at(_normal_quantile(q))


def _ln(value: float) -> float:
    return math.log(value) if value > 0.0 else -math.inf


def _normal_quantile(q: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf(q)


def exp_inverse(ln_value: float) -> float:
    """A number x with log(x) == ln_value exactly, where floating point has one nearby.

    Medians are held as logarithms but written as plain numbers; this keeps a scenario that is
    written out and read again the same to the last bit.
    """
    x = math.exp(ln_value)
    short = float(f"{x:.12g}")
    if short > 0.0 and math.log(short) == ln_value:
        return short
    above = below = x
    for _ in range(8):
        for candidate in (above, below):
            if candidate > 0.0 and math.log(candidate) == ln_value:
                return candidate
        above, below = math.nextafter(above, math.inf), math.nextafter(below, 0.0)
    return x
