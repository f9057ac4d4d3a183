"""A named tuple handed on by its address is the tuple: same members, and it may hold tuples."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine.compiled.address import handed
from soundergate.engine.compiled.decorators import compiled, inlined
from soundergate.engine.plan import Floats, Ints


class Alike(NamedTuple):
    """Numba lays members of one type out as an array."""

    first: Ints
    second: Ints


class Mixed(NamedTuple):
    whole: int
    alike: Alike
    square: Floats
    flag: bool
    share: float


def in_python(mixed: Mixed, made: Floats) -> None:
    made[0] = mixed.whole
    made[1] = np.sum(mixed.alike.first)
    made[2] = np.sum(mixed.alike.second)
    made[3] = mixed.square[-1, 0] * len(mixed.square)
    made[4] = mixed.share if mixed.flag else -mixed.share
    mixed.alike.first[0] = 7


sums = inlined(in_python)


@compiled
def by_address(mixed: Mixed, made: Floats) -> None:
    mixed = handed(mixed)
    sums(mixed, made)


@compiled
def by_value(mixed: Mixed, made: Floats) -> None:
    sums(mixed, made)


numbers = st.integers(-(2**40), 2**40)


@given(
    numbers,
    st.lists(numbers, min_size=1, max_size=5),
    st.lists(numbers, max_size=5),
    st.booleans(),
    st.floats(-1e9, 1e9),
)
def test_members_are_those_of_the_tuple(
    whole: int, first: list[int], second: list[int], flag: bool, share: float
) -> None:
    square = np.arange(2.0 * len(first)).reshape(-1, 2)

    def made(function) -> tuple[Floats, Ints]:
        alike = Alike(np.array(first, np.int64), np.array(second, np.int64))
        results = np.zeros(5)
        function(Mixed(whole, alike, square, flag, share), results)
        return results, alike.first

    by_python, changed_by_python = made(in_python)
    for function in (by_address, by_value):
        results, changed = made(function)
        assert np.array_equal(results, by_python)
        assert np.array_equal(changed, changed_by_python)
        assert changed[0] == 7
