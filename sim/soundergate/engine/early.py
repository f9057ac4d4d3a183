"""The first numbers of every animal's purposes, drawn together at the start of a batch night.

A draw is a pure function of its name, so it may be made early without changing a bit. Made one at
a time, a block of the generator waits for its own ten rounds; made in one loop over all names, the
compiler works on several blocks at once, and on the central branch of the normal quantile too.
What is drawn here is what most animals of most nights ask for; the rest is drawn when asked for.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from soundergate.engine import codes as k
from soundergate.engine.compiled import compiled, compiled_as
from soundergate.engine.draws import LEAST_FRAILTY, frailty, sample, sample_with
from soundergate.engine.normal import central_quantiles, normal_quantile
from soundergate.engine.philox import uniform, uniform_pairs

(E_SPREAD, E_ENTRY, E_FRAILTY, E_BODY, E_STAY, E_BOLT, E_LATE, E_ROAM, E_RETURN, E_COUNT,
 E_CLIMB, E_ROOT) = range(12)  # fmt: skip
EARLY_PURPOSES = (
    k.D_SPREAD, k.D_ENTRY, k.D_FRAILTY + k.OWN_BLOCKS, k.D_BODY, k.D_STAY, k.D_BOLT, k.D_LATE,
    k.D_ROAM, k.D_RETURN, k.D_COUNT_IN, k.D_CLIMB, k.D_ROOT,
)  # fmt: skip


class Early(NamedTuple):
    """Block 0 of each early purpose and animal, purpose by purpose; P purposes, N animals."""

    names: NDArray[np.uint64]
    """uint64[P N]: purpose << 16 | animal."""
    u: NDArray[np.float64]
    """float[P N]: first number of the block."""
    v: NDArray[np.float64]
    """float[P N]: second number."""
    zu: NDArray[np.float64]
    """float[P N]: central branch of the normal quantile of u; meaningless in the tails."""
    zv: NDArray[np.float64]


def early_for(animals: int) -> Early:
    """Room for the early numbers of this many animals."""
    names = [purpose << 16 | i for purpose in EARLY_PURPOSES for i in range(animals)]
    numbers = [np.zeros(len(names)) for _ in range(4)]
    return Early(np.array(names, np.uint64), *numbers)


@compiled
def draw_early(early, seed, night):  # type: ignore[no-untyped-def]
    """Fill in the numbers of this night."""
    uniform_pairs(seed, night, early.names, early.u, early.v)
    central_quantiles(early.u, early.zu)
    central_quantiles(early.v, early.zv)


@compiled_as("f8(f8, f8)")
def normal_of(u, z):  # type: ignore[no-untyped-def]
    """Normal quantile of u, given its central branch z."""
    return z if abs(u - 0.5) <= 0.425 else normal_quantile(u)


@compiled_as("f8(f8, f8, i8, f8, f8, i8, i8, i8, i8, i8)")
def sample_of(u, z, kind, a, b, seed, night, purpose, who, count):  # type: ignore[no-untyped-def]
    """`draws.sample_with` for a number whose central branch is known."""
    if kind == k.LOGNORMAL:
        return math.exp(a + b * normal_of(u, z))
    return sample_with(u, kind, a, b, seed, night, purpose, who, count)


@compiled
def early_draw(early, e, n, kinds, ab, row, seed, night, purpose, who, count):  # type: ignore[no-untyped-def]
    """`draws.sample` of a row of distributions, from the early numbers for counts 0 and 1."""
    kind = kinds[row]
    a = ab[row, 0]
    b = ab[row, 1]
    j = e * n + who
    if count == 0:
        return sample_of(early.u[j], early.zu[j], kind, a, b, seed, night, purpose, who, 0)
    if count == 1:
        return sample_of(early.v[j], early.zv[j], kind, a, b, seed, night, purpose, who, 1)
    return sample(kind, a, b, seed, night, purpose, who, count)


@compiled
def early_uniform(early, e, n, seed, night, purpose, who, count):  # type: ignore[no-untyped-def]
    """`philox.uniform`, from the early numbers for counts 0 and 1."""
    j = e * n + who
    if count == 0:
        return early.u[j]
    if count == 1:
        return early.v[j]
    return uniform(seed, night, purpose, who, count)


@compiled
def early_frailty(early, n, kind, a, b, seed, night, who):  # type: ignore[no-untyped-def]
    """`draws.frailty`: the first attempt at a gamma variate, if its quick test takes it."""
    if kind != k.GAMMA or a < 1.0:
        return frailty(kind, a, b, seed, night, who)
    j = E_FRAILTY * n + who
    d = a - 1.0 / 3.0
    c = 1.0 / math.sqrt(9.0 * d)
    x = normal_of(early.u[j], early.zu[j])
    v = 1.0 + c * x
    if v <= 0.0:
        return frailty(kind, a, b, seed, night, who)
    v = v * v * v
    square = x * x
    if early.v[j] >= 1.0 - 0.0331 * square * square:
        return frailty(kind, a, b, seed, night, who)
    z = d * v * b
    return z if z > LEAST_FRAILTY else LEAST_FRAILTY
