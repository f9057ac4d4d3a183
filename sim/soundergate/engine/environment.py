"""SimPy with exact times and settled ties.

SimPy schedules by delay, and now + (t - now) need not be t to the last bit; here an event is put
on the queue at its own time, with (rank, number) as its integer priority.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from heapq import heappush

import simpy
from simpy.core import EventPriority

from soundergate.engine import clocks
from soundergate.engine.codes import RANK_STEP

# The clock expressions as Python runs them: the same source and the same IEEE arithmetic as the
# compiled ones, without the cost of crossing into compiled code for one sum.
reading = getattr(clocks.reading, "py_func", clocks.reading)
due_time = getattr(clocks.due_time, "py_func", clocks.due_time)


class NightEnvironment(simpy.Environment):
    """An environment whose events are scheduled at an absolute time."""

    def at(self, event: simpy.Event, time: float, priority: int) -> None:
        """Put a triggered event on the queue at ``time`` (s since set)."""
        event._ok = True
        event._value = None
        heappush(self._queue, (time, EventPriority(priority), next(self._eid), event))

    def moment(self, time: float, rank: int, number: int) -> simpy.Event:
        """An event for a process to wait for, at an absolute time."""
        event = simpy.Event(self)
        self.at(event, time, rank * RANK_STEP + number)
        return event


class Timer:
    """At most one pending event. Setting it again supersedes the old one, which is then ignored:
    nothing is ever interrupted or taken off the queue."""

    __slots__ = ("env", "handler", "pending", "version")

    def __init__(self, env: NightEnvironment, handler: Callable[[int], None]) -> None:
        self.env = env
        self.handler = handler
        self.version = 0
        self.pending = False

    def set(self, when: float, rank: int, number: int) -> None:
        self.version += 1
        self.pending = when != math.inf
        if not self.pending:
            return
        version = self.version

        def ring(_: simpy.Event) -> None:
            if version == self.version:
                self.cancel()
                self.handler(number)

        event = simpy.Event(self.env)
        event.callbacks.append(ring)
        self.env.at(event, when, rank * RANK_STEP + number)

    def cancel(self) -> None:
        self.version += 1
        self.pending = False


class Clock:
    """One process of one class of animal: its reading, its speed, and who waits for what."""

    __slots__ = ("h0", "head", "rank", "speed", "stirred", "t0", "timer", "waiting")

    def __init__(self, timer: Timer, rank: int) -> None:
        self.timer = timer
        self.rank = rank
        self.t0 = 0.0
        self.h0 = 0.0
        self.speed = 0.0
        self.waiting: dict[int, float] = {}
        self.head: tuple[float, int] | None = None
        self.stirred = True

    def join(self, number: int, amount: float, now: float) -> None:
        """Due when the clock has grown by ``amount`` from its reading now."""
        self.wait_for(number, reading(self.t0, self.h0, self.speed, now) + amount)

    def wait_for(self, number: int, threshold: float) -> None:
        self.waiting[number] = threshold
        self.stirred = True

    def drop(self, number: int) -> None:
        if self.waiting.pop(number, None) is not None:
            self.stirred = True

    def settle(self, speed: float, now: float) -> None:
        """Take the speed that holds from now on; a clock moves only if its speed differs."""
        moved = speed != self.speed
        if not moved and not self.stirred:
            return
        self.stirred = False
        if moved:
            self.h0 = reading(self.t0, self.h0, self.speed, now)
            self.t0 = now
            self.speed = speed
        head = min(zip(self.waiting.values(), self.waiting, strict=True), default=None)
        if not moved and head == self.head and self.timer.pending:
            return
        self.head = head
        if head is None:
            self.timer.cancel()
        else:
            when = due_time(self.t0, self.h0, self.speed, head[0], now)
            self.timer.set(when, self.rank, head[1])


class Clocks:
    """One process of all animals, such as making up their minds to enter: a clock a tempo."""

    def __init__(
        self,
        timer: Callable[[Callable[[int], None]], Timer],
        handler: Callable[[int], None],
        rank: int,
        tempo_of: list[int],
    ) -> None:
        self.tempo_of = tempo_of
        self.clocks = [Clock(timer(handler), rank) for _ in range(max(tempo_of) + 1)]

    def join(self, i: int, amount: float, now: float) -> None:
        """Animal ``i`` is due when the clock of its tempo has grown by ``amount``."""
        self.clocks[self.tempo_of[i]].join(i, amount, now)

    def drop(self, i: int) -> None:
        """Animal ``i`` waits no longer."""
        self.clocks[self.tempo_of[i]].drop(i)

    def settle(self, speeds: Iterable[float], now: float) -> None:
        """Take the speeds, by tempo, that hold from now on."""
        for clock, speed in zip(self.clocks, speeds, strict=True):
            if clock.stirred or clock.speed != speed:
                clock.settle(speed, now)

    def settle_again(self, now: float) -> None:
        """The speeds are as they were; somebody may have joined or left."""
        for clock in self.clocks:
            if clock.stirred:
                clock.settle(clock.speed, now)
