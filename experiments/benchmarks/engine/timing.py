"""Time on the processor of this thread, beside the time on the clock."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Taken:
    """Seconds that a call took.

    On the processor, this thread alone (``cpu``) and all (``work``); by the clock (``wall``).
    """

    cpu: float
    work: float
    wall: float


def taken(call: Callable[..., object], *given: Any) -> Taken:
    """Time one call of ``call(*given)``."""
    cpu, work, wall = time.thread_time(), time.process_time(), time.perf_counter()
    call(*given)
    return Taken(time.thread_time() - cpu, time.process_time() - work, time.perf_counter() - wall)


def best(repeats: int, call: Callable[..., object], *given: Any) -> Taken:
    """The least of several, each column for itself: others on the machine add."""
    runs = [taken(call, *given) for _ in range(repeats)]
    return Taken(
        min(run.cpu for run in runs), min(run.work for run in runs), min(run.wall for run in runs)
    )
