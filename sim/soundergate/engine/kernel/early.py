"""The numbers that most nights ask for, drawn together at the start of a batch night.

A draw is a pure function of its name, so it may be made early without changing a bit. Made one at
a time, a block of the generator waits for its own ten rounds, and a normal quantile and an
exponential for that; made in loops over all names, the compiler works on several at once. What is
drawn here is what most animals of most nights ask for; the rest is drawn when asked for.

`Table` says which names those are and what becomes of each number, laid out so that numbers which
are treated alike stand together; `draw_early` fills `Luck.drawn`, and the functions below it look
them up, each under the name of what it saves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import called, inlined
from soundergate.engine.kernel.early_table import E_BODY, E_FRAILTY, FRAILTY, MASS, SCALE, Table
from soundergate.engine.luck.draws import LEAST_FRAILTY, frailty, inline_quick_gamma, sample_row
from soundergate.engine.luck.elementary import inline_exp, inline_ln
from soundergate.engine.luck.normal import WHOLE, normal_quantiles, up_to_whole
from soundergate.engine.luck.philox import uniform, uniform_pairs, uniform_pairs_of

if TYPE_CHECKING:
    from soundergate.engine.kernel.scratch import Luck

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@inlined
def draw_early(luck: Luck, table: Table) -> None:
    """Fill in the numbers of this night."""
    m = len(table.tails)
    made, u, z = luck.drawn[:m], luck.drawn[m : 2 * m], luck.drawn[2 * m : 3 * m]
    uniform_pairs(luck.state.seed, luck.state.number, table.names, u)
    if luck.state.traits != luck.state.number:
        for e in (E_BODY, E_FRAILTY):
            draw_traits(luck, e, table, u)
    normal_quantiles(table.normal_stretches, u, z, table.which, table.tails)
    transform(table.stretches, table.values, u, z, made)


@inlined
def draw_traits(luck: Luck, e: int, table: Table, u: Floats) -> None:
    """Row ``e`` anew, by the night whose draws say what the animals are like."""
    begin = luck.constants.place[e, 0]
    if begin >= 0:
        end = begin + luck.constants.animals
        uniform_pairs_of(luck.state.seed, luck.state.traits, table.names, begin, end, u)


@called
def transform(stretches: Ints, values: Floats, u: Floats, z: Floats, made: Floats) -> None:
    """Make of uniform numbers what they are drawn for.

    Every loop goes over whole groups of `WHOLE`, and what it makes too much is overwritten by the
    stretch that follows: to handle the rest one by one would take as long as all before it.

    Parameters
    ----------
    stretches : int64[S, 3]
        Begin, end and kind of each stretch of numbers that are treated alike, in rising order.
    values : float64[2, m]
        Parameters of each number.
    u, z : float64[m]
        The numbers, and their normal quantiles where they are needed.
    made : float64[m]
        Takes what becomes of them.
    """
    half = (u.shape[0] - WHOLE) >> 1
    for row in range(stretches.shape[0]):
        begin = stretches[row, 0]
        end = begin + up_to_whole(stretches[row, 1] - begin)
        kind = stretches[row, 2]
        a = values[0, begin:end]
        b = values[1, begin:end]
        from_u = u[begin:end]
        from_z = z[begin:end]
        out = made[begin:end]
        if kind == k.LOGNORMAL or kind == MASS:
            for j in range(out.shape[0]):
                out[j] = inline_exp(a[j] + b[j] * from_z[j])
        elif kind == k.EXPONENTIAL:
            for j in range(out.shape[0]):
                out[j] = -a[j] * inline_ln(from_u[j])
        elif kind == FRAILTY:
            test = u[half + begin : half + end]
            for j in range(out.shape[0]):
                out[j] = inline_quick_gamma(a[j], b[j], from_z[j], test[j])
        elif kind == SCALE:
            mean = values[0, begin - half : end - half]
            spread = values[1, begin - half : end - half]
            mass_z = z[begin - half : end - half]
            for j in range(out.shape[0]):
                ln_mass = mean[j] + spread[j] * mass_z[j]
                out[j] = inline_exp(a[j] * ln_mass + b[j] * from_z[j])
        elif kind == k.FIXED:
            for j in range(out.shape[0]):
                out[j] = a[j]


@inlined
def early(luck: Luck, e: int, count: int, who: int) -> float:
    """Number ``count``, 0 or 1, of row ``e`` of the table for an animal, sounder or opening."""
    return luck.drawn[luck.constants.place[e, count] + who]


@inlined
def early_draw(luck: Luck, e: int, row: int, purpose: int, who: int, count: int) -> float:
    """`draws.sample` of a row of distributions, from the early numbers if it is among them."""
    if count > 1 or luck.constants.place[e, count] < 0:
        return late_draw(luck, row, purpose, who, count)
    return early(luck, e, count, who)


@inlined
def late_draw(luck: Luck, row: int, purpose: int, who: int, count: int) -> float:
    """`draws.sample` of a row of distributions."""
    return sample_row(luck.times, row, luck.state.seed, luck.state.number, purpose, who, count)


@inlined
def early_chance(luck: Luck, e: int, purpose: int, who: int, count: int) -> float:
    """`philox.uniform`, from the early numbers for counts 0 and 1."""
    if count > 1:
        return uniform(luck.state.seed, luck.state.number, purpose, who, count)
    return early(luck, e, count, who)


@inlined
def early_frailty(luck: Luck, e: int, who: int) -> float:
    """`draws.frailty`; of a gamma variate, only the first attempt was made early."""
    z = early(luck, e, 0, who)
    if not z >= 0.0:
        times, row = luck.times, k.T_FRAILTY
        kind, a, b = int(times[row, 2]), times[row, 0], times[row, 1]
        return frailty(kind, a, b, luck.state.seed, luck.state.traits, who)
    return z if z > LEAST_FRAILTY else LEAST_FRAILTY
