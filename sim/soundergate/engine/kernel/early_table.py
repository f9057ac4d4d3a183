"""Which numbers a batch night draws together, and what becomes of each: the table behind
`engine.kernel.early`, laid out once a call."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from soundergate.engine import codes as k
from soundergate.engine.luck.normal import WHOLE
from soundergate.engine.plan import Floats, Ints, NightPlan

(E_SPREAD, E_ENTRY, E_FRAILTY, E_BODY, E_STAY, E_BOLT, E_LATE, E_RETURN, E_CLIMB, E_ROOT,
 E_COUNT, E_FIRST, E_PATIENCE, E_SIZE, E_NEED, E_PULL, E_HANG, E_DELAY, E_FALSE,
 EARLY_ROWS) = range(20)  # fmt: skip
"""Rows of the table: those of animals first, then of sounders, openings and the night."""

PLAIN, NORMAL, LATER, FRAILTY, MASS, SCALE = range(10, 16)
"""What else than a sample of a distribution becomes of a number: it stays as it is; a normal
quantile; nothing, since few nights ask for it or few scenarios have its kind; the first attempt
at a gamma variate, of which the second number is the test; a mass; and, from the second number of
the same block, the scale of all lengths of that body."""

_NEEDS_NORMAL = (NORMAL, SCALE, MASS, FRAILTY, k.LOGNORMAL)
_LEFT_ALONE = (PLAIN, LATER, NORMAL)
_ORDER = (k.EXPONENTIAL, k.FIXED, PLAIN, LATER, *_NEEDS_NORMAL)
"""Kinds as they stand in a table: what needs a normal quantile together, and what is left alone
once that is there together."""

How = tuple[int, float, float]
"""(kind, a, b)"""
_PLAIN: How = (PLAIN, 0.0, 0.0)
_NORMAL: How = (NORMAL, 0.0, 0.0)
_LATER: How = (LATER, 0.0, 0.0)


class Table(NamedTuple):
    """M blocks of the generator: block 0 of as many names, two numbers each.

    The numbers stand in one array, the first of every block, then the second, then room for one
    group of `WHOLE`; m is its length, 2 M + WHOLE. M is a multiple of WHOLE, too.
    """

    names: NDArray[np.uint64]
    """uint64[M]: purpose << 16 | who."""
    stretches: Ints
    """int64[S, 3]: begin, end and kind of each stretch of numbers that are treated alike."""
    normal_stretches: Ints
    """int64[S', 2]: begin and end of each stretch of which the normal quantile is needed."""
    values: Floats
    """float64[2, m]: two parameters of each number."""
    which: Ints
    """int64[m], to work in, as ``tails``."""
    tails: Floats
    """float64[m]"""


class _Row(NamedTuple):
    """One row: who it is for, and what becomes of both numbers of each."""

    e: int
    purpose: int
    first: list[How]
    second: list[How]


def early_table(plan: NightPlan) -> tuple[Table, Ints]:
    """The table for nights of this plan, and int64[EARLY_ROWS, 2]: where each row's numbers begin.

    That is in an array of what was made of the numbers, then the numbers themselves, then their
    normal quantiles, m each: a number stands where that stands which it is drawn for. A row that
    such nights have no use for is left out, and begins nowhere (-1).
    """
    rows = sorted(_rows(plan), key=lambda row: in_order(row.first[0], row.second[0]))
    begin = np.full(EARLY_ROWS, -1, np.int64)
    names: list[int] = []
    first: list[How] = []
    second: list[How] = []
    for row in rows:
        begin[row.e] = len(names)
        names += [row.purpose << 16 | who for who in range(len(row.first))]
        first += row.first
        second += row.second
    table = lay_out(names, first, second)
    return table, _places(begin, table, first, second)


def in_order(first: How, second: How) -> tuple[int, int]:
    """What to sort blocks by, so that numbers that are treated alike stand together."""
    return _ORDER.index(first[0]), _ORDER.index(second[0])


def lay_out(names: list[int], first: list[How], second: list[How]) -> Table:
    """The table of blocks in their order: what becomes of the first number of each and of the
    second."""
    spare = -len(names) % WHOLE
    numbers = first + [_PLAIN] * spare + second + [_PLAIN] * (spare + WHOLE)
    kinds = [kind for kind, _, _ in numbers]
    return Table(
        np.array(names + [0] * spare, np.uint64),
        _stretches([-1 if kind in _LEFT_ALONE else kind for kind in kinds]),
        _stretches([1 if kind in _NEEDS_NORMAL else -1 for kind in kinds])[:, :2].copy(),
        np.ascontiguousarray(np.array([(a, b) for _, a, b in numbers]).T),
        np.zeros(len(numbers), np.int64),
        np.zeros(len(numbers)),
    )


def _places(begin: Ints, table: Table, first: list[How], second: list[How]) -> Ints:
    place = np.full((EARLY_ROWS, 2), -1, np.int64)
    part = {PLAIN: 1, NORMAL: 2}
    for e in np.flatnonzero(begin >= 0):
        for count, (kind, _, _) in enumerate((first[begin[e]], second[begin[e]])):
            if kind != LATER:
                at = begin[e] + count * len(table.names)
                place[e, count] = part.get(kind, 0) * len(table.tails) + at
    return place


def _stretches(kinds: list[int]) -> Ints:
    """int64[S, 3]: begin, end and kind of every run of a kind that is not negative."""
    rows = []
    begin = 0
    for j in range(1, len(kinds) + 1):
        if j == len(kinds) or kinds[j] != kinds[begin]:
            if kinds[begin] >= 0:
                rows.append((begin, j, kinds[begin]))
            begin = j
    return np.array(rows, np.int64).reshape(-1, 3)


def _rows(plan: NightPlan) -> Iterator[_Row]:
    yield from _rows_of_animals(plan)
    sounders, openings = len(plan.size_cdf), len(plan.openings)

    def one(e: int, purpose: int, how: How, count: int) -> _Row:
        return _Row(e, purpose, [how] * count, [_PLAIN] * count)

    yield one(E_FIRST, k.D_FIRST, _timed(plan, k.T_FIRST), sounders)
    yield one(E_PATIENCE, k.D_PATIENCE, _timed(plan, k.T_PATIENCE), sounders)
    yield one(E_SIZE, k.D_SIZE, _PLAIN, sounders)
    yield one(E_NEED, k.D_NEED, _NORMAL, openings)
    yield one(E_PULL, k.D_PULL, _NORMAL, openings)
    yield one(E_HANG, k.D_HANG, _PLAIN, openings)
    delays = [
        _how(int(row.delay_kind), float(row.delay_a), float(row.delay_b)) for row in plan.openings
    ]
    if _LATER in delays:
        delays = [_LATER] * openings
    yield _Row(E_DELAY, k.D_DELAY, delays, [_PLAIN] * openings)
    yield one(E_FALSE, k.D_FALSE, _timed(plan, k.T_FALSE), 1)


def _rows_of_animals(plan: NightPlan) -> Iterator[_Row]:
    n = plan.group_size
    counters = bool(np.any(plan.triggers["kind"] == k.COUNTER))

    def each(e: int, purpose: int, first: How, second: How) -> _Row:
        return _Row(e, purpose, [first] * n, [second] * n)

    yield each(E_SPREAD, k.D_SPREAD, _timed(plan, k.T_SPREAD), _PLAIN)
    yield each(E_ENTRY, k.D_ENTRY, _timed(plan, k.T_ENTRY), _LATER)
    yield _frailty(plan, n)
    yield _bodies(plan)
    yield each(E_STAY, k.D_STAY, _timed(plan, k.T_LEAVE), _timed(plan, k.T_DWELL))
    yield each(E_BOLT, k.D_BOLT, _PLAIN, _timed(plan, k.T_BOLT))
    yield each(E_LATE, k.D_LATE, _PLAIN, _LATER)
    yield each(E_RETURN, k.D_RETURN, _PLAIN, _PLAIN)
    reach = float(plan.behaviour[0].reach_mu), float(plan.behaviour[0].reach_sigma)
    yield each(E_CLIMB, k.D_CLIMB, (k.LOGNORMAL, *reach), _LATER)
    yield each(E_ROOT, k.D_ROOT, _timed(plan, k.T_ROOT), _PLAIN)
    if counters:
        yield each(E_COUNT, k.D_COUNT_IN, _PLAIN, _PLAIN)


def _frailty(plan: NightPlan, n: int) -> _Row:
    """`draws.gamma_sample` draws from blocks of its own."""
    kind, a, b = _timed(plan, k.T_FRAILTY)
    if plan.duration_kind[k.T_FRAILTY] != k.GAMMA:
        return _Row(E_FRAILTY, k.D_FRAILTY, [(kind, a, b)] * n, [_PLAIN] * n)
    shape, scale = map(float, plan.duration[k.T_FRAILTY])
    return _Row(E_FRAILTY, k.D_FRAILTY + k.OWN_BLOCKS, [(FRAILTY, shape, scale)] * n, [_PLAIN] * n)


def _bodies(plan: NightPlan) -> _Row:
    mass = plan.mass[plan.class_of]
    scale = float(plan.behaviour[0].exponent), float(plan.behaviour[0].scatter)
    first = [(MASS, float(mu), float(sigma)) for mu, sigma in mass]
    return _Row(E_BODY, k.D_BODY, first, [(SCALE, *scale)] * len(first))


def _timed(plan: NightPlan, row: int) -> How:
    a, b = map(float, plan.duration[row])
    return _how(int(plan.duration_kind[row]), a, b)


def _how(kind: int, a: float, b: float) -> How:
    """Of the kinds that defaults have; the others are drawn when they are asked for, and a time
    that the kernel computes is not drawn at all."""
    return (kind, a, b) if kind in (k.FIXED, k.EXPONENTIAL, k.LOGNORMAL) else _LATER
