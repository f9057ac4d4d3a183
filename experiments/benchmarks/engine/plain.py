"""The plain night of ``plain.toml`` in general-purpose simulation packages, and by hand on a heap.

Twelve animals arrive at random, make up their minds after an exponential time, pass an opening
that holds one at a time, walk to the bait, stay for an exponential time and leave by the same
opening; half of those that leave turn round and try again. When eight have been counted in, the
gate moves half a second later and the night is over; if that never happens, at the hour.

Every version draws from the same distributions (not the same numbers), counts the same logical
events and returns how many were inside when the gate moved, so that the means can be compared.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Callable, Generator
from functools import cache
from heapq import heappop, heappush
from types import SimpleNamespace
from typing import Any, NamedTuple

ANIMALS = 12
SPREAD, CLOCK, STAY = 60.0, 60.0, 300.0
CROSSING, WALK, DELAY = 2.0, 10.0, 0.5
RETURNS, COUNT, CHECK = 0.5, 8, 3600.0


class PlainNight(NamedTuple):
    """What a night came to. ``inside`` is -1 if the gate never moved."""

    inside: int
    events: int


Player = Callable[[random.Random], PlainNight]


def play_simpy(luck: random.Random) -> PlainNight:
    """One process an animal, the opening a resource: SimPy as its manual teaches it."""
    import simpy

    env = simpy.Environment()
    opening = simpy.Resource(env, capacity=1)
    over = env.event()
    inside = counted = events = 0
    pulled = False

    def gate() -> Generator[Any, Any, None]:
        nonlocal events
        yield env.timeout(DELAY)
        events += 1
        if not over.triggered:
            over.succeed(inside)

    def check() -> Generator[Any, Any, None]:
        nonlocal events
        yield env.timeout(CHECK)
        events += 1
        if not over.triggered:
            over.succeed(-1)

    def animal() -> Generator[Any, Any, None]:
        nonlocal inside, counted, pulled, events
        yield env.timeout(luck.expovariate(1.0 / SPREAD))
        events += 1
        while True:
            yield env.timeout(luck.expovariate(1.0 / CLOCK))
            events += 1
            with opening.request() as turn:
                yield turn
                yield env.timeout(CROSSING)
            events += 1
            inside += 1
            counted += 1
            if counted >= COUNT and not pulled:
                pulled = True
                env.process(gate())
            stay = luck.expovariate(1.0 / STAY)
            if stay > WALK:
                yield env.timeout(WALK)
                events += 1
                yield env.timeout(stay - WALK)
            else:
                yield env.timeout(stay)
            events += 1
            yield env.timeout(min(stay, WALK))
            events += 1
            with opening.request() as turn:
                yield turn
                inside -= 1
                yield env.timeout(CROSSING)
            events += 1
            counted -= 1
            if luck.random() >= RETURNS:
                return

    for _ in range(ANIMALS):
        env.process(animal())
    env.process(check())
    held: Any = env.run(until=over)
    return PlainNight(held, events)


@cache
def _salabim_components() -> tuple[Any, Any, Any]:
    """The package and the two kinds of component, made once, not once a night."""
    import salabim

    salabim.yieldless(False)

    class Gate(salabim.Component):  # type: ignore[misc]
        def process(self) -> Generator[Any, Any, None]:
            yield self.hold(DELAY)
            night = self.env.night
            night.events += 1
            night.moved_with = night.inside
            self.env.main().activate()

    class Animal(salabim.Component):  # type: ignore[misc]
        def process(self) -> Generator[Any, Any, None]:
            night = self.env.night
            opening, luck = night.opening, night.luck
            yield self.hold(luck.expovariate(1.0 / SPREAD))
            night.events += 1
            while True:
                yield self.hold(luck.expovariate(1.0 / CLOCK))
                night.events += 1
                yield self.request(opening)
                yield self.hold(CROSSING)
                self.release(opening)
                night.events += 1
                night.inside += 1
                night.counted += 1
                if night.counted >= COUNT and not night.pulled:
                    night.pulled = True
                    Gate(suppress_trace=True)
                stay = luck.expovariate(1.0 / STAY)
                if stay > WALK:
                    yield self.hold(WALK)
                    night.events += 1
                    yield self.hold(stay - WALK)
                else:
                    yield self.hold(stay)
                night.events += 1
                yield self.hold(min(stay, WALK))
                night.events += 1
                yield self.request(opening)
                night.inside -= 1
                yield self.hold(CROSSING)
                self.release(opening)
                night.events += 1
                night.counted -= 1
                if luck.random() >= RETURNS:
                    return

    return salabim, Gate, Animal


def play_salabim(luck: random.Random) -> PlainNight:
    """One component an animal, the opening a resource: salabim in its generator style."""
    salabim, _, animal = _salabim_components()
    env = salabim.Environment(trace=False, random_seed="*")
    env.night = night = SimpleNamespace(
        luck=luck, inside=0, counted=0, events=0, pulled=False, moved_with=-1,
        opening=salabim.Resource("opening", capacity=1, monitor=False),
    )  # fmt: skip
    for _ in range(ANIMALS):
        animal(suppress_trace=True)
    env.run(till=CHECK)
    return PlainNight(night.moved_with, night.events)


_ARRIVES, _TRIES, _IN, _REACHES, _LEAVES, _AT_OPENING, _OUT, _MOVES = range(8)


def play_heap(luck: random.Random) -> PlainNight:
    """No package: a heap of (time, order, what, who) and a loop."""
    heap: list[tuple[float, int, int, int]] = []
    waiting: deque[tuple[int, bool]] = deque()
    order = inside = counted = events = 0
    busy = pulled = False
    stays = [0.0] * ANIMALS
    draw = luck.expovariate

    def at(time: float, what: int, who: int) -> None:
        nonlocal order
        order += 1
        heappush(heap, (time, order, what, who))

    def pass_next(now: float) -> None:
        nonlocal busy, inside
        busy = bool(waiting)
        if waiting:
            who, inward = waiting.popleft()
            inside -= not inward
            at(now + CROSSING, _IN if inward else _OUT, who)

    for who in range(ANIMALS):
        at(draw(1.0 / SPREAD), _ARRIVES, who)
    while heap:
        now, _, what, who = heappop(heap)
        if now >= CHECK:
            break
        events += 1
        if what == _ARRIVES:
            at(now + draw(1.0 / CLOCK), _TRIES, who)
        elif what in (_TRIES, _AT_OPENING):
            waiting.append((who, what == _TRIES))
            if not busy:
                pass_next(now)
        elif what == _IN:
            inside += 1
            counted += 1
            if counted >= COUNT and not pulled:
                pulled = True
                at(now + DELAY, _MOVES, who)
            stays[who] = stay = draw(1.0 / STAY)
            if stay > WALK:
                at(now + WALK, _REACHES, who)
            else:
                at(now + stay, _LEAVES, who)
            pass_next(now)
        elif what == _REACHES:
            at(now + (stays[who] - WALK), _LEAVES, who)
        elif what == _LEAVES:
            at(now + min(stays[who], WALK), _AT_OPENING, who)
        elif what == _OUT:
            counted -= 1
            if luck.random() < RETURNS:
                at(now + draw(1.0 / CLOCK), _TRIES, who)
            pass_next(now)
        else:
            return PlainNight(inside, events)
    return PlainNight(-1, events)
