"""Sums over nights that are exact, so that a result never depends on how nights were cut up.

Floating-point addition depends on order, so means taken chunk by chunk would differ in the last
digits with the number of workers. Here totals and totals of squares are kept as exact rational
numbers: whole-number columns as Python integers, other columns by their binary exponents. Adding
the same nights in any order and any pieces gives the same object.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

_SAFE = 2**62  # sums below this cannot wrap round in int64


@dataclass(frozen=True)
class Moments:
    """Number, total, total of squares and range of one value a night.

    ``n`` int; ``total`` and ``squares`` exact Fractions; ``low`` and ``high`` floats, (inf, -inf)
    when n = 0. ``==`` means the same nights' worth of information, exactly.
    """

    n: int = 0
    total: Fraction = field(default_factory=Fraction)
    squares: Fraction = field(default_factory=Fraction)
    low: float = math.inf
    high: float = -math.inf

    @classmethod
    def of(cls, values: np.ndarray, divisor: int | np.ndarray = 1) -> Moments:
        """The moments of values / divisor, one a night.

        values int, bool or float, shape (n,); divisor a positive whole number or one a night.
        Raises ValueError for nan or infinity: leave those nights out before averaging.
        """
        values = np.asarray(values)
        if np.ndim(divisor) == 0:
            return _over(values, int(divisor))
        divisors = np.asarray(divisor)
        if len(divisors) and divisors.min() == divisors.max():  # as in most runs
            return _over(values, int(divisors[0]))
        parts = (_over(values[divisors == one], int(one)) for one in np.unique(divisors))
        return sum(parts, cls())

    def __add__(self, other: Moments) -> Moments:
        """Both sets of nights together."""
        return Moments(
            self.n + other.n,
            self.total + other.total,
            self.squares + other.squares,
            min(self.low, other.low),
            max(self.high, other.high),
        )

    @property
    def mean(self) -> float:
        """The mean, correctly rounded; nan for no nights."""
        return float(self.total / self.n) if self.n else math.nan

    @property
    def variance(self) -> float:
        """Sample variance with divisor n - 1, correctly rounded; nan for fewer than two nights."""
        if self.n < 2:
            return math.nan
        return float((self.squares - self.total * self.total / self.n) / (self.n - 1))


def _over(values: np.ndarray, divisor: int) -> Moments:
    if divisor < 1:
        raise ValueError(f"divisor is {divisor}; it must be a whole number above 0")
    if len(values) == 0:
        return Moments()
    if values.dtype.kind in "biu":
        total, squares = _whole_sums(values)
    else:
        total, squares = _float_sums(values)
    low, high = float(values.min()) / divisor, float(values.max()) / divisor
    return Moments(len(values), total / divisor, squares / (divisor * divisor), low, high)


def _whole_sums(values: np.ndarray) -> tuple[Fraction, Fraction]:
    whole = values.astype(np.int64)
    largest = max(abs(int(whole.min())), abs(int(whole.max())))
    if largest * largest * len(whole) < _SAFE:
        return Fraction(int(whole.sum())), Fraction(int(np.dot(whole, whole)))
    exact = whole.tolist()
    return Fraction(sum(exact)), Fraction(sum(v * v for v in exact))


def _float_sums(values: np.ndarray) -> tuple[Fraction, Fraction]:
    if not np.isfinite(values).all():
        raise ValueError("values contain nan or infinity; leave those nights out before averaging")
    # Veltkamp's split: high and low halves of 26 bits, whose products are exact in a double
    scaled = values * 134_217_729.0
    high = scaled - (scaled - values)
    low = values - high
    squares = exact_sum(high * high) + 2 * exact_sum(high * low) + exact_sum(low * low)
    return exact_sum(values), squares


def exact_sum(values: np.ndarray) -> Fraction:
    """The sum of finite doubles, shape (n,), without rounding and so in any order."""
    mantissa, exponent = np.frexp(values)
    whole = np.ldexp(mantissa, 53).astype(np.int64)
    total = Fraction(0)
    for e in np.unique(exponent):
        part = whole[exponent == e]
        # two halves, so that up to 2**31 values cannot overflow the sum
        upper, lower = int((part >> 27).sum()), int((part & (2**27 - 1)).sum())
        bits = (upper << 27) + lower
        shift = int(e) - 53
        total += Fraction(bits << shift) if shift >= 0 else Fraction(bits, 1 << -shift)
    return total
