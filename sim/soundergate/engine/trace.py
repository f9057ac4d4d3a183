"""One night written down: who did what, when, and how the gate came down.

Plain dataclasses without a simulation library behind them: the reference engine fills a `Trace`
through `Trace.record`, and everything that tells or draws a night reads it. Times are seconds since
the trap was set; lengths metres; masses kilograms; angles radians; forces newtons.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

AWAY = "away"
OUTSIDE = "outside"
WAITING = "waiting"
CROSSING_IN = "crossing in"
INSIDE = "inside"
FEEDING = "feeding"
WALKING_OUT = "walking out"
BOLTING = "bolting"
CROSSING_OUT = "crossing out"
GONE = "gone"
ESCAPED = "escaped"
CAUGHT = "caught"

STATES = (
    AWAY,
    OUTSIDE,
    WAITING,
    CROSSING_IN,
    INSIDE,
    FEEDING,
    WALKING_OUT,
    BOLTING,
    CROSSING_OUT,
    GONE,
    ESCAPED,
    CAUGHT,
)
INSIDE_STATES = frozenset({INSIDE, FEEDING, WALKING_OUT, BOLTING, CAUGHT})
"""States in which an animal stands inside the fence, clear of every opening."""

# What each kind of event does to the state of the animal it names; None leaves it as it was.
# "turns back" depends on the way the animal was going and is handled in `_next_state`.
_STATE_AFTER: dict[str, str | None] = {
    "arrives": OUTSIDE,
    "comes to the opening": WAITING,
    "steps in": CROSSING_IN,
    "is inside": INSIDE,
    "touches the line": None,
    "reaches the bait": None,
    "feeds": FEEDING,
    "heads out": WALKING_OUT,
    "waits to leave": WALKING_OUT,
    "steps out": CROSSING_OUT,
    "is out": OUTSIDE,
    "goes away": GONE,
    "freezes": INSIDE,
    "bolts": BOLTING,
    "turns back": None,
    "is struck": None,
    "line breaks": None,
    "comes back": OUTSIDE,
    "opens the gate": GONE,
    "climbs out": GONE,
    "roots under": GONE,
    "slips out": GONE,
}
ANIMAL_KINDS = frozenset(_STATE_AFTER)
TRAP_KINDS = frozenset(
    {
        "gate propped",
        "gate moves",
        "gate shut",
        "bait level",
        "visit ends",
        "trigger acts",
        "latch fails",
        "person starts watching",
        "person decides",
        "command sent",
        "command arrives",
        "container falls",
        "counter decides",
        "trap check",
    }
)
KINDS = ANIMAL_KINDS | TRAP_KINDS
BREAKOUTS = {
    "opens the gate": "opened the gate",
    "climbs out": "climbed out",
    "roots under": "rooted under",
    "slips out": "slipped out",
}
"""How one that is shut in gets out, and the same told afterwards."""
ONE_WAY_GATES = frozenset({"push panel", "curled panel", "net skirt"})
"""Kinds of gate that animals push open from outside and that fall shut behind them."""
BAIT_LEVELS = ("100 to 75 %", "75 to 50 %", "50 to 25 %", "25 to 0 %", "gone")
"""What the integer bait level of an event stands for."""


@dataclass(frozen=True, slots=True)
class TraceAnimal:
    """One animal of the group: its label, class, and the body that meets the gate.

    mass in kg; back_height, shoulder_width, length and needed_height in m. `needed_height` is the
    clear height it needs to pass under a gate (or the clear gap, for a gate that closes sideways).
    """

    label: str
    animal_class: str
    mass: float
    back_height: float
    shoulder_width: float
    length: float
    needed_height: float


@dataclass(frozen=True, slots=True)
class TraceOpening:
    """An opening in the fence. bearing in rad clockwise from the top of the plan; width, height m.

    `measure` says what the closing curve of its gate counts: "height" or, for gates that close
    sideways, "gap".
    """

    bearing: float
    width: float
    height: float
    gate_kind: str = "drop"
    measure: str = "height"

    @property
    def one_way(self) -> bool:
        """Animals push it open from outside; nothing releases it."""
        return self.gate_kind in ONE_WAY_GATES


@dataclass(frozen=True, slots=True)
class TraceCorral:
    """The corral in plan, m. The bait and the line lie on the diameter through the first opening.

    bait_distance and line_distance count from that opening; the line is None where there is none.
    """

    diameter: float
    openings: tuple[TraceOpening, ...]
    bait_distance: float
    line_height: float | None = None
    line_distance: float | None = None
    panel_height: float | None = None

    @property
    def lets_in_only(self) -> bool:
        """Every opening is a one-way entrance, so that nothing is there to be released."""
        return all(opening.one_way for opening in self.openings)


@dataclass(frozen=True, slots=True)
class TraceEvent:
    """Something that happened at `time` s; `inside` and `bait_level` are the state just after it.

    `animal` and `opening` index `Trace.animals` and `TraceCorral.openings`, or are None.
    """

    time: float
    kind: str
    animal: int | None
    opening: int | None
    inside: int
    bait_level: int
    note: str = ""


Segment = tuple[int, str, float, float]
"""(animal, state, from s, to s)"""


@dataclass(slots=True)
class Trace:
    """A whole night as it happened.

    closing[opening] lists (time s, clear m) while that gate came down; shut_time[opening] is None
    for a gate that did not shut; release_time is None if nothing was released. `row` is the
    outcome row of the night by column name, and is empty until the night has ended.
    """

    animals: tuple[TraceAnimal, ...]
    corral: TraceCorral
    seed: int = 0
    night: int = 0
    title: str = ""
    events: list[TraceEvent] = field(default_factory=list)
    release_time: float | None = None
    shut_time: list[float | None] = field(default_factory=list)
    closing: list[list[tuple[float, float]]] = field(default_factory=list)
    row: dict[str, Any] = field(default_factory=dict)

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

        An animal that was inside at the release and ends outside is "escaped" from the moment it
        is out; so is one that broke out. One that ends inside is "caught" from the moment the
        gates were shut, provided that the night caught anything. Where nothing shuts it is caught
        from the moment it wanted out of a one-way entrance, or else from its last entry. One that
        breaks out later counts as "caught" until then.
        """
        mine: list[list[TraceEvent]] = [[] for _ in self.animals]
        for event in self.in_order():
            if event.animal is not None:
                mine[event.animal].append(event)
        end = self.end_time
        segments: list[Segment] = []
        ways = self.breakouts()
        for animal, events in enumerate(mine):
            spans = _spans(events, end)
            if animal in ways:
                spans = self._mark_broken_out(spans)
            else:
                spans = self._mark_caught(self._mark_escaped(spans))
            segments.extend((animal, state, start, stop) for state, start, stop in spans)
        return segments

    def state_at(self, animal: int, time: float) -> str:
        """State of one animal at `time` s; the later one at the instant of a change."""
        state = AWAY
        for who, name, start, _ in self.segments():
            if who == animal and start <= time:
                state = name
        return state

    def fates(self) -> list[str]:
        """The outcome column that each animal counts in: "caught", "escaped_before", ..."""
        spans: list[list[_Span]] = [[] for _ in self.animals]
        for animal, state, start, stop in self.segments():
            spans[animal].append((state, start, stop))
        ways = self.breakouts()
        return [
            "escaped_after" if who in ways else self._fate(mine) for who, mine in enumerate(spans)
        ]

    def breakouts(self) -> dict[int, str]:
        """Animal -> the kind of event by which it got out of a trap that held it, to stay out."""
        ways: dict[int, str] = {}
        for event in self.in_order():
            if event.animal is None:
                continue
            if event.kind in BREAKOUTS:
                ways[event.animal] = event.kind
            elif event.kind != "goes away" and _STATE_AFTER.get(event.kind) is not None:
                ways.pop(event.animal, None)
        return ways

    def _fate(self, spans: list[_Span]) -> str:
        last, since, _ = spans[-1] if spans else (AWAY, 0.0, 0.0)
        if last == CAUGHT:
            return "caught"
        if last == ESCAPED:
            shut = self.last_shut
            return "escaped_during" if shut is None or since <= shut else "escaped_after"
        was_inside = any(state in INSIDE_STATES for state, _, _ in spans)
        return "escaped_before" if was_inside else "never_entered"

    def _mark_escaped(self, spans: list[_Span]) -> list[_Span]:
        release = self.release_time
        if release is None or not spans or spans[-1][0] not in (OUTSIDE, GONE):
            return spans
        was_in = any(
            state in INSIDE_STATES | {CROSSING_OUT} and start <= release < stop
            for state, start, stop in spans
        )
        if not was_in:
            return spans
        out = max(i for i, span in enumerate(spans) if span[0] not in (OUTSIDE, GONE)) + 1
        return [*spans[:out], (ESCAPED, spans[out][1], spans[-1][2])]

    def _mark_broken_out(self, spans: list[_Span]) -> list[_Span]:
        if not spans or spans[-1][0] != GONE:
            return spans
        *before, (_, out, end) = spans
        held = self._held_from(before)
        kept = [(state, start, min(stop, held)) for state, start, stop in before if start < held]
        shut_in = [(CAUGHT, held, out)] if held < out else []
        return [*kept, *shut_in, (ESCAPED, out, end)]

    def _held_from(self, spans: list[_Span]) -> float:
        """When an animal that is inside at the end of these spans could no longer walk out, s."""
        outer = [i for i, span in enumerate(spans) if span[0] not in INSIDE_STATES]
        inside = spans[outer[-1] + 1 :] if outer else spans
        since = inside[0][1] if inside else spans[-1][1] if spans else 0.0
        shut = self.last_shut
        if shut is not None:
            return max(since, shut)
        wants_out = [start for state, start, _ in inside if state == WALKING_OUT]
        return wants_out[0] if wants_out and self.corral.lets_in_only else since

    def _mark_caught(self, spans: list[_Span]) -> list[_Span]:
        if not spans or spans[-1][0] not in INSIDE_STATES | {CROSSING_IN, CROSSING_OUT}:
            return spans
        caught = self.row["caught"] > 0 if "caught" in self.row else self.release_time is not None
        if not caught:
            return spans
        since = self._held_from(spans)
        kept = [(state, start, min(stop, since)) for state, start, stop in spans if start < since]
        return [*kept, (CAUGHT, since, spans[-1][2])]

    def table(self) -> pd.DataFrame:
        """The night told in rows: time, animal, what happened, inside, bait.

        time is h:mm:ss.s since the trap was set; bait is the level, such as "75 to 50 %".
        """
        import pandas as pd

        falls = self.bait_steps()
        rows = [
            {
                "time": clock(event.time),
                "animal": self.name(event.animal),
                "what happened": event.kind + (f" ({event.note})" if event.note else ""),
                "opening": "" if event.opening is None else str(event.opening + 1),
                "inside": event.inside,
                "bait": BAIT_LEVELS[[level for when, level in falls if when <= event.time][-1]],
            }
            for event in self.in_order()
        ]
        columns = ["time", "animal", "what happened", "opening", "inside", "bait"]
        frame = pd.DataFrame(rows, columns=columns)
        return frame if len(self.corral.openings) > 1 else frame.drop(columns="opening")


