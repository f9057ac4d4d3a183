"""Samples of a distribution from keyed uniforms, and the sizes that follow from them.

Shared by both engines. Exponentials and logarithms are those of `elementary`, since those of the
platform or of NumPy may differ in the last bit.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from soundergate.engine.codes import (
    D_FRAILTY,
    EXPONENTIAL,
    FIXED,
    GAMMA,
    LOGNORMAL,
    OWN_BLOCKS,
    UNIFORM,
)
from soundergate.engine.compiled.decorators import compiled_as, inlined
from soundergate.engine.luck.elementary import exp, ln
from soundergate.engine.luck.normal import normal_quantile
from soundergate.engine.luck.philox import uniform, uniform_pair

_GAMMA_BLOCKS = 256
LEAST_FRAILTY = 1e-12


@compiled_as("f8(f8, f8, i8, i8, i8, i8, i8)")
def gamma_sample(
    shape: float, scale: float, seed: int, night: int, purpose: int, who: int, k: int
) -> float:
    """Gamma variate by Marsaglia and Tsang, "A simple method for generating gamma variables",
    ACM TOMS 26 (2000) 363-372, with their boost for shape < 1.

    Most variates pass their quick test, 1 - 0.0331 x^4, and need no logarithm.

    The k-th sample owns blocks 256 k to 256 k + 255: more rejections than that have a
    probability below 1e-300.
    """
    block = k * _GAMMA_BLOCKS
    boosted = shape if shape >= 1.0 else shape + 1.0
    d = boosted - 1.0 / 3.0
    c = 1.0 / math.sqrt(9.0 * d)
    value = d
    for _ in range(_GAMMA_BLOCKS - 1):
        u1, u2 = uniform_pair(seed, night, purpose, who, block)
        block += 1
        x = normal_quantile(u1)
        v = 1.0 + c * x
        if v <= 0.0:
            continue
        v = v * v * v
        square = x * x
        if u2 < 1.0 - 0.0331 * square * square:
            value = d * v
            break
        if ln(u2) < 0.5 * x * x + d - d * v + d * ln(v):
            value = d * v
            break
    if shape < 1.0:
        u1, u2 = uniform_pair(seed, night, purpose, who, block)
        value = value * exp(ln(u1) / shape)
    return value * scale


@inlined
def inline_quick_gamma(shape: float, scale: float, x: float, u: float) -> float:
    """`gamma_sample` if its first attempt, from the normal ``x`` and the number ``u``, passes the
    quick test; otherwise -1, as for a shape below 1."""
    d = (shape if shape >= 1.0 else 1.0) - 1.0 / 3.0
    c = 1.0 / math.sqrt(9.0 * d)
    v = 1.0 + c * x
    v = v * v * v
    square = x * x
    taken = shape >= 1.0 and v > 0.0 and u < 1.0 - 0.0331 * square * square
    return d * v * scale if taken else -1.0


@compiled_as("f8(f8, i8, f8, f8, i8, i8, i8, i8, i8)")
def sample_with(
    u: float, kind: int, a: float, b: float, seed: int, night: int, purpose: int, who: int, k: int
) -> float:
    """A sample of a distribution coded (kind, a, b), given its number ``u`` in (0, 1).

    fixed: a; exponential: mean a; lognormal: exp(a + b z); gamma: shape a, scale b (which draws
    numbers of its own, being made by rejection); weibull: shape a, scale b; uniform: a to b.
    """
    if kind == FIXED:
        return a
    if kind == LOGNORMAL:
        return exp(a + b * normal_quantile(u))
    if kind == EXPONENTIAL:
        return -a * ln(u)
    if kind == UNIFORM:
        return a + (b - a) * u
    if kind == GAMMA:
        return gamma_sample(a, b, seed, night, purpose + OWN_BLOCKS, who, k)
    return b * exp(ln(-ln(u)) / a)


@compiled_as("f8(i8, f8, f8, i8, i8, i8, i8, i8)")
def sample(
    kind: int, a: float, b: float, seed: int, night: int, purpose: int, who: int, k: int
) -> float:
    """The k-th sample for this purpose of a distribution coded (kind, a, b)."""
    if kind == FIXED:
        return a
    u = 0.5 if kind == GAMMA else uniform(seed, night, purpose, who, k)
    return sample_with(u, kind, a, b, seed, night, purpose, who, k)


@compiled_as("f8(f8[:, ::1], i8, i8, i8, i8, i8, i8)")
def sample_row(
    times: NDArray[np.float64], row: int, seed: int, night: int, purpose: int, who: int, k: int
) -> float:
    """`sample` of a row of the table of `NightPlan.all_times`."""
    return sample(int(times[row, 2]), times[row, 0], times[row, 1], seed, night, purpose, who, k)


@compiled_as("f8(i8, f8, f8, i8, i8, i8)")
def frailty(kind: int, a: float, b: float, seed: int, night: int, who: int) -> float:
    """How readily an animal enters, mean 1; never so near 0 that dividing by it overflows."""
    z = sample(kind, a, b, seed, night, D_FRAILTY, who, 0)
    return z if z > LEAST_FRAILTY else LEAST_FRAILTY


@compiled_as("i8(f8[::1], f8)")
def count_at(cdf: NDArray[np.float64], u: float) -> int:
    """The least whole number whose cumulative probability reaches ``u``."""
    n = 0
    while n < cdf.shape[0] - 1 and u > cdf[n]:
        n += 1
    return n


@compiled_as("f8(f8, f8, i8)")
def least_count(count: float, share: float, size: int) -> float:
    """Animals a person waits for: the lesser of a count and a share of the night's group."""
    if share == math.inf:
        return count
    part: float = math.ceil(share * size - 1e-9)
    part = part if part > 1.0 else 1.0
    return part if part < count else count


@compiled_as("f8(f8, f8, f8)")
def ln_body_mass(mu: float, sigma: float, u: float) -> float:
    """ln of the mass in kg of an animal, mu + sigma z with z of the number u."""
    return mu + sigma * normal_quantile(u) if sigma != 0.0 else mu


@compiled_as("f8(f8, f8, f8, f8)")
def body_scale(ln_mass: float, exponent: float, sigma: float, u: float) -> float:
    """Factor on every length of a body: mass**exponent (Petherick 1983) times its own scatter.

    One scatter for all lengths: a broad animal is a tall one.
    """
    scatter = sigma * normal_quantile(u) if sigma != 0.0 else 0.0
    return exp(exponent * ln_mass + scatter)


@compiled_as("i8(f8)")
def micrometres(length: float) -> int:
    """A length in m as whole micrometres, half up, so that sums of widths are exact."""
    return math.floor(length * 1.0e6 + 0.5)
