"""How far a long run has come, how fast it goes, and how long it will take yet."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable

_WINDOW = 30.0
"""Seconds over which the rate is taken: long enough to be steady, short enough to be true."""
_FIRST_LINE, _NEXT_LINE = 10.0, 30.0
"""Seconds before the first line where no terminal is watched, and between lines."""
_LEAST_LEFT = 5.0
"""Seconds: nothing is said of a run that is about to end."""
_MINUTE, _HOUR, _DAY = 60, 3600, 86_400


class Pace:
    """The rate over the last half minute.

    It begins at the first count, which may hold nights that an earlier run has played.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.clock = clock
        self.seen: deque[tuple[float, int]] = deque()

    def at(self, done: int) -> float:
        """Nights a second, now that ``done`` are done; 0 if that is not known yet."""
        now = self.clock()
        self.seen.append((now, done))
        while len(self.seen) > 2 and self.seen[1][0] < now - _WINDOW:
            self.seen.popleft()
        begun, before = self.seen[0]
        return (done - before) / (now - begun) if now > begun else 0.0

    def stands(self, working: bool) -> None:
        """Whether anybody works; the time in which nobody did says nothing of the rate."""
        if working:
            self.seen.clear()


class Lines:
    """A line now and then, for a log that somebody looks into later."""

    def __init__(
        self, what: str, tell: Callable[[str], None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.what, self.tell, self.clock = what, tell, clock
        self.pace = Pace(clock)
        self.due: float | None = None

    def __call__(self, done: int, planned: int) -> None:
        now, rate = self.clock(), self.pace.at(done)
        if self.due is None:
            self.due = now + _FIRST_LINE
        if now >= self.due and planned - done > rate * _LEAST_LEFT:
            self.due = now + _NEXT_LINE
            self.tell(f"{done:,} of {planned:,} {self.what}{speed(done, planned, rate)}")


def speed(done: int, planned: int, rate: float) -> str:
    """Rate and time left in words, nothing if not known: ", 190,000 a second, 7 min 40 s left"."""
    if rate <= 0:
        return ""
    return f", {_round(rate):,} a second, {duration((planned - done) / rate)} left"


def duration(seconds: float) -> str:
    """A time in its two largest units."""
    whole = round(seconds)
    if whole < _MINUTE:
        return f"{whole} s"
    if whole < _HOUR:
        return f"{whole // _MINUTE} min {whole % _MINUTE} s"
    if whole < _DAY:
        return f"{whole // _HOUR} h {whole % _HOUR // _MINUTE} min"
    return f"{whole // _DAY} d {whole % _DAY // _HOUR} h"


def _round(rate: float) -> int:
    """To three digits: more would only flicker."""
    digits = max(0, len(str(int(rate))) - 3)
    return int(round(rate, -digits))