_Span = tuple[str, float, float]


def _next_state(state: str, kind: str) -> str:
    if kind == "turns back":
        return {CROSSING_IN: OUTSIDE, CROSSING_OUT: INSIDE}.get(state, state)
    return _STATE_AFTER.get(kind) or state


def _spans(events: Iterable[TraceEvent], end: float) -> list[_Span]:
    """Spans of one state of one animal from 0 s to `end` s; empty ones are left out."""
    spans: list[_Span] = []
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


def labels(classes: Iterable[str]) -> list[str]:
    """Names for animals of the given classes in order: "sow 1", "sow 2", "juvenile 1"."""
    seen: Counter[str] = Counter()
    names = []
    for name in classes:
        seen[name] += 1
        names.append(f"{name} {seen[name]}")
    return names


def clock(seconds: float) -> str:
    """Time since the trap was set as h:mm:ss.s, for example 5025.34 s as "1:23:45.3"."""
    tenths = round(abs(seconds) * 10)
    minutes, tenths = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    sign = "-" if seconds < 0 and (hours or minutes or tenths) else ""
    return f"{sign}{hours}:{minutes:02d}:{tenths // 10:02d}.{tenths % 10}"


def outcome_words(row: Mapping[str, Any]) -> str:
    """The outcome of a night in one sentence, from its row."""
    size, caught = int(row["group_size"]), int(row["caught"])
    during, after = int(row["escaped_during"]), int(row["escaped_after"])
    parts = [f"{caught} of {size} caught"]
    if during + after and not row.get("released", True):
        parts.append(f"{during + after} went in and got out again")
    elif during + after:
        parts.append(" and ".join(_escape_words(during, after)))
    if row["escaped_before"]:
        when = " before the release" if row.get("released", True) else ""
        parts.append(f"{int(row['escaped_before'])} went in and left{when}")
    if row["never_entered"]:
        parts.append(f"{int(row['never_entered'])} never went in")
    return "; ".join(parts) + "."


def _escape_words(during: int, after: int) -> list[str]:
    said = [f"{during} escaped as the gate closed"] if during else []
    return [*said, f"{after} got out after it was shut"] if after else said
