"""Inverse of the standard normal distribution by algorithm AS 241, routine PPND16.

Source: M. J. Wichura, "Algorithm AS 241: The percentage points of the normal distribution",
Applied Statistics 37 (1988), 477-484. Relative accuracy about 1e-16.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from soundergate.engine.compiled.decorators import called, compiled_as, inlined
from soundergate.engine.luck.elementary import inline_ln

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CENTRAL = 0.425
_FAR = 1.3887943864964021e-11
"""exp(-25), where the square root of -ln p is 5."""


WHOLE = 8
"""Numbers that are worked on together; to handle what is left over one by one would take as long
as all before it."""


@inlined
def up_to_whole(count: int) -> int:
    """The least multiple of `WHOLE` that is no less."""
    return (count + WHOLE - 1) // WHOLE * WHOLE


@inlined
def _seventh_degree(
    r: float, c7: float, c6: float, c5: float, c4: float, c3: float, c2: float, c1: float, c0: float
) -> float:
    """A polynomial by Horner's scheme."""
    return ((((((c7 * r + c6) * r + c5) * r + c4) * r + c3) * r + c2) * r + c1) * r + c0


@inlined
def _central(q: float) -> float:
    """The branch for abs(q) <= 0.425, q = p - 0.5."""
    r = 0.180625 - q * q
    top = _seventh_degree(
        r, 2509.0809287301226727, 33430.575583588128105, 67265.770927008700853,
        45921.953931549871457, 13731.693765509461125, 1971.5909503065514427,
        133.14166789178437745, 3.387132872796366608,
    )  # fmt: skip
    low = _seventh_degree(
        r, 5226.495278852854561, 28729.085735721942674, 39307.89580009271061,
        21213.794301586595867, 5394.1960214247511077, 687.1870074920579083,
        42.313330701600911252, 1.0,
    )  # fmt: skip
    return q * top / low


@inlined
def _tail(p: float) -> float:
    """Quantile, without its sign, of the tail probability ``p``, exp(-25) <= p <= 0.075."""
    r = math.sqrt(-inline_ln(p))
    r = r - 1.6
    top = _seventh_degree(
        r, 7.7454501427834140764e-4, 0.0227238449892691845833, 0.24178072517745061177,
        1.27045825245236838258, 3.64784832476320460504, 5.7694972214606914055,
        4.6303378461565452959, 1.42343711074968357734,
    )  # fmt: skip
    low = _seventh_degree(
        r, 1.05075007164441684324e-9, 5.475938084995344946e-4, 0.0151986665636164571966,
        0.14810397642748007459, 0.68976733498510000455, 1.6763848301838038494,
        2.05319162663775882187, 1.0,
    )  # fmt: skip
    return top / low


@compiled_as("f8(f8)")
def _far_tail(p: float) -> float:
    """The same for p < exp(-25)."""
    r = math.sqrt(-inline_ln(p))
    r = r - 5.0
    top = _seventh_degree(
        r, 2.01033439929228813265e-7, 2.71155556874348757815e-5, 0.0012426609473880784386,
        0.026532189526576123093, 0.29656057182850489123, 1.7848265399172913358,
        5.4637849111641143699, 6.6579046435011037772,
    )  # fmt: skip
    low = _seventh_degree(
        r, 2.04426310338993978564e-15, 1.4215117583164458887e-7, 1.8463183175100546818e-5,
        7.868691311456132591e-4, 0.0148753612908506148525, 0.13692988092273580531,
        0.59983220655588793769, 1.0,
    )  # fmt: skip
    return top / low


@compiled_as("f8(f8)")
def normal_quantile(p: float) -> float:
    """Standard normal quantile of ``p``, 0 < p < 1."""
    q = p - 0.5
    if abs(q) <= _CENTRAL:
        return _central(q)
    tail = p if q < 0.0 else 1.0 - p
    value = _tail(tail) if tail >= _FAR else _far_tail(tail)
    return -value if q < 0.0 else value


@called
def normal_quantiles(stretches: Ints, p: Floats, z: Floats, which: Ints, tails: Floats) -> None:
    """`normal_quantile` of many numbers, several at a time: first as if all were central, then
    those that are not, which are picked out for it.

    Loops go over whole groups of `WHOLE`: see `early.transform`.

    Parameters
    ----------
    stretches : int64[S, 2]
        Begin and end of each stretch of ``p`` that is wanted, in rising order; at least `WHOLE`
        before the end of ``p``.
    p : float64[n]
        Probabilities, 0 < p < 1.
    z : float64[n]
        Takes the quantiles; what it held elsewhere is lost.
    which, tails : int64[n], float64[n]
        To work in.
    """
    found = 0
    for row in range(stretches.shape[0]):
        begin = stretches[row, 0]
        end = stretches[row, 1]
        whole = begin + up_to_whole(end - begin)
        given = p[begin:whole]
        made = z[begin:whole]
        for j in range(given.shape[0]):
            made[j] = _central(given[j] - 0.5)
        for j in range(end - begin):
            which[found] = begin + j
            found += abs(given[j] - 0.5) > _CENTRAL
    for j in range(found):
        near = p[which[j]]
        near = near if near < 0.5 else 1.0 - near
        tails[j] = near
        z[which[j]] = near
    some = tails[: up_to_whole(found)]
    for j in range(found, some.shape[0]):
        some[j] = 0.05
    for j in range(some.shape[0]):
        some[j] = _tail(some[j])
    for j in range(found):
        at = which[j]
        value = some[j] if z[at] >= _FAR else _far_tail(z[at])
        z[at] = -value if p[at] < 0.5 else value
