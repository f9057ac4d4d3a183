"""A beam or treadle at the opening that counts animals in and out, with its errors."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.scenario.trigger_keys import CounterTrigger


def row(counter: CounterTrigger) -> dict[str, Any]:
    """The numbers that the engines read: net count, error shares, dwell in s (inf for none)."""
    return {
        "COUNT_NEEDED": float(counter.count),
        "COUNT_MISS": counter.miss,
        "COUNT_DOUBLE": counter.double,
        "COUNT_DWELL": math.inf if counter.dwell is None else counter.dwell,
    }
