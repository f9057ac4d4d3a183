"""Where to draw everyone: a path for every animal of a written night.

Inside the fence animals go the very ways that were played. A night knows no places outside it, nor
within an opening, nor on the way of one that breaks out: there they are chosen so that bodies
spread out and keep to the right side of the fence. Metres, x to the right, y up, centre of the
corral at the origin; headings in degrees anticlockwise from the x axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, dist, hypot, radians, sin

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.trace import Trace
from soundergate.engine.trace.trace_parts import Point, TraceEvent
from soundergate.report.replay.ground import Ground, ground
from soundergate.report.replay.outside import Outside
from soundergate.report.replay.walked import Walked

WALK = 1.0
"""Walking speed at which an animal is drawn where the night knows no ways, m/s."""

RUN = 4.0


@dataclass(frozen=True, slots=True)
class Key:
    """From `time` s on the animal is in `state`, at x, y, and heads to the next key.

    The place lies under its body: the body's middle is `ahead` body lengths ahead of it, from -0.5
    (the place is at its snout) to 0.5 (at its tail).
    """

    time: float
    x: float
    y: float
    heading: float
    state: str
    ahead: float = 0.0


SNOUT, TAIL = -0.5, 0.5
"""`Key.ahead` of an animal whose snout, or tail, is at its place."""


@dataclass(frozen=True, slots=True)
class Step:
    """A key before it is known which way the body turns, unless the step itself says so."""

    time: float
    place: Point
    state: str
    heading: float | None = None
    ahead: float | None = None


def paths(trace: Trace) -> list[list[Key]]:
    """A path for every animal, in the order of `Trace.animals`; [] for one that never came."""
    laid = ground(trace.corral)
    spans: list[list[tuple[str, float, float]]] = [[] for _ in trace.animals]
    for who, state, start, stop in trace.segments():
        spans[who].append((state, start, stop))
    events: list[list[TraceEvent]] = [[] for _ in trace.animals]
    for event in trace.in_order():
        if event.animal is not None:
            events[event.animal].append(event)
    breakouts = trace.breakouts()
    found = []
    for who, animal in enumerate(trace.animals):
        walked = Walked(walk for walk in trace.walks if walk.animal == who)
        one = _Path(Outside(who, animal, laid), walked, events[who], breakouts.get(who))
        found.append(turned(one.steps(spans[who]), animal.length, laid))
    return found


_THROUGH_THE_OPENING = ("opens the gate", "slips out", "follows by the gate")


@dataclass(frozen=True, slots=True)
class _Path:
    """The steps of one animal; `way` is the kind of event by which it broke out, if it did."""

    outside: Outside
    walked: Walked
    events: Sequence[TraceEvent]
    way: str | None

    def steps(self, spans: Sequence[tuple[str, float, float]]) -> list[Step]:
        steps: list[Step] = []
        for index, (state, start, stop) in enumerate(spans):
            if state == kinds.AWAY:
                continue
            opening = self.opening(stop)
            where = steps[-1].place if steps else self.outside.away(opening)
            following = spans[index + 1][0] if index + 1 < len(spans) else ""
            if state in kinds.INSIDE_STATES:
                goes_on = following in kinds.INSIDE_STATES
                found = self.inside(state, start, stop, not goes_on and self.breaks_out_at(stop))
                steps += found[:-1] if goes_on and len(found) > 1 else found
            elif state in (kinds.CROSSING_IN, kinds.CROSSING_OUT):
                steps += self.crossing(state, start, stop, opening, following)
            elif state in (kinds.ESCAPED, kinds.GONE) and self.breaks_out_at(start):
                steps += self.over_the_fence(state, where, start, opening)
            else:
                moves = self.moves(where, state, start, stop, opening, following)
                steps += [Step(time, place, state) for time, place in moves]
        return steps

    def opening(self, time: float) -> int:
        """The opening that it used last up to `time` s, or uses first after it."""
        used = [(e.time, e.opening) for e in self.events if e.opening is not None]
        before = [opening for when, opening in used if when <= time]
        after = [opening for when, opening in used if when > time]
        return before[-1] if before else after[0] if after else 0

    def breaks_out_at(self, time: float) -> bool:
        return any(e.kind == self.way and e.time == time for e in self.events)

    # ---- as it was played ------------------------------------------------------------------

    def inside(self, state: str, start: float, stop: float, breaks_out: bool) -> list[Step]:
        """The ways of one span; one that breaks out then goes there before, if it has time."""
        came_in = self.outside.ground.mouths[self.opening(start)].middle
        legs = self.walked.legs(start, stop, came_in)
        if breaks_out:
            where = legs[-1][1]
            door = self.door(where, self.opening(stop))
            happened = [e.time for e in self.events if e.time < stop]
            free = max(start, self.walked.stands_since(stop), *happened)
            if dist(where, door) <= RUN * (stop - free):
                leaves = max(free, stop - dist(where, door) / WALK)
                legs = [leg for leg in legs if leg[0] < leaves] + [(leaves, where), (stop, door)]
        return [Step(time, place, state) for time, place in legs]

    # ---- where the night knows no places ---------------------------------------------------

    def crossing(
        self, state: str, start: float, stop: float, opening: int, following: str
    ) -> list[Step]:
        """The body goes through the opening, or half way and back."""
        mouth = self.outside.ground.mouths[opening]
        u, v = mouth.inwards
        inward = state == kinds.CROSSING_IN
        heading = degrees(atan2(v, u)) if inward else degrees(atan2(-v, -u))
        here, there = self.outside.mouth(opening), mouth.middle
        if not inward:
            here, there = there, here
        if following and (following in kinds.INSIDE_STATES) != inward:
            half = (start + stop) / 2
            found = [(start, here, SNOUT), (half, here, 0.0), (stop, here, SNOUT)]
        else:
            found = [(start, here, SNOUT), (stop, there, TAIL)]
        return [Step(time, place, state, heading, ahead) for time, place, ahead in found]

    def door(self, where: Point, opening: int) -> Point:
        """Where one that stands at `where` gets out: an opening, or straight over the fence."""
        laid, far = self.outside.ground, hypot(*where)
        if self.way in _THROUGH_THE_OPENING or far < 1e-6:
            return laid.mouths[opening].middle
        return (where[0] * laid.radius / far, where[1] * laid.radius / far)

    def over_the_fence(self, state: str, where: Point, start: float, opening: int) -> list[Step]:
        """Out by its door and away; nothing follows, so it may run on after the night's end."""
        door, radius = self.door(where, opening), self.outside.ground.radius
        by_opening = self.way in _THROUGH_THE_OPENING
        more = (radius + 3.2) / radius
        away = self.outside.away(opening) if by_opening else (door[0] * more, door[1] * more)
        at_door = start + dist(where, door) / RUN
        steps = [Step(start, where, state), Step(at_door, door, state)]
        return [*steps, Step(at_door + dist(door, away) / RUN, away, state)]

    def moves(
        self, where: Point, state: str, start: float, stop: float, opening: int, following: str
    ) -> list[tuple[float, Point]]:
        """Times and places of one span outside, from where it is to where the span takes it."""
        if state == kinds.WAITING:
            spot, door = self.outside.waiting(opening), self.outside.mouth(opening)
            if following != kinds.CROSSING_IN:
                return _go(where, spot, start, stop, WALK)
            leave = stop - dist(spot, door) / WALK
            if leave - start < dist(where, spot) / WALK:
                return [(start, where), (stop, door)]
            return [*_go(where, spot, start, leave, WALK), (leave, spot), (stop, door)]
        if state in (kinds.GONE, kinds.ESCAPED):
            return _go(where, self.outside.away(opening), start, stop, RUN)
        return _go(where, self.outside.nearby(opening), start, stop, WALK)


