"""The batch engine: the compiled kernel and its results as `Outcomes`."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from soundergate.engine import kernel
from soundergate.engine.outcomes import Outcomes
from soundergate.engine.plan import NightPlan
from soundergate.engine.scratch import scratch_for

_WHOLE = {
    "group_size": kernel.R_GROUP,
    "arrived": kernel.R_ARRIVED,
    "inside_at_release": kernel.R_HELD,
    "caught": kernel.R_CAUGHT,
    "escaped_before": kernel.R_BEFORE,
    "escaped_during": kernel.R_DURING,
    "escaped_after": kernel.R_AFTER,
    "never_entered": kernel.R_NEVER,
    "educated": kernel.R_EDUCATED,
    "struck": kernel.R_STRUCK,
}
_REAL = {
    "release_s": kernel.R_RELEASE_S,
    "strike_energy_j": kernel.R_ENERGY,
    "operator_min": kernel.R_OPERATOR,
    "night_s": kernel.R_NIGHT_S,
}


def play_batch(plan: NightPlan, seed: int, first: int, count: int) -> Outcomes:
    """Play nights ``first`` to ``first + count - 1`` in the compiled kernel."""
    outcomes, _ = play_counted(plan, seed, first, count)
    return outcomes


def play_counted(plan: NightPlan, seed: int, first: int, count: int) -> tuple[Outcomes, np.ndarray]:
    """The same, and the number of events of each night, int64[count]."""
    whole = np.empty((count, kernel.RESULT_INTS), np.int64)
    real = np.empty((count, kernel.RESULT_FLOATS), np.float64)
    numbers = np.int64(seed), np.int64(first), np.int64(count)
    kernel.play_nights(plan, scratch_for(plan), *numbers, whole, real)
    columns: dict[str, NDArray[Any]] = {name: whole[:, c] for name, c in _WHOLE.items()}
    columns |= {name: real[:, c] for name, c in _REAL.items()}
    columns["night"] = np.arange(first, first + count, dtype=np.int64)
    columns["released"] = whole[:, kernel.R_RELEASED] != 0
    columns["whole_group"] = whole[:, kernel.R_CAUGHT] == whole[:, kernel.R_GROUP]
    return Outcomes.from_columns(columns), whole[:, kernel.R_EVENTS]
