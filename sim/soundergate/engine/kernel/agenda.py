"""What is due when, and the clocks of animals: twin of `engine.reference.agenda`.

An event that is set anew takes the place of the old one in its slot, so nothing needs a version.
Finding the next event and the next animal at a clock are searches for the least of many numbers,
in plain loops that the compiler turns into one step for several slots at once. For that times are
kept as the whole numbers that they are stored as, which sort alike; times here are never negative.
"""

from __future__ import annotations

import math

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import called, inlined
from soundergate.engine.kernel import scratch as s
from soundergate.engine.kernel.layout import Animal, Clock, Constants
from soundergate.engine.kernel.scratch import Agenda, Clocks
from soundergate.engine.luck.elementary import bits_of, double_of
from soundergate.engine.plan import Ints
from soundergate.engine.rules.clocks import due_time, reading


@inlined
def put(agenda: Agenda, slot: int, when: float, rank: int, who: int) -> None:
    """Set the one coming event of a slot, in place of any other; inf for none."""
    agenda.due[slot] = bits_of(when + 0.0)  # and never a negative zero
    agenda.key[slot] = (rank * k.RANK_STEP + who) * k.SLOT_STEP + slot


@inlined
def cancel(agenda: Agenda, slot: int) -> None:
    agenda.due[slot] = k.NEVER


@inlined
def slots_in_use(constants: Constants, pending: int) -> int:
    """Most nights have no breakouts to come, whose slots are the last."""
    return constants.slots if pending > 0 else constants.breakout_slots


@inlined
def when_due(agenda: Agenda, slot: int) -> float:
    """Time of the event of a slot, inf for none."""
    return double_of(agenda.due[slot])


@inlined
def take_next(agenda: Agenda, slots: int) -> tuple[float, int]:
    """Time and key of the next event among the first slots, which is taken off."""
    return take_from(agenda.due, agenda.key, slots)


@inlined
def take_from(due: Ints, key: Ints, slots: int) -> tuple[float, int]:
    """The same.

    Each slot's number takes the place of the last bits of its time, so that one search tells both.
    Where two events lie so near each other that these bits would decide, they are told apart with
    care.
    """
    nearly = k.LAST
    for j in range(slots // k.BLOCK * k.BLOCK):
        nearly = min(nearly, (due[j] & ~(k.SLOT_STEP - 1)) | j)
    slot = nearly & (k.SLOT_STEP - 1)
    rough = nearly & ~(k.SLOT_STEP - 1)
    alike = 0
    for j in range(slots // k.BLOCK * k.BLOCK):
        alike += 1 if (due[j] & ~(k.SLOT_STEP - 1)) == rough else 0
    if alike != 1:
        slot = first_of_ties(due, key, slots)
    now = double_of(due[slot])
    due[slot] = k.NEVER
    return now, key[slot]


@called
def take_another(due: Ints, key: Ints, slots: int) -> tuple[float, int]:
    """`take_from`, where it is seldom needed."""
    return take_from(due, key, slots)


@called
def first_of_ties(due: Ints, key: Ints, slots: int) -> int:
    """The slot of the next event, by time to the last bit and then by priority."""
    least = k.LAST
    for j in range(slots // k.BLOCK * k.BLOCK):
        least = min(least, due[j])
    first = k.LAST
    for j in range(slots // k.BLOCK * k.BLOCK):
        first = min(first, key[j] if due[j] == least else k.LAST)
    return first & (k.SLOT_STEP - 1)


@inlined
def of_trigger(constants: Constants, t: int, which: int) -> int:
    """The slot of a timer of trigger ``t``."""
    return constants.trigger_slots + s.TIMERS_A_TRIGGER * t + which


@inlined
def of_opening(constants: Constants, o: int, which: int) -> int:
    """The slot of a timer of opening ``o``."""
    return constants.opening_slots + s.TIMERS_AN_OPENING * o + which


@inlined
def join(clocks: Clocks, animal: Animal, process: int, i: int, amount: float) -> None:
    """Clock.join: animal ``i`` is due when the clock has grown by ``amount``."""
    q = process * clocks.constants.tempos + animal.tempo
    clock = clocks.clock[q]
    value = reading(clock.t0, clock.h0, clock.speed, clocks.state.now) + amount
    clocks.waits[q, i] = bits_of(value)
    if value < clock.head_at or (value == clock.head_at and i < clock.head):
        clock.head_at = value
        clock.head = i
        clock.head_changed = 1
        clocks.state.heads_changed = 1


@inlined
def drop(clocks: Clocks, animal: Animal, process: int, i: int) -> None:
    """Clock.drop: animal ``i`` waits no longer; who is next is found when the clock settles."""
    q = process * clocks.constants.tempos + animal.tempo
    clock = clocks.clock[q]
    clocks.waits[q, i] = k.NEVER
    if clock.head == i:
        clock.head = k.LAST
        clock.head_at = -math.inf  # and nobody comes before that
        clock.head_changed = 1
        clocks.state.heads_changed = 1


@inlined
def next_at_clock(clocks: Clocks, q: int, clock: Clock) -> None:
    """Who is due first at clock ``q``; of those due together the first by number."""
    least = k.LAST
    for j in range(clocks.waits.shape[1] // k.BLOCK * k.BLOCK):
        least = min(least, clocks.waits[q, j])
    first = k.LAST
    for j in range(clocks.waits.shape[1] // k.BLOCK * k.BLOCK):
        first = min(first, j if clocks.waits[q, j] == least else k.LAST)
    clock.head = first
    clock.head_at = double_of(clocks.waits[q, first])


@inlined
def wait_for(clocks: Clocks, q: int, who: int, threshold: float) -> None:
    """Clock.wait_for, for a clock at which only one thing waits."""
    clock = clocks.clock[q]
    clock.head_at = threshold
    clock.head = who
    clock.head_changed = 1


@inlined
def settle_waiting(clocks: Clocks, agenda: Agenda, q: int, speed: float, rank: int) -> None:
    """Clock.settle, for a clock at which animals wait.

    Which of these clocks change from event to event nobody can foretell, so it is quicker to set
    all of them anew, to what they were if need be, than to ask each.
    """
    if clocks.clock[q].head_at == -math.inf:
        next_at_clock(clocks, q, clocks.clock[q])
    set_anew(clocks, agenda, q, speed, rank)


@inlined
def settle_clock(clocks: Clocks, agenda: Agenda, q: int, speed: float, rank: int) -> None:
    """Clock.settle, for one that seldom changes."""
    clock = clocks.clock[q]
    if speed != clock.speed or clock.head_changed != 0:
        set_anew(clocks, agenda, q, speed, rank)


@inlined
def set_anew(clocks: Clocks, agenda: Agenda, q: int, speed: float, rank: int) -> None:
    """It moves only if its speed differs; its head is due anew."""
    clock = clocks.clock[q]
    now = clocks.state.now
    moved = speed != clock.speed
    read = reading(clock.t0, clock.h0, clock.speed, now)
    clock.h0 = read if moved else clock.h0
    clock.t0 = now if moved else clock.t0
    clock.speed = speed
    clock.head_changed = 0
    when = due_time(clock.t0, clock.h0, speed, clock.head_at, now)
    put(agenda, clocks.constants.clock_slots + q, when, rank, clock.head)
