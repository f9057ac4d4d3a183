"""The first numbers of every animal's purposes, drawn together at the start of a batch night.

A draw is a pure function of its name, so it may be made early without changing a bit. Made one at
a time, a block of the generator waits for its own ten rounds; made in one loop over all names, the
compiler works on several blocks at once, and on the central branch of the normal quantile too.
What is drawn here is what most animals of most nights ask for; the rest is drawn when asked for.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soundergate.engine import codes as k
from soundergate.engine.compiled import compiled_as, inlined, inlined_as
from soundergate.engine.draws import LEAST_FRAILTY, frailty, sample, sample_with
from soundergate.engine.normal import central_quantiles, normal_quantile
from soundergate.engine.philox import uniform, uniform_pairs

if TYPE_CHECKING:
    from soundergate.engine.scratch import Luck

(E_SPREAD, E_ENTRY, E_FRAILTY, E_BODY, E_STAY, E_BOLT, E_LATE, E_RETURN, E_CLIMB, E_ROOT, E_ROAM,
 E_COUNT) = range(12)  # fmt: skip
EARLY_PURPOSES = (
    k.D_SPREAD, k.D_ENTRY, k.D_FRAILTY + k.OWN_BLOCKS, k.D_BODY, k.D_STAY, k.D_BOLT, k.D_LATE,
    k.D_RETURN, k.D_CLIMB, k.D_ROOT, k.D_ROAM, k.D_COUNT_IN,
)  # fmt: skip
"""The last two are for lines beyond the bait and for counters only."""


U, V, ZU, ZV = range(4)
"""Rows of the early numbers: both numbers of block 0 of each purpose and animal, purpose by
purpose, and the central branch of the normal quantile of each, meaningless in the tails."""


def early_names(animals: int, roaming: bool, counters: bool) -> NDArray[np.uint64]:
    """uint64[P N]: purpose << 16 | animal, for the purposes that such a night may ask for."""
    purposes = EARLY_PURPOSES if counters else EARLY_PURPOSES[: E_ROAM + roaming]
    return np.array([purpose << 16 | i for purpose in purposes for i in range(animals)], np.uint64)


@inlined
def draw_early(luck: Luck, names: NDArray[np.uint64]) -> None:
    """Fill in the numbers of this night."""
    early = luck.early
    uniform_pairs(luck.so_far.seed, luck.so_far.number, names, early[U], early[V])
    central_quantiles(early[U], early[ZU])
    central_quantiles(early[V], early[ZV])


@compiled_as("f8(f8, f8)")
def normal_of(u: float, z: float) -> float:
    """Normal quantile of u, given its central branch z."""
    return z if abs(u - 0.5) <= 0.425 else normal_quantile(u)


@inlined_as("f8(f8, f8, i8, f8, f8, i8, i8, i8, i8, i8)")
def sample_of(
    u: float, z: float, kind: int, a: float, b: float,
    seed: int, night: int, purpose: int, who: int, count: int,
) -> float:  # fmt: skip
    """`draws.sample_with` for a number whose central branch is known."""
    if kind == k.LOGNORMAL:
        return math.exp(a + b * normal_of(u, z))
    return sample_with(u, kind, a, b, seed, night, purpose, who, count)


@inlined
def early_draw(luck: Luck, e: int, row: int, purpose: int, who: int, count: int) -> float:
    """`draws.sample` of a row of distributions, from the early numbers for counts 0 and 1."""
    seed, night = luck.so_far.seed, luck.so_far.number
    kind, a, b = luck.kinds[row], luck.times[row, 0], luck.times[row, 1]
    if count > 1:
        return sample(kind, a, b, seed, night, purpose, who, count)
    j = e * luck.given.animals + who
    u, z = luck.early[count, j], luck.early[ZU + count, j]
    return sample_of(u, z, kind, a, b, seed, night, purpose, who, count)


@inlined
def early_chance(luck: Luck, e: int, purpose: int, who: int, count: int) -> float:
    """`philox.uniform`, from the early numbers for counts 0 and 1."""
    if count > 1:
        return uniform(luck.so_far.seed, luck.so_far.number, purpose, who, count)
    return luck.early[count, e * luck.given.animals + who]


@inlined
def early_normal(luck: Luck, e: int, who: int, count: int) -> float:
    """Normal quantile of an early number."""
    j = e * luck.given.animals + who
    return normal_of(luck.early[count, j], luck.early[ZU + count, j])


@inlined
def early_frailty(luck: Luck, who: int) -> float:
    """`draws.frailty`: the first attempt at a gamma variate, if its quick test takes it."""
    kind, a, b = luck.kinds[k.T_FRAILTY], luck.times[k.T_FRAILTY, 0], luck.times[k.T_FRAILTY, 1]
    if kind == k.GAMMA and a >= 1.0:
        d = a - 1.0 / 3.0
        c = 1.0 / math.sqrt(9.0 * d)
        j = E_FRAILTY * luck.given.animals + who
        x = normal_of(luck.early[U, j], luck.early[ZU, j])
        v = 1.0 + c * x
        v = v * v * v
        square = x * x
        quick = 1.0 - 0.0331 * square * square
        if v > 0.0 and luck.early[V, j] < quick:
            z = d * v * b
            return z if z > LEAST_FRAILTY else LEAST_FRAILTY
    return frailty(kind, a, b, luck.so_far.seed, luck.so_far.number, who)
