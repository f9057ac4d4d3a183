"""The floor drawn together: the numbers of `floor`, made as the kernel makes them.

First all blocks of a night, then all normal quantiles, then all exponentials and logarithms, each
in a loop that the compiler lets work on several at once. The kernel draws more names early than a
night turns out to need, and the rest one by one; here are exactly those that were needed.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from floor import Takes, attempted_again

from soundergate.engine.compiled.decorators import compiled
from soundergate.engine.kernel.early import transform
from soundergate.engine.kernel.early_table import (
    FRAILTY,
    LATER,
    NORMAL,
    PLAIN,
    How,
    in_order,
    lay_out,
)
from soundergate.engine.luck.normal import normal_quantiles
from soundergate.engine.luck.philox import inline_pair


class Laid(NamedTuple):
    """The rows of `Takes`, sorted night by night by what becomes of their numbers."""

    begin: np.ndarray
    """int64[nights + 1, 4]: where a night's blocks, numbers and two kinds of stretches begin."""
    name: np.ndarray
    block: np.ndarray
    """uint64[blocks]"""
    value: np.ndarray
    """float64[2 numbers]: all first parameters of a night, then all second ones."""
    stretches: np.ndarray
    normal: np.ndarray
    """Of `early_table.Table`, counted from the night's first number."""
    u: np.ndarray
    z: np.ndarray
    made: np.ndarray
    """float64[numbers]: room for them."""
    which: np.ndarray
    tails: np.ndarray
    """To work in."""


def laid_out(takes: Takes) -> Laid:
    """Lay out every night as the engine does."""
    begin = [np.zeros(4, np.int64)]
    parts: list[tuple[np.ndarray, ...]] = []
    for first, end in zip(takes.start, takes.start[1:], strict=False):
        hows = [_hows(takes, row) for row in range(first, end)]
        order = sorted(range(end - first), key=lambda j: in_order(*hows[j]))
        names = takes.name[first:end][order].tolist()
        table = lay_out(names, [hows[j][0] for j in order], [hows[j][1] for j in order])
        block = np.zeros(len(table.names), np.uint64)
        block[: len(order)] = takes.block[first:end][order]
        part = table.names, block, table.values.ravel(), table.stretches, table.normal_stretches
        parts.append(part)
        sizes = len(block), table.values.shape[1], len(part[3]), len(part[4])
        begin.append(begin[-1] + np.array(sizes))
    together = [np.concatenate(column) for column in zip(*parts, strict=True)]
    u, z, made = np.zeros((3, begin[-1][1]))
    most = max(len(part[2]) for part in parts)
    return Laid(np.array(begin), *together, u, z, made, np.zeros(most, np.int64), np.zeros(most))


def _hows(takes: Takes, row: int) -> tuple[How, How]:
    (one, other), (a, b, c, d) = takes.kind[row].tolist(), takes.value[row].tolist()
    return (one, a, b), (other, c, d)


@compiled
def draw_together(laid, seed):  # type: ignore[no-untyped-def]
    """Draw every number once, into ``u``, ``z`` and ``made``."""
    key = np.uint64(seed)
    for night in range(laid.begin.shape[0] - 1):
        n = np.uint64(night)
        b0, b1 = laid.begin[night, 0], laid.begin[night + 1, 0]
        m0, m1 = laid.begin[night, 1], laid.begin[night + 1, 1]
        name = laid.name[b0:b1]
        block = laid.block[b0:b1]
        u = laid.u[m0:m1]
        z = laid.z[m0:m1]
        made = laid.made[m0:m1]
        first = u[: b1 - b0]
        second = u[b1 - b0 : 2 * (b1 - b0)]
        for j in range(name.shape[0]):
            first[j], second[j] = inline_pair(block[j], name[j], n, key)
        values = laid.value[2 * m0 : 2 * m1].reshape((2, m1 - m0))
        stretches = laid.stretches[laid.begin[night, 2] : laid.begin[night + 1, 2]]
        normal = laid.normal[laid.begin[night, 3] : laid.begin[night + 1, 3]]
        normal_quantiles(normal, u, z, laid.which, laid.tails)
        transform(stretches, values, u, z, made)
        for row in range(stretches.shape[0]):
            if stretches[row, 2] == FRAILTY:
                for j in range(stretches[row, 0], stretches[row, 1]):
                    if not made[j] >= 0.0:
                        made[j] = attempted_again(values[0, j], values[1, j], seed, night, name[j])


def total(laid: Laid, takes: Takes) -> float:
    """Sum of what was drawn, to hold against that of `floor.draw_again`."""
    added = 0.0
    for night, (first, end) in enumerate(zip(takes.start, takes.start[1:], strict=False)):
        hows = sorted((_hows(takes, row) for row in range(first, end)), key=lambda h: in_order(*h))
        m0, half = laid.begin[night, 1], laid.begin[night + 1, 0] - laid.begin[night, 0]
        for j, pair in enumerate(hows):
            for at, (kind, _, _) in zip((m0 + j, m0 + half + j), pair, strict=True):
                counts = kind != LATER and not (kind == PLAIN and pair[0][0] == FRAILTY)
                rows = {PLAIN: laid.u, NORMAL: laid.z}
                added += float(rows.get(kind, laid.made)[at]) if counts else 0.0
    return added