def _go(
    here: Point, there: Point, start: float, stop: float, speed: float
) -> list[tuple[float, Point]]:
    """Leave `here` at `start` for `there`; by `stop` be as far as the speed allows."""
    needed = dist(here, there) / speed
    if needed <= 0 or stop <= start:
        return [(start, here)]
    share = min((stop - start) / needed, 1.0)
    reached = (here[0] + share * (there[0] - here[0]), here[1] + share * (there[1] - here[1]))
    return [(start, here), (start + share * needed, reached)]


# ---- which way the body lies -----------------------------------------------------------------


def turned(steps: Sequence[Step], length: float, laid: Ground) -> list[Key]:
    """Steps as keys of a body `length` m long that turns about itself and leads with its snout.

    One that feeds at rest has its snout at its place and faces the middle of its bait.
    """
    keys: list[Key] = []
    heading, ahead = 0.0, SNOUT
    for number, step in enumerate(steps):
        there = steps[number + 1].place if number + 1 < len(steps) else step.place
        way = dist(step.place, there)
        new = heading
        if step.heading is not None:
            new = step.heading
        elif way > 1e-6:
            new = degrees(atan2(there[1] - step.place[1], there[0] - step.place[0]))
        # it turns on the spot, its middle where it was
        turns_to = ahead * cos(radians(new - heading))
        if step.ahead is not None:
            turns_to = step.ahead
        elif step.state == kinds.FEEDING and way <= 1e-6:
            new, turns_to = _towards_the_bait(step.place, laid, heading), SNOUT
        if step.ahead is None and step.state in kinds.INSIDE_STATES:
            turns_to = _kept_in(step.place, new, turns_to, length, laid)
        if keys and step.ahead is None and abs(turns_to - ahead) > 0.01:
            keys.append(Key(step.time, *step.place, heading, keys[-1].state, ahead))
        heading, ahead = new, turns_to
        keys.append(Key(step.time, *step.place, heading, step.state, ahead))
        ahead = max(SNOUT, ahead - way / (2 * length))
        if step.state in kinds.INSIDE_STATES:
            ahead = _kept_in(there, heading, ahead, length, laid)
    return keys


