"""SimPy with exact times and settled ties.

SimPy schedules by delay, and now + (t - now) need not be t to the last bit; here an event is put
on the queue at its own time, with (rank, number) as its integer priority.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from heapq import heappush
from typing import cast

import simpy

from soundergate.engine.codes import RANK_STEP
from soundergate.engine.rules import clocks

# The clock expressions as Python runs them: the same source and the same IEEE arithmetic as the
# compiled ones, without the cost of crossing into compiled code for one sum.
reading = getattr(clocks.reading, "py_func", clocks.reading)
due_time = getattr(clocks.due_time, "py_func", clocks.due_time)


class NightEnvironment(simpy.Environment):
    """An environment whose events are scheduled at an absolute time."""

    def __init__(self, start: float = 0.0) -> None:
        super().__init__(start)
        self._agenda = cast(list[tuple[float, int, int, simpy.Event]], self._queue)

    def at(self, event: simpy.Event, time: float, priority: int) -> None:
        """Put a triggered event on the queue at ``time`` (s since set)."""
        heappush(self._agenda, (time, priority, next(self._eid), event))

    def next_event(self) -> tuple[float, int, int, simpy.Event]:
        """Time, priority, order and event of what happens next."""
        return self._agenda[0]

    def moment(self, time: float, rank: int, number: int) -> simpy.Event:
        """An event for a process to wait for, at an absolute time."""
        event = simpy.Event(self)
        event._ok = True
        event._value = None
        self.at(event, time, rank * RANK_STEP + number)
        return event


class Ringing(simpy.Event):
    """A timer's coming event: triggered from the start, since its time is on the queue."""

    def __init__(self, timer: Timer) -> None:
        self.env = timer.env
        self.callbacks = [timer.ring]
        self._ok = True
        self._value = None


class Timer:
    """At most one pending event, whose handler is followed by the one settling of the event.

    Setting it again supersedes the old one, which is then ignored: nothing is ever interrupted or
    taken off the queue.
    """

    __slots__ = ("due", "env", "handler", "number", "settle")

    def __init__(
        self,
        env: NightEnvironment,
        handler: Callable[[int], None],
        settle: Callable[[], None] = lambda: None,
    ) -> None:
        self.env = env
        self.handler = handler
        self.settle = settle
        self.due: Ringing | None = None
        self.number = 0

    @property
    def pending(self) -> bool:
        return self.due is not None

    def set(self, when: float, rank: int, number: int) -> None:
        if when == math.inf:
            self.due = None
            return
        self.number = number
        self.due = event = Ringing(self)
        self.env.at(event, when, rank * RANK_STEP + number)

    def ring(self, event: simpy.Event) -> None:
        if event is self.due:
            self.due = None
            self.handler(self.number)
            self.settle()

    def cancel(self) -> None:
        self.due = None


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
        if moved:
            self.h0 = reading(self.t0, self.h0, self.speed, now)
            self.t0 = now
            self.speed = speed
        head = self.head
        if self.stirred:
            self.stirred = False
            head = min(zip(self.waiting.values(), self.waiting, strict=True), default=None)
            if not moved and head == self.head and self.timer.due is not None:
                return
            self.head = head
        if head is None:
            self.timer.due = None
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
        self.stirred = True

    def join(self, i: int, amount: float, now: float) -> None:
        """Animal ``i`` is due when the clock of its tempo has grown by ``amount``."""
        self.clocks[self.tempo_of[i]].join(i, amount, now)
        self.stirred = True

    def drop(self, i: int) -> None:
        """Animal ``i`` waits no longer."""
        self.clocks[self.tempo_of[i]].drop(i)
        self.stirred = True

    def settle(self, speeds: Iterable[float], now: float) -> None:
        """Take the speeds, by tempo, that hold from now on."""
        self.stirred = False
        for clock, speed in zip(self.clocks, speeds, strict=True):
            if clock.stirred or clock.speed != speed:
                clock.settle(speed, now)

    def settle_again(self, now: float) -> None:
        """The speeds are as they were; somebody may have joined or left."""
        if self.stirred:
            self.stirred = False
            for clock in self.clocks:
                if clock.stirred:
                    clock.settle(clock.speed, now)
