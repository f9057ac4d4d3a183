"""The ways that an animal really went inside the fence, as its night was played."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable

from soundergate.engine.trace.trace_parts import Point, TraceWalk

Leg = tuple[float, Point]
"""(time s, place m)"""


class Walked:
    """The walks of one animal in order; between two of them it stands where the first one ended."""

    def __init__(self, walks: Iterable[TraceWalk]) -> None:
        self.walks = sorted(walks, key=lambda walk: walk.start)
        self._starts = [walk.start for walk in self.walks]

    def at(self, time: float) -> Point | None:
        """Where it is at `time` s; None before it first came in."""
        last = bisect_right(self._starts, time) - 1
        if last < 0:
            return None
        walk = self.walks[last]
        if time >= walk.stop:
            return walk.b
        share = (time - walk.start) / (walk.stop - walk.start)
        return (
            walk.a[0] + share * (walk.b[0] - walk.a[0]),
            walk.a[1] + share * (walk.b[1] - walk.a[1]),
        )

    def legs(self, start: float, stop: float, otherwise: Point) -> list[Leg]:
        """Times and places from `start` to `stop` s between which it goes straight or stands.

        `otherwise` is where it is if no walk says so.
        """
        found = [(start, self.at(start) or otherwise)]
        for walk in self.walks:
            if walk.stop <= start or walk.start >= stop or walk.a == walk.b:
                continue
            if walk.start > start and found[-1] != (walk.start, walk.a):
                found.append((walk.start, walk.a))
            if walk.stop < stop:
                found.append((walk.stop, walk.b))
        return [*found, (stop, self.at(stop) or otherwise)] if stop > start else found

    def stands_since(self, time: float) -> float:
        """When it came to where it stands at `time` s; -inf if it has not moved."""
        moved = [min(w.stop, time) for w in self.walks if w.a != w.b and w.start < time]
        return max(moved, default=-float("inf"))