def _sticks_out(place: Point, heading: float, ahead: float, length: float, laid: Ground) -> float:
    """m by which snout or tail would be beyond the fence."""
    u, v = cos(radians(heading)), sin(radians(heading))
    ends = (length * (ahead + end) for end in (SNOUT, TAIL))
    return max(hypot(place[0] + far * u, place[1] + far * v) for far in ends) - laid.radius


def _kept_in(place: Point, heading: float, ahead: float, length: float, laid: Ground) -> float:
    """The nearest to `ahead` at which the body is within the fence, or sticks out least."""
    if _sticks_out(place, heading, ahead, length, laid) <= 0.0:
        return ahead
    tried = [SNOUT + step / 20 for step in range(21)]
    out = {one: max(0.0, _sticks_out(place, heading, one, length, laid)) for one in tried}
    return min(tried, key=lambda one: (out[one], abs(one - ahead)))


def _towards_the_bait(place: Point, laid: Ground, otherwise: float) -> float:
    middles = [middle for middle, _ in laid.patches]
    x, y = min(middles, key=lambda middle: dist(middle, place), default=place)
    if dist((x, y), place) < 1e-6:
        return otherwise
    return degrees(atan2(y - place[1], x - place[0]))


def at(path: Sequence[Key], time: float) -> Key | None:
    """Where an animal is at `time` s: interpolated between its keys; None before it came."""
    if not path or time < path[0].time:
        return None
    last = max(i for i, key in enumerate(path) if key.time <= time)
    here = path[last]
    if last + 1 == len(path):
        return here
    following = path[last + 1]
    span = following.time - here.time
    share = (time - here.time) / span if span > 0 else 1.0
    return Key(
        time,
        here.x + share * (following.x - here.x),
        here.y + share * (following.y - here.y),
        here.heading,
        here.state,
        here.ahead + share * (following.ahead - here.ahead),
    )
