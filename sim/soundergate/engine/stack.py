"""Stacks: the night plans of many worlds, played in one call.

Plans whose arrays have the same shapes are stacked along a new first axis. Others (a person's rule
of more steps, classes that no longer live by the same tempo) go into a stack of their own: nothing
is padded, so each world is played from the very arrays that it would be played from alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from soundergate.engine.plan import Ints, NightPlan


def stack(plans: Sequence[NightPlan]) -> NightPlan:
    """Plans of W worlds as one, each array with W as its first axis.

    Raises ValueError for no plans, or for plans of different shapes (see `alike`).
    """
    if len(alike(plans)) != 1:
        raise ValueError("plans of different shapes cannot be stacked")
    return NightPlan(*(stacked(columns) for columns in zip(*plans, strict=True)))


def stacked(arrays: Sequence[Any]) -> Any:
    """Arrays, or records, of equal shapes along a new first axis."""
    first = np.asarray(arrays[0])
    whole = np.empty((len(arrays), *first.shape), first.dtype)
    for row, one in enumerate(arrays):
        whole[row] = one
    return whole.view(np.recarray) if first.dtype.names else whole


def shapes(value: Any) -> Any:
    """The shapes of all arrays of a plan, or of anything made of tuples of arrays."""
    if isinstance(value, tuple):
        return tuple(shapes(part) for part in value)
    return np.shape(value)


def alike(values: Sequence[Any]) -> list[Ints]:
    """Numbers of those of the same shapes, a row a shape, in order."""
    found: dict[Any, list[int]] = {}
    for number, value in enumerate(values):
        found.setdefault(shapes(value), []).append(number)
    return [np.array(numbers, np.int64) for numbers in found.values()]
