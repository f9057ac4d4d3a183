"""From the events of one animal to its states through the night."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import TYPE_CHECKING

from soundergate.engine import codes
from soundergate.engine.trace.event_kinds import (
    AWAY,
    CAUGHT,
    CROSSING_IN,
    CROSSING_OUT,
    ESCAPED,
    GONE,
    INSIDE,
    INSIDE_STATES,
    OUTSIDE,
    STATE_AFTER,
    WALKING_OUT,
)

if TYPE_CHECKING:
    from soundergate.engine.trace.trace_parts import TraceEvent

Span = tuple[str, float, float]
"""(state, from s, to s)"""
Held = Callable[[list[Span]], float]
"""From the spans of an animal, the time from which it could no longer walk out, s."""


def spans_of(events: Iterable[TraceEvent], end: float) -> list[Span]:
    """Spans of one state of one animal from 0 s to `end` s; empty ones are left out."""
    spans: list[Span] = []
    state, since = AWAY, 0.0
    for event in events:
        following = _next_state(state, event.kind)
        if following == state:
            continue
        if event.time > since:
            spans.append((state, since, event.time))
        state, since = following, event.time
    if end > since or state != AWAY:
        spans.append((state, since, end))
    return spans


def _next_state(state: str, kind: str) -> str:
    if kind == "turns back":
        return {CROSSING_IN: OUTSIDE, CROSSING_OUT: INSIDE}.get(state, state)
    return STATE_AFTER.get(kind) or state


def settled(
    spans: list[Span], fate: str, last_shut: float | None, lets_in_only: bool
) -> list[Span]:
    """The spans of one animal with its end told apart: "escaped" or "caught" (`Trace.segments`).

    ``fate`` is the engine's; where it lies in time follows from what was written down.
    """
    held = partial(_held_from, last_shut, lets_in_only)
    if fate == codes.ESCAPED_AFTER:
        return _mark_broken_out(spans, held)
    if fate == codes.ESCAPED_DURING:
        return _mark_escaped(spans)
    return _mark_caught(spans, held) if fate == codes.CAUGHT else spans


def _mark_escaped(spans: list[Span]) -> list[Span]:
    """One that stands in an open trap at the end is not out yet."""
    if not spans or spans[-1][0] not in (OUTSIDE, GONE):
        return spans
    out = 1 + max((i for i, span in enumerate(spans) if span[0] not in (OUTSIDE, GONE)), default=-1)
    return [*spans[:out], (ESCAPED, spans[out][1], spans[-1][2])]


def _mark_broken_out(spans: list[Span], held_from: Held) -> list[Span]:
    if not spans or spans[-1][0] != GONE:
        return spans
    *before, (_, out, end) = spans
    held = held_from(before)
    kept = [(state, start, min(stop, held)) for state, start, stop in before if start < held]
    shut_in = [(CAUGHT, held, out)] if held < out else []
    return [*kept, *shut_in, (ESCAPED, out, end)]


def _held_from(shut: float | None, lets_in_only: bool, spans: list[Span]) -> float:
    """When an animal that is inside at the end of these spans could no longer walk out, s."""
    outer = [i for i, span in enumerate(spans) if span[0] not in INSIDE_STATES]
    inside = spans[outer[-1] + 1 :] if outer else spans
    since = inside[0][1] if inside else spans[-1][1] if spans else 0.0
    if shut is not None:
        return max(since, shut)
    wants_out = [start for state, start, _ in inside if state == WALKING_OUT]
    return wants_out[0] if wants_out and lets_in_only else since


def _mark_caught(spans: list[Span], held_from: Held) -> list[Span]:
    if not spans or spans[-1][0] not in INSIDE_STATES:
        return spans
    since = held_from(spans)
    kept = [(state, start, min(stop, since)) for state, start, stop in spans if start < since]
    return [*kept, (CAUGHT, since, spans[-1][2])]
