"""Where animals are in the reference engine: ways, places at the bait, outings, lines met.

An animal inside stands somewhere, is on one straight way, or keeps a place at the bait and now and
then goes out from it and back. Of what it will meet only the next thing is known at any time; where
it is follows from its way when somebody asks. Metres from the middle of the corral, from above.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from soundergate.engine import codes as k
from soundergate.engine.place.disc import in_disc
from soundergate.engine.place.outings import LOOK_AHEAD, aim, pause
from soundergate.engine.place.ways import (
    between,
    distance,
    on_piece,
    passes,
    share_gone,
    side_of,
)
from soundergate.engine.reference.facts import picked

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night

Way = tuple[float, float, float, float]
"""x and y of its beginning, x and y of its end."""
Point = tuple[float, float]
Outing = tuple[int, float, float, float, float]
"""Its number, when it begins, x and y of where it goes, seconds of one way."""


class Ground:
    """Places of the animals of one night. Before the alarm they touch the lines that they meet."""

    def __init__(self, night: Night) -> None:
        self.night, self.facts = night, night.facts
        n = night.facts.animals
        self.way: list[Way] = [(0.0, 0.0, 0.0, 0.0)] * n
        self.began, self.takes, self.met = [0.0] * n, [0.0] * n, [0.0] * n
        self.side = [[0] * len(night.facts.triggers) for _ in range(n)]
        self.patch: list[int | None] = [None] * n
        self.goal, self.seeks = [0] * n, [0] * n
        self.taken = [0] * len(night.facts.patches)
        self.outing, self.outing_since = [0] * n, [0.0] * n
        self.fed_since = [0.0] * n
        self.next_outing, self.next_since = [0] * n, [0.0] * n
        self.next_meeting = [math.inf] * n
        self.arrival: list[tuple[int, Callable[[int], None]]] = [(0, lambda i: None)] * n
        self.lines = [t for t, row in enumerate(self.facts.triggers) if row.kind == k.LINE]

    # ---- standing --------------------------------------------------------------------------

    def stands_at(self, i: int, x: float, y: float) -> None:
        self.way[i] = (x, y, x, y)
        self.began[i], self.takes[i], self.met[i] = self.night.env.now, 0.0, 0.0
        for t in self.lines:
            self.side[i][t] = side_of(x, y, *self.ends(t))

    def comes_in(self, i: int, o: int) -> None:
        """It stands within opening ``o``."""
        self.seeks[i] = 0
        x, y = self.facts.openings[o].x, self.facts.openings[o].y
        if self.night.trace is not None:
            self.night.trace.walk(i, self.night.env.now, self.night.env.now, (x, y), (x, y))
        self.stands_at(i, x, y)

    def where(self, i: int) -> tuple[float, float]:
        """Where it is now."""
        if self.night.state[i] == k.FEEDING:
            outing, progress = self.outing_now(i)
            if outing is not None:
                share = progress if progress <= 1.0 else 2.0 - progress
                x, y = self.way[i][2:]
                return between(x, outing[2], share), between(y, outing[3], share)
            return self.way[i][2:]
        x0, y0, x1, y1 = self.way[i]
        share = self.share_gone(i)
        return between(x0, x1, share), between(y0, y1, share)

    def share_gone(self, i: int) -> float:
        return share_gone(self.began[i], self.takes[i], self.met[i], self.night.env.now)

    def stops(self, i: int) -> None:
        """It breaks off what it was about and stands where it is, free of its place at the bait.

        On a line that it has reached and not yet touched, it still stands before it.
        """
        x, y = self.where(i)
        sides = self.sides_now(i)
        self.write_down(i, x, y)
        self.gives_up_its_place(i)
        self.stands_at(i, x, y)
        self.side[i] = sides

    def sides_now(self, i: int) -> list[int]:
        sides = list(self.side[i])
        if not self.lines:
            return sides
        outing, progress, way = None, self.share_gone(i), self.way[i]
        if self.night.state[i] == k.FEEDING:
            outing, progress = self.outing_now(i)
            if outing is None:
                return sides
            way = (*way[2:], *outing[2:4])
        for t in self.lines:
            there = passes(*way, *self.ends(t), sides[t])
            if there == math.inf:
                continue
            done = progress
            if self.can_touch(i, t) and on_piece(*way, *self.ends(t), there):
                met_in_this_one = outing is None or outing[0] == self.outing[i]
                done = self.met[i] if met_in_this_one else 0.0
            passed = there <= done
            if outing is not None and 2.0 - there <= done:
                passed = not passed
            if passed:
                sides[t] = 1 - sides[t]
        return sides

    # ---- ways ------------------------------------------------------------------------------

    def walks(
        self, i: int, x: float, y: float, takes: float, rank: int, step: Callable[[int], None],
        after: float = 0.0,
    ) -> None:  # fmt: skip
        """From where it stands to (x, y) in so many seconds, and then takes a step.

        It sets off ``after`` so many.
        """
        here = self.way[i][2:]
        self.way[i] = (*here, x, y)
        self.began[i], self.takes[i], self.met[i] = self.night.env.now + after, takes, 0.0
        self.arrival[i] = (rank, step)
        self.goes_on(i)

    def goes_on(self, i: int) -> None:
        """To the next line across its way, or to its end."""
        night = self.night
        self.next_meeting[i] = meeting = self.next_line(i)
        if meeting < math.inf:
            when = self.began[i] + self.takes[i] * meeting
            night.by(i, when, k.TOUCHES, self.touches)
        else:
            rank, step = self.arrival[i]
            night.by(i, self.began[i] + self.takes[i], rank, step)

    def next_line(self, i: int) -> float:
        """The share of its way at which it meets the next line; inf if it meets none."""
        if self.night.alarmed:
            return math.inf
        ahead = [self.meets(i, t, self.way[i]) for t in self.lines]
        return min((share for share in ahead if share > self.met[i]), default=math.inf)

    def meets(self, i: int, t: int, way: Way) -> float:
        """The share of a way at which animal ``i`` touches line ``t``; inf if it does not."""
        if not self.can_touch(i, t):
            return math.inf
        share = passes(*way, *self.ends(t), self.side[i][t])
        return share if share < math.inf and on_piece(*way, *self.ends(t), share) else math.inf

    def can_touch(self, i: int, t: int) -> bool:
        """Only those touch a line that do not pass under it."""
        return self.night.bodies.back(i) > self.facts.triggers[t].line_height

    def ends(self, t: int) -> Way:
        row = self.facts.triggers[t]
        return row.line_ax, row.line_ay, row.line_bx, row.line_by

    def touches(self, i: int) -> None:
        self.met[i] = at = self.next_meeting[i]
        for t in self.lines:
            if self.meets(i, t, self.way[i]) == at:
                self.night.triggers.touch(i, t)
        self.goes_on(i)

    def arrives(self, i: int) -> None:
        self.write_down(i, *self.way[i][2:])
        self.stands_at(i, *self.way[i][2:])

    def way_out(self, i: int) -> int:
        """The opening by which it means to leave: the nearest, or that by which it came in."""
        night, came_by = self.night, self.night.at[i]
        u = night.chance(k.D_WAY_OUT, i, night.stay[i])
        if self.facts.o == 1 or u >= self.facts.behaviour.nearest_share:
            return came_by
        nearest = night.gates.nearest_way_out(i)
        return came_by if nearest is None else nearest

    def distance_to(self, i: int, o: int) -> float:
        """From where it stands to opening ``o``."""
        return distance(*self.way[i][2:], self.facts.openings[o].x, self.facts.openings[o].y)

    # ---- a place at the bait ---------------------------------------------------------------

    def seek(self, i: int) -> tuple[float, float]:
        """Where animal ``i`` looks for a place at the bait."""
        night, patches = self.night, self.facts.patches
        count = self.seek_number(i)
        several = len(patches) > 1
        p = picked(patches, night.chance(k.D_PATCH, i, count)) if several else 0
        self.goal[i] = p
        patch, fence = patches[p], self.facts.behaviour.fence
        return in_disc(
            patch.x, patch.y, patch.radius, fence, night.seed, night.number, k.D_PLACE, i, count
        )

    def seek_number(self, i: int) -> int:
        return self.night.stay[i] * k.SEEKS_A_STAY + self.seeks[i] % k.SEEKS_A_STAY

    def finds_room(self, i: int) -> bool:
        """Whether there is a place for it where it has come to; it takes it then."""
        p = self.goal[i]
        if self.taken[p] >= self.facts.patches[p].room:
            return False
        self.taken[p] += 1
        self.patch[i] = p
        return True

    def gives_up_its_place(self, i: int) -> None:
        p = self.patch[i]
        if p is not None:
            self.taken[p] -= 1
            self.patch[i] = None

    # ---- outings ---------------------------------------------------------------------------

    def begins_outings(self, i: int) -> None:
        self.fed_since[i] = self.outing_since[i] = self.night.env.now
        self.outing[i], self.met[i] = 0, 0.0
        if any(self.can_touch(i, t) for t in self.lines):
            self.goes_out(i)

    def outing_of(self, i: int, number: int, since: float) -> Outing:
        """Outing ``number`` of an animal that was back at its place at ``since``."""
        b, night, stay = self.facts.behaviour, self.night, self.night.stay[i]
        names = night.seed, night.number, i, stay, number
        wait, far = pause(self.facts.times, *names)
        if wait == math.inf:
            return number, math.inf, *self.way[i][2:], 0.0
        x, y, takes = aim(
            far, self.facts.times, b.outing_share, b.outing_reach, b.fence, b.walk_speed,
            *self.way[i][2:], *names,
        )  # fmt: skip
        return number, since + wait, x, y, takes

    def outing_now(self, i: int) -> tuple[Outing | None, float]:
        """The outing that animal ``i`` is on, and its progress from 0 to 2."""
        number, since, now = self.outing[i], self.outing_since[i], self.night.env.now
        while True:
            outing = self.outing_of(i, number, since)
            _, begin, _, _, takes = outing
            met = self.met[i] if number == self.outing[i] else 0.0
            if now <= begin and met == 0.0:
                return None, 0.0
            end = begin + 2.0 * takes
            if now < end or (met > 0.0 and now <= end):
                gone = (now - begin) / takes if takes > 0.0 else met
                return outing, max(met, min(gone, 2.0))
            number, since = number + 1, end

    def goes_out(self, i: int) -> None:
        """When on its next outings will it meet a line? If on none, it looks again later."""
        first, since, met = self.outing[i], self.outing_since[i], self.met[i]
        for number in range(first, first + LOOK_AHEAD):
            outing = self.outing_of(i, number, since)
            _, begin, x, y, takes = outing
            way = (*self.way[i][2:], x, y)
            ahead = [at for t in self.lines for at in self.there_and_back(i, t, way) if at > met]
            meeting = min(ahead, default=math.inf)
            if meeting < math.inf:
                self.waits_for(i, number, since, meeting, begin + takes * meeting)
                return
            since, met = begin + 2.0 * takes, 0.0
        self.waits_for(i, first + LOOK_AHEAD, since, math.inf, since)

    def waits_for(self, i: int, number: int, since: float, meeting: float, when: float) -> None:
        """What comes next is on this outing: a line, or that it has to look again."""
        self.next_outing[i], self.next_since[i], self.next_meeting[i] = number, since, meeting
        self.night.by(i, when, k.TOUCHES, self.touches_on_an_outing)

    def there_and_back(self, i: int, t: int, way: Way) -> tuple[float, float]:
        """The progress at which it touches line ``t`` on an outing's two ways."""
        there = self.meets(i, t, way)
        return (there, 2.0 - there) if there < math.inf else (math.inf, math.inf)

    def touches_on_an_outing(self, i: int) -> None:
        at = self.next_meeting[i]
        self.outing[i], self.outing_since[i] = self.next_outing[i], self.next_since[i]
        self.met[i] = at if at < math.inf else 0.0
        if at < math.inf:
            _, _, x, y, _ = self.outing_of(i, self.outing[i], self.outing_since[i])
            way = (*self.way[i][2:], x, y)
            for t in self.lines:
                if at in self.there_and_back(i, t, way):
                    self.night.triggers.touch(i, t)
        self.goes_out(i)

    # ---- the record ------------------------------------------------------------------------

    def write_down(self, i: int, x: float, y: float) -> None:
        """What it has walked since it last stood; it is at (x, y) now."""
        trace, now = self.night.trace, self.night.env.now
        if trace is None:
            return
        if self.night.state[i] != k.FEEDING:
            trace.walk(i, min(self.began[i], now), now, self.way[i][:2], (x, y))
            return
        for leg in self.outings_so_far(i):
            trace.walk(i, *leg)

    def write_down_the_last(self) -> None:
        """Where the end of the night finds those who are inside."""
        for i, state in enumerate(self.night.state):
            if state in k.INSIDE_STATES:
                self.write_down(i, *self.where(i))

    def outings_so_far(self, i: int) -> Iterator[tuple[float, float, Point, Point]]:
        """From and until when, from where and to where it has gone while it fed."""
        now, here = self.night.env.now, self.way[i][2:]
        number, since = 0, self.fed_since[i]
        while True:
            _, begin, x, y, takes = self.outing_of(i, number, since)
            if begin >= now:
                return
            for start, a, b in ((begin, here, (x, y)), (begin + takes, (x, y), here)):
                if start < now:
                    share = min(1.0, (now - start) / takes) if takes > 0.0 else 1.0
                    reached = between(a[0], b[0], share), between(a[1], b[1], share)
                    yield start, min(now, start + takes), a, reached
            number, since = number + 1, begin + 2.0 * takes
