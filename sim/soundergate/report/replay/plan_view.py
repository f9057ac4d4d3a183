"""Where to draw everyone: the corral in plan, and a path for every animal of a written night.

A night knows states and times, not places. Crossings, the bait and the fence are where the night
puts them; where an animal stands while it waits, roams or feeds is chosen here so that bodies
spread out and keep to the right side of the fence. Metres, x to the right, y up, centre of the
corral at the origin; headings in degrees anticlockwise from the x axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, sin, sqrt

from soundergate.engine.trace import event_kinds as kinds
from soundergate.engine.trace.trace import Trace, TraceAnimal, TraceCorral

Point = tuple[float, float]

GOLDEN = pi * (3 - sqrt(5))
"""Golden angle: successive multiples spread points evenly around a circle."""

WALK = 1.0
"""Walking speed at which a drawn animal goes to its place, m/s; it decides no outcome."""

RUN = 4.0


@dataclass(frozen=True, slots=True)
class Key:
    """From `time` s on the animal is in `state`, at x, y, and heads to the next key."""

    time: float
    x: float
    y: float
    heading: float
    state: str


@dataclass(frozen=True, slots=True)
class Mouth:
    """An opening on the fence: its middle, the unit vector inwards, and its width (m)."""

    middle: Point
    inwards: Point
    width: float

    def at(self, depth: float, aside: float = 0.0) -> Point:
        """The point `depth` m inside (negative: outside) and `aside` m along the fence."""
        (x, y), (u, v) = self.middle, self.inwards
        return (x + depth * u - aside * v, y + depth * v + aside * u)


@dataclass(frozen=True, slots=True)
class Ground:
    """The corral laid out in plan."""

    radius: float
    mouths: tuple[Mouth, ...]
    bait: Point
    line: tuple[Point, Point] | None

    def within(self, point: Point, margin: float) -> Point:
        """The point itself, or moved straight towards the centre until it is `margin` inside."""
        most = max(self.radius - margin, 0.0)
        distance = hypot(*point)
        if distance <= most:
            return point
        return (point[0] * most / distance, point[1] * most / distance)


def ground(corral: TraceCorral) -> Ground:
    """Lay out a corral: openings on the fence, bait and line on the first one's diameter."""
    radius = corral.diameter / 2
    mouths = []
    for opening in corral.openings:
        u, v = sin(opening.bearing), cos(opening.bearing)
        mouths.append(Mouth((radius * u, radius * v), (-u, -v), opening.width))
    first = mouths[0]
    line = None
    if corral.line_distance is not None:
        half = sqrt(max(radius**2 - (radius - corral.line_distance) ** 2, 0.0))
        line = (first.at(corral.line_distance, -half), first.at(corral.line_distance, half))
    return Ground(radius, tuple(mouths), first.at(corral.bait_distance), line)


