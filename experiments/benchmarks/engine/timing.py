"""Time on the processor of this thread, beside the time on the clock."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Taken:
    """Seconds that a call took: on the processor (this thread alone) and on the clock."""

    cpu: float
    wall: float


def taken(call: Callable[..., object], *given: Any) -> Taken:
    """Time one call of ``call(*given)``."""
    cpu, wall = time.thread_time(), time.perf_counter()
    call(*given)
    return Taken(time.thread_time() - cpu, time.perf_counter() - wall)


def best(repeats: int, call: Callable[..., object], *given: Any) -> Taken:
    """The least of several, processor and clock each for itself: others on the machine add."""
    runs = [taken(call, *given) for _ in range(repeats)]
    return Taken(min(run.cpu for run in runs), min(run.wall for run in runs))
