"""Exponential and natural logarithm of our own: the same bits on every machine, and in loops fast.

The mathematical library of a platform rounds as it likes, and a loop that calls it handles one
number at a time. Here are only additions, multiplications and one division, in a fixed order and
without branches, so a compiler may work on several numbers at once and the bits are the same with
any of them. Both engines use these and no other.

Sources: W. J. Cody and W. Waite, "Software Manual for the Elementary Functions" (1980), chapters 5
and 6, for the reductions; the exponential's series in the order of G. Estrin (1960); the
logarithm's polynomial and the split of ln 2 are those of fdlibm's e_log.c (Sun Microsystems, 1993),
from memory. Tests hold both within one unit in the last place.
"""

from __future__ import annotations

import math

import numpy as np

from soundergate.engine.compiled.decorators import compiled_as, inlined

_LN2_HIGH = 6.93147180369123816490e-01
"""ln 2 to 33 bits, so that its product with a small whole number is exact."""
_LN2_LOW = 1.90821492927058770002e-10
_PER_LN2 = 1.44269504088896340736
_SHIFTER = 6755399441055744.0
"""1.5 * 2**52: what is added to it is rounded to a whole number, which its low bits then hold."""
_SHIFTER_BITS = 0x4338000000000000
_MOST = 709.782712893384
"""ln of the largest double."""
_LEAST = -707.0
"""Below this the exponential is taken for 0, since half of it soon is no normal double."""
_ROOT_HALF_BITS = 0x3FE6A09E667F3BCD
_SMALLEST = 2.2250738585072014e-308
"""The smallest normal double."""
_2_54 = 18014398509481984.0


@inlined
def bits_of(x: float) -> int:
    """The 64 bits that ``x`` is stored in, as a whole number with a sign."""
    return int(np.float64(x).view(np.int64))


@inlined
def double_of(bits: int) -> float:
    """The double that is stored in these bits."""
    return float(np.int64(bits).view(np.float64))


@inlined
def inline_exp(x: float) -> float:
    """`exp`, inlined into its caller."""
    within = x if x > _LEAST else _LEAST
    within = within if within < _MOST else _MOST
    shifted = within * _PER_LN2 + _SHIFTER
    k = shifted - _SHIFTER
    whole = within - k * _LN2_HIGH
    r = whole - k * _LN2_LOW
    lost = (whole - r) - k * _LN2_LOW
    r2 = r * r
    r4 = r2 * r2
    low = 0.5 + r * (1.0 / 6.0)
    low = low + r2 * (1.0 / 24.0 + r * (1.0 / 120.0))
    middle = 1.0 / 720.0 + r * (1.0 / 5040.0)
    middle = middle + r2 * (1.0 / 40320.0 + r * (1.0 / 362880.0))
    high = 1.0 / 3628800.0 + r * (1.0 / 39916800.0)
    high = high + r2 * (1.0 / 479001600.0 + r * (1.0 / 6227020800.0))
    series = 1.0 + (r + (lost + r2 * (low + r4 * (middle + r4 * high))))
    # Half of the power of two first, since 2**1024 is no double.
    value = series * double_of((bits_of(shifted) - _SHIFTER_BITS + 1022) << 52) * 2.0
    value = value if x >= _LEAST else 0.0
    value = value if x <= _MOST else math.inf
    return value if x == x else x


@inlined
def inline_ln(x: float) -> float:
    """`ln`, inlined into its caller."""
    subnormal = x < _SMALLEST
    bits = bits_of(x * _2_54 if subnormal else x)
    power = (bits - _ROOT_HALF_BITS) >> 52
    f = double_of(bits - (power << 52)) - 1.0
    k = float(power) - (54.0 if subnormal else 0.0)
    s = f / (2.0 + f)
    z = s * s
    w = z * z
    odd = w * (
        3.999999999940941908e-01
        + w * (2.222219843214978396e-01 + w * 1.531383769920937332e-01)
    )  # fmt: skip
    even = z * (
        6.666666666666735130e-01
        + w * (2.857142874366239149e-01
               + w * (1.818357216161805012e-01 + w * 1.479819860510658591e-01))
    )  # fmt: skip
    half = 0.5 * f * f
    value = k * _LN2_HIGH - ((half - (s * (half + (odd + even)) + k * _LN2_LOW)) - f)
    value = value if x > 0.0 else -math.inf
    value = value if x < math.inf else x
    return value if x >= 0.0 else math.nan


@compiled_as("f8(f8)")
def exp(x: float) -> float:
    """e**x within one unit in the last place; 0 below -707, inf above 709.78, nan of nan."""
    return inline_exp(x)


@compiled_as("f8(f8)")
def ln(x: float) -> float:
    """Natural logarithm within one unit in the last place; -inf of 0, nan below it and of nan."""
    return inline_ln(x)
