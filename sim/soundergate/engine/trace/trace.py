"""One night written down: who did what, when, and how the gate came down.

Plain dataclasses without a simulation library behind them: the reference engine fills a `Trace`
through `Trace.record`, and everything that tells or draws a night reads it. Times are seconds since
the trap was set; lengths metres; masses kilograms; angles radians; forces newtons. States and kinds
of event stand in `event_kinds`, what they mean for an animal in `states`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import isfinite
from typing import TYPE_CHECKING, Any

from soundergate.engine import codes
from soundergate.engine.trace import states
from soundergate.engine.trace.event_kinds import (
    ANIMAL_KINDS,
    BAIT_LEVELS,
    BREAKOUTS,
    INSIDE_STATES,
    KINDS,
)
from soundergate.engine.trace.labels import clock
from soundergate.engine.trace.trace_parts import (
    Point,
    TraceAnimal,
    TraceCorral,
    TraceEvent,
    TraceOpening,
    TraceWalk,
)

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Segment", "Trace", "TraceAnimal", "TraceCorral", "TraceEvent", "TraceOpening"]

Segment = tuple[int, str, float, float]
"""(animal, state, from s, to s)"""


@dataclass(slots=True)
class Trace:
    """A whole night as it happened.

    closing[opening] lists (time s, clear m) while that gate came down; shut_time[opening] is None
    for a gate that did not shut; release_time is None if nothing was released. `row` is the
    outcome row of the night by column name and `fates` holds, animal by animal, which of
    `codes.FATES` it counts in there; both are the engine's, and empty until the night has ended.
    check_time is when someone comes to look at the trap; a night may end before, once nothing can
    change any more. `walks` are the ways that animals went inside the fence, those of one animal in
    order.

    One night is an example and estimates nothing, so a trace has no intervals: those are for a run.
    """

    animals: tuple[TraceAnimal, ...]
    corral: TraceCorral
    seed: int = 0
    night: int = 0
    title: str = ""
    events: list[TraceEvent] = field(default_factory=list)
    walks: list[TraceWalk] = field(default_factory=list)
    release_time: float | None = None
    check_time: float | None = None
    shut_time: list[float | None] = field(default_factory=list)
    closing: list[list[tuple[float, float]]] = field(default_factory=list)
    row: dict[str, Any] = field(default_factory=dict)
    fates: list[str] = field(default_factory=list)

    @property
    def group_size(self) -> int:
        """Number of animals in the group, whether or not they came."""
        return len(self.animals)

    def record(
        self,
        time: float,
        kind: str,
        animal: int | None = None,
        opening: int | None = None,
        inside: int = 0,
        bait_level: int = 0,
        note: str = "",
    ) -> None:
        """Add one event; events may be added out of order where a closing was computed ahead.

        Raises ValueError for a kind that is not in `KINDS`, for a kind that needs an animal and
        names none, and for a time that is not finite.
        """
        if kind not in KINDS:
            raise ValueError(f"{kind!r} is no kind of event; use one of {', '.join(sorted(KINDS))}")
        if kind in ANIMAL_KINDS and animal is None:
            raise ValueError(f"an event {kind!r} must name the animal")
        if not isfinite(time):
            raise ValueError(f"time of {kind!r} is {time}; it must be finite, in s")
        self.events.append(TraceEvent(time, kind, animal, opening, inside, bait_level, note))

    def walk(self, animal: int, start: float, stop: float, a: Point, b: Point) -> None:
        """Add one straight way; times in s, places in m."""
        self.walks.append(TraceWalk(animal, start, stop, a, b))

    def in_order(self) -> list[TraceEvent]:
        """Events by time; those at one instant in the order in which they were recorded."""
        return sorted(self.events, key=lambda event: event.time)

    @property
    def first_arrival(self) -> float:
        """Time of the first arrival, s; of the first event if no animal came; 0 if nothing did."""
        arrivals = [event.time for event in self.events if event.kind == "arrives"]
        return min(arrivals or [event.time for event in self.events] or [0.0])

    @property
    def end_time(self) -> float:
        """Time of the last thing written down, s."""
        shut = [time for time in self.shut_time if time is not None]
        return max([event.time for event in self.events] + shut + [0.0])

    @property
    def last_shut(self) -> float | None:
        """Time at which the last gate that shut was shut, s, or None."""
        return max((time for time in self.shut_time if time is not None), default=None)

    @property
    def a_way_stays_open(self) -> bool:
        """Whether by the end of the night some gate, not a one-way entrance, has not shut."""
        gates = zip(self.corral.openings, self.shut_time, strict=False)
        return any(time is None and not opening.one_way for opening, time in gates)

    def standing(self) -> list[int]:
        """Animals that stand in the trap at the end of the night with a way open: not caught."""
        last = {animal: state for animal, state, _, _ in self.segments()}
        return [
            animal
            for animal, fate in enumerate(self.fates)
            if fate != codes.CAUGHT and last.get(animal) in INSIDE_STATES
        ]

    def closing_words(self) -> str:
        """How it stands at the trap check, if anyone came: "5 inside, a way open: not caught"."""
        if not self.fates:
            return ""
        standing, caught = len(self.standing()), self.fates.count(codes.CAUGHT)
        if standing:
            return f"{standing} inside, a way open: not caught"
        return f"{caught} caught"

    @property
    def ends_early(self) -> bool:
        """Whether the night was over before the trap check: no more could change by then."""
        checked = any(event.kind == "trap check" for event in self.events)
        return self.check_time is not None and not checked

    def name(self, animal: int | None) -> str:
        """Label of an animal, such as "sow 1"; empty for None."""
        return "" if animal is None else self.animals[animal].label

    def inside_steps(self) -> list[tuple[float, int]]:
        """(time s, number inside from then on), one a change, starting with (0, 0)."""
        steps: list[tuple[float, int]] = [(0.0, 0)]
        for event in self.in_order():
            if event.inside != steps[-1][1]:
                steps.append((event.time, event.inside))
        return steps

    def bait_steps(self) -> list[tuple[float, int]]:
        """(time s, bait level from then on), one a "bait level" event, starting with (0, 0).

        `TraceEvent.bait_level` is what the rates saw: it also says "gone" once a gate has moved or
        the visit has ended, because nothing feeds any more.
        """
        falls = [event for event in self.in_order() if event.kind == "bait level"]
        return [(0.0, 0), *((event.time, event.bait_level) for event in falls)]

    def segments(self) -> list[Segment]:
        """The night of every animal as spans of one state, by animal and then by time.

        `fates` says how an animal's night ends. One that escaped from a released gate, or broke
        out, is "escaped" from the moment it is out. One that was caught is "caught" from the moment
        the gates were shut; where nothing shuts, from the moment it wanted out of a one-way
        entrance, or else from its last entry. One that breaks out counts as "caught" until then.
        """
        mine: list[list[TraceEvent]] = [[] for _ in self.animals]
        for event in self.in_order():
            if event.animal is not None:
                mine[event.animal].append(event)
        end = self.end_time
        segments: list[Segment] = []
        for animal, events in enumerate(mine):
            spans = states.spans_of(events, end)
            if self.fates:
                fate, only_in = self.fates[animal], self.corral.lets_in_only
                spans = states.settled(spans, fate, self.last_shut, only_in)
            segments.extend((animal, state, start, stop) for state, start, stop in spans)
        return segments

    def breakouts(self) -> dict[int, str]:
        """Animal -> the kind of event by which it got out of a trap that held it."""
        return {
            event.animal: event.kind
            for event in self.in_order()
            if event.animal is not None and event.kind in BREAKOUTS
        }

    @property
    def table(self) -> pd.DataFrame:
        """The night told in rows: time, animal, what happened, inside, bait.

        time is h:mm:ss.s since the trap was set; bait is the level, such as "75 to 50 %". The last
        row is the trap check and says what is found, also where the night was over before.
        """
        import pandas as pd

        falls = self.bait_steps()
        found = self.closing_words()
        events = [
            replace(event, note=event.note or found) if event.kind == "trap check" else event
            for event in self.in_order()
        ]
        if self.ends_early and self.check_time is not None:
            inside = self.inside_steps()[-1][1]
            note = ": ".join(
                ["nothing more happens inside until then", *([found] if found else [])]
            )
            level = falls[-1][1]
            check = TraceEvent(self.check_time, "trap check", None, None, inside, level, note)
            events.append(check)
        rows = [
            {
                "time": clock(event.time),
                "animal": self.name(event.animal),
                "what happened": event.kind + (f" ({event.note})" if event.note else ""),
                "opening": "" if event.opening is None else str(event.opening + 1),
                "inside": event.inside,
                "bait": BAIT_LEVELS[[level for when, level in falls if when <= event.time][-1]],
            }
            for event in events
        ]
        columns = ["time", "animal", "what happened", "opening", "inside", "bait"]
        frame = pd.DataFrame(rows, columns=columns)
        return frame if len(self.corral.openings) > 1 else frame.drop(columns="opening")

    def plot(self, ax: Any = None) -> Any:
        """Draw every animal as a lane through the night; returns the axes."""
        from soundergate.report.figures.night import lanes

        return lanes(self, ax)

    def _repr_html_(self) -> str:
        from soundergate.report.tables import nights, table

        return table.html(nights.event_table(self))