@dataclass(frozen=True, slots=True)
class _Places:
    """The places of one animal: spread by its number so that bodies do not lie on one another."""

    number: int
    animal: TraceAnimal
    ground: Ground
    group: int

    def mouth(self, opening: int, depth: float) -> Point:
        room = max(self.ground.mouths[opening].width - self.animal.shoulder_width, 0.0) / 2
        aside = room * ((self.number % 3) - 1) * 0.6
        return self.ground.mouths[opening].at(depth, aside)

    def away(self, opening: int) -> Point:
        return self._fan(opening, 3.6)

    def outside(self, opening: int) -> Point:
        return self._fan(opening, 1.9 + 0.3 * (self.number % 4))

    def _fan(self, opening: int, distance: float) -> Point:
        share = (self.number * 0.618034) % 1.0
        turn = (share - 0.5) * 1.5
        return self.ground.mouths[opening].at(-distance * cos(turn), distance * sin(turn))

    def waiting(self, opening: int) -> Point:
        column, row = self.number % 5, self.number // 5
        depth = 0.75 + 0.6 * (row % 4) + 0.12 * abs(column - 2)
        return self.ground.mouths[opening].at(-depth, 0.55 * (column - 2) + 0.1 * (row % 2))

    def roaming(self) -> Point:
        distance = 0.72 * self.ground.radius * sqrt((self.number + 0.5) / max(self.group, 1))
        turn = self.number * GOLDEN
        return self._inside((distance * cos(turn), distance * sin(turn)))

    def feeding(self) -> Point:
        """A place on one of several rings around the bait, about eight animals to a ring."""
        rings = -(-self.group // 8)
        ring, place = self.number % rings, self.number // rings
        reach = 0.4 + 0.5 * self.animal.length + 0.85 * ring
        turn = 2 * pi * place / -(-self.group // rings) + 0.5 * ring
        bait = self.ground.bait
        return self._inside((bait[0] + reach * cos(turn), bait[1] + reach * sin(turn)))

    def _inside(self, point: Point) -> Point:
        return self.ground.within(point, 0.55 * self.animal.length)


def paths(trace: Trace) -> list[list[Key]]:
    """A path for every animal, in the order of `Trace.animals`; [] for one that never came."""
    laid = ground(trace.corral)
    spans: list[list[tuple[str, float, float]]] = [[] for _ in trace.animals]
    for who, state, start, stop in trace.segments():
        spans[who].append((state, start, stop))
    used: list[list[tuple[float, int]]] = [[] for _ in trace.animals]
    for event in trace.in_order():
        if event.animal is not None and event.opening is not None:
            used[event.animal].append((event.time, event.opening))
    ways = trace.breakouts()
    return [
        _path(_Places(who, animal, laid, trace.group_size), spans[who], used[who], ways.get(who))
        for who, animal in enumerate(trace.animals)
    ]


def _path(
    places: _Places,
    spans: list[tuple[str, float, float]],
    used: list[tuple[float, int]],
    way: str | None = None,
) -> list[Key]:
    """Keys of one animal; `way` is the kind of event by which it broke out, if it did."""
    keys: list[Key] = []
    where: Point | None = None
    for index, (state, start, stop) in enumerate(spans):
        if state == kinds.AWAY:
            continue
        opening = _opening(used, stop)
        if where is None:
            where = places.away(opening)
        following = spans[index + 1][0] if index + 1 < len(spans) else ""
        out = state == kinds.ESCAPED or (state, following) == (kinds.CAUGHT, kinds.ESCAPED)
        if way is not None and out:
            moves = _break_out(places, where, way, state, start, stop, opening)
        else:
            moves = _moves(places, where, state, start, stop, opening, following)
        for time, point in moves:
            keys.append(Key(time, point[0], point[1], 0.0, state))
            where = point
    return _with_headings(keys, places.ground.bait)


_THROUGH_THE_OPENING = ("opens the gate", "slips out")


def _break_out(
    places: _Places, where: Point, way: str, state: str, start: float, stop: float, opening: int
) -> list[tuple[float, Point]]:
    """Shut in, to the opening or straight to the fence by `stop`; escaped, from there away."""
    distance = hypot(*where)
    by_opening = way in _THROUGH_THE_OPENING or distance < 1e-6
    if state == kinds.CAUGHT:
        edge = places.ground.radius - 0.5 * places.animal.length
        door = places.mouth(opening, 0.5 * places.animal.length) if by_opening else where
        if not by_opening and distance < edge:
            door = (where[0] * edge / distance, where[1] * edge / distance)
        leaves = max(start, stop - _distance(where, door) / WALK)
        return [(start, where), (leaves, where), (stop, door)]
    away = places.ground.radius + 3.2
    over = (where[0] * away / distance, where[1] * away / distance) if distance > 0 else where
    there = places.away(opening) if by_opening else over
    # nothing follows, so it may run on where the night ends with its getting out
    return _go(where, there, start, max(stop, start + _distance(where, there) / RUN), RUN)


def _opening(used: list[tuple[float, int]], time: float) -> int:
    """The opening that the animal used last up to `time` s, or uses first after it."""
    before = [opening for when, opening in used if when <= time]
    after = [opening for when, opening in used if when > time]
    return before[-1] if before else after[0] if after else 0


def _moves(
    places: _Places,
    where: Point,
    state: str,
    start: float,
    stop: float,
    opening: int,
    following: str,
) -> list[tuple[float, Point]]:
    """Times and points of one span, from where the animal is to where the span takes it."""
    reach = 0.5 * places.animal.length
    out, into = places.mouth(opening, -reach), places.mouth(opening, reach)
    if state in (kinds.CROSSING_IN, kinds.CROSSING_OUT):
        first, last = (out, into) if state == kinds.CROSSING_IN else (into, out)
        turned = following and (following in kinds.INSIDE_STATES) == (state == kinds.CROSSING_OUT)
        return [(start, first), (stop, places.mouth(opening, 0.0) if turned else last)]
    if state in (kinds.WALKING_OUT, kinds.BOLTING):
        speed = WALK if state == kinds.WALKING_OUT else RUN
        in_time = following == kinds.CROSSING_OUT
        return _go(where, into, start, stop, speed, in_time)
    if state == kinds.FEEDING:
        return _go(where, places.feeding(), start, stop, WALK)
    if state == kinds.INSIDE and following == kinds.FEEDING:
        return [(start, where), (stop, places.feeding())]
    if state == kinds.INSIDE:
        return _go(where, places.roaming(), start, stop, WALK)
    if state == kinds.CAUGHT:
        return [(start, where)]
    if state == kinds.WAITING and following == kinds.CROSSING_IN:
        spot = places.waiting(opening)
        leave = stop - _distance(spot, out) / WALK
        if leave - start < _distance(where, spot) / WALK:
            return [(start, where), (stop, out)]
        return [*_go(where, spot, start, leave, WALK), (leave, spot), (stop, out)]
    if state == kinds.WAITING:
        return _go(where, places.waiting(opening), start, stop, WALK)
    if state in (kinds.GONE, kinds.ESCAPED):
        return _go(where, places.away(opening), start, stop, RUN)
    return _go(where, places.outside(opening), start, stop, WALK)


def _go(
    here: Point, there: Point, start: float, stop: float, speed: float, in_time: bool = False
) -> list[tuple[float, Point]]:
    """Leave `here` at `start` for `there`; by `stop` be as far as the speed allows.

    With `in_time` the walk is as fast as it takes to be there by `stop`: the night says so.
    """
    needed = _distance(here, there) / speed
    if needed <= 0 or stop <= start:
        return [(start, here)]
    if in_time:
        needed = min(needed, stop - start)
    share = min((stop - start) / needed, 1.0)
    reached = (here[0] + share * (there[0] - here[0]), here[1] + share * (there[1] - here[1]))
    return [(start, here), (start + share * needed, reached)]


def _distance(a: Point, b: Point) -> float:
    return hypot(b[0] - a[0], b[1] - a[1])


def _with_headings(keys: list[Key], bait: Point) -> list[Key]:
    """Face the way of each move; a feeding animal at rest faces the bait, others stay turned."""
    turned: list[Key] = []
    heading = 0.0
    for key, following in pairwise([*keys, keys[-1]] if keys else []):
        dx, dy = following.x - key.x, following.y - key.y
        if hypot(dx, dy) > 1e-6:
            heading = degrees(atan2(dy, dx))
        elif key.state == kinds.FEEDING:
            heading = degrees(atan2(bait[1] - key.y, bait[0] - key.x))
        turned.append(Key(key.time, key.x, key.y, heading, key.state))
    return turned


def at(path: list[Key], time: float) -> Key | None:
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
    )
