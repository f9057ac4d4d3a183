"""The batch engine: the compiled kernel and its results as `Outcomes`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soundergate.engine import endless
from soundergate.engine.carried import Carried, alone
from soundergate.engine.compiled.decorators import call
from soundergate.engine.kernel import bounds
from soundergate.engine.kernel import night as kernel
from soundergate.engine.kernel.scratch import scratch_for
from soundergate.engine.kernel.stacked import play_worlds
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.plan import NightPlan
from soundergate.engine.stack import alike, stack, stacked

_WHOLE = {
    "group_size": bounds.R_GROUP,
    "arrived": bounds.R_ARRIVED,
    "inside_at_release": bounds.R_HELD,
    "caught": bounds.R_CAUGHT,
    "escaped_before": bounds.R_BEFORE,
    "escaped_during": bounds.R_DURING,
    "escaped_after": bounds.R_AFTER,
    "never_entered": bounds.R_NEVER,
    "educated": bounds.R_EDUCATED,
    "struck": bounds.R_STRUCK,
}
_REAL = {
    "release_s": bounds.R_RELEASE_S,
    "strike_energy_j": bounds.R_ENERGY,
    "operator_min": bounds.R_OPERATOR,
    "night_s": bounds.R_NIGHT_S,
}


def play_batch(plan: NightPlan, seed: int, first: int, count: int) -> Outcomes:
    """Play nights ``first`` to ``first + count - 1`` in the compiled kernel."""
    outcomes, _ = play_counted(plan, seed, first, count)
    return outcomes


def play_counted(plan: NightPlan, seed: int, first: int, count: int) -> tuple[Outcomes, np.ndarray]:
    """The same, and the number of events of each night, int64[count]."""
    return _play(plan, seed, alone(plan, first, count))


def play_carried_batch(plan: NightPlan, seed: int, nights: Carried) -> Outcomes:
    """Nights of campaigns in the compiled kernel; fills in ``nights.after``."""
    outcomes, _ = _play(plan, seed, nights)
    return outcomes


def _play(plan: NightPlan, seed: int, nights: Carried) -> tuple[Outcomes, np.ndarray]:
    count = len(nights.number)
    whole = np.zeros((count, kernel.RESULT_INTS), np.int64)
    real = np.empty((count, kernel.RESULT_FLOATS), np.float64)
    call(kernel.play_nights, plan, scratch_for(plan), nights, np.int64(seed), whole, real)
    return _outcomes(nights.number, whole, real), whole[:, bounds.R_EVENTS]


def play_stack_batch(
    plans: Sequence[NightPlan], seed: int, first: Sequence[int], count: int
) -> list[Outcomes]:
    """``count`` nights of each world, from ``first[w]`` on; worlds of one shape in one call."""
    scratches = [scratch_for(plan) for plan in plans]
    numbers = np.asarray(first, np.int64)[:, np.newaxis] + np.arange(count, dtype=np.int64)
    played: list[Outcomes] = [Outcomes.empty(0)] * len(plans)
    for rows in alike(list(zip(plans, scratches, strict=True))):
        chosen = stack([plans[w] for w in rows])
        whole = np.zeros((len(rows), count, kernel.RESULT_INTS), np.int64)
        real = np.empty((len(rows), count, kernel.RESULT_FLOATS), np.float64)
        nobody = np.zeros((0, plans[rows[0]].group_size), np.int64)
        number, scratch = numbers[rows], _stacked_scratch([scratches[w] for w in rows])
        call(play_worlds, chosen, scratch, number, nobody, np.int64(seed), whole, real)
        for row, w in enumerate(rows):
            played[w] = _outcomes(number[row], whole[row], real[row])
    return played


def _stacked_scratch(parts: Sequence[Any]) -> Any:
    """Scratches, or tuples in them, as one of arrays with a first axis of worlds."""
    first = parts[0]
    if not isinstance(first, tuple):
        return stacked(parts)
    return type(first)(*(_stacked_scratch(column) for column in zip(*parts, strict=True)))


def _outcomes(number: NDArray[np.int64], whole: Any, real: Any) -> Outcomes:
    endless.check(number, whole[:, bounds.R_EVENTS], whole[:, bounds.R_LAST])
    columns: dict[str, NDArray[Any]] = {name: whole[:, c] for name, c in _WHOLE.items()}
    columns |= {name: real[:, c] for name, c in _REAL.items()}
    columns["night"] = number
    columns["released"] = whole[:, bounds.R_RELEASED] != 0
    columns["whole_group"] = whole[:, bounds.R_CAUGHT] == whole[:, bounds.R_GROUP]
    return Outcomes.from_columns(columns)
