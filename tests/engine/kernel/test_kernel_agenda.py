"""The next event of the kernel: by time to the last bit, then by priority."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from soundergate.engine import codes as k
from soundergate.engine.compiled.decorators import compiled
from soundergate.engine.kernel.agenda import put, take_next
from soundergate.engine.kernel.scratch import Agenda

BASE = np.float64(20000.0).view(np.int64)


@compiled
def in_order(agenda, slots, due, rank, times, priorities):
    """Fill the agenda, one event a slot, and empty it again."""
    for slot in range(len(due)):
        put(agenda, slot, due[slot], rank[slot], slot)
    for n in range(len(due)):
        when, key = take_next(agenda, slots)
        times[n], priorities[n] = when, key >> k.SLOT_BITS


def taken(due: list[float], rank: list[int]) -> list[tuple[float, int]]:
    slots = 3 * k.BLOCK
    agenda = Agenda(np.full(slots, k.NEVER), np.zeros(slots, np.int64))
    found, priorities = np.zeros(len(due)), np.zeros(len(due), np.int64)
    in_order(agenda, np.int64(slots), np.array(due), np.array(rank), found, priorities)
    return list(zip(found.tolist(), priorities.tolist(), strict=True))


def near(step: int) -> float:
    """The float that stands ``step`` places after 20,000 s."""
    return float(np.int64(BASE + step).view(np.float64))


events = st.lists(
    st.tuples(
        st.one_of(
            st.integers(0, 3).map(float),
            st.integers(0, 3 * k.SLOT_STEP).map(near),
            st.integers(0, 2).map(near),
            st.floats(0.0, 1e6),
        ),
        st.integers(0, k.CHECKED),
    ),
    min_size=1,
    max_size=3 * k.BLOCK,
)


@given(events)
def test_events_come_by_time_and_then_by_priority(events: list[tuple[float, int]]) -> None:
    """Among them some that share all but the last bits of their time, and some that share all."""
    due, rank = [when for when, _ in events], [r for _, r in events]
    expected = sorted((when, r * k.RANK_STEP + slot) for slot, (when, r) in enumerate(events))
    assert taken(due, rank) == expected


def test_a_later_event_in_an_earlier_slot_waits() -> None:
    """The two times differ in the last bit alone, where the slot's number takes its place."""
    assert [priority for _, priority in taken([near(1), near(0)], [0, 5])] == [
        5 * k.RANK_STEP + 1,
        0,
    ]
