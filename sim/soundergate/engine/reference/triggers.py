"""Triggers in the reference engine: lines, containers, counters and a person on a link."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from soundergate.engine import codes as k
from soundergate.engine.luck.draws import least_count, sample
from soundergate.engine.plan import Floats, Trigger
from soundergate.engine.reference.agenda import Clock
from soundergate.engine.reference.person_rule import Seen, watched_for
from soundergate.engine.rules.clocks import first_look, release_from
from soundergate.engine.rules.line_pull import (
    drawn_by_itself,
    frees,
    share_left,
    snaps,
    switch_push,
)

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


class Triggers:
    """The triggers of one night; one acts, or all must have fired."""

    def __init__(self, night: Night) -> None:
        self.night, self.facts = night, night.facts
        kinds = [trigger.kind for trigger in self.facts.triggers]
        self.all = range(len(kinds))
        self.people = [t for t in self.all if kinds[t] == k.PERSON]
        self.buckets = [t for t in self.all if kinds[t] == k.BAIT]
        self.counters = [t for t in self.all if kinds[t] == k.COUNTER]
        lines = [t for t in self.all if kinds[t] == k.LINE]
        self.left = {t: self.share_tonight(t) for t in lines}
        count = len(kinds)
        self.fired, self.broken = [False] * count, [False] * count
        self.rule = {t: self.rule_tonight(t) for t in self.people}
        self.count, self.seen, self.seen_times = [0] * count, [0] * count, [0] * count
        self.seen_of = [-1] * count
        self.watching, self.decided = [False] * count, [False] * count
        self.began = [math.nan] * count
        self.commands_under_way = 0
        timer = night.timer
        self.clock = {t: Clock(timer(self.bucket_moves), k.BUCKET) for t in self.buckets}
        self.alert = {t: timer(self.watches) for t in self.people}
        self.look = {t: timer(self.looks) for t in self.people}
        self.refresh = {t: timer(self.refreshes) for t in self.people}
        self.command = {t: timer(self.commands) for t in self.people}
        self.dwell = {t: timer(self.dwelt) for t in self.counters}
        self.false = timer(self.false_release)

    def set_up(self) -> None:
        self.false.set(self.night.draw(k.T_FALSE, k.D_FALSE, 0, 0), k.FALSE_RELEASE, 0)
        for t in self.buckets:
            self.clock[t].join(t, self.draw(t, k.X_BUCKET, k.D_BUCKET), 0.0)

    def rule_tonight(self, t: int) -> Floats:
        """float[K, 2]: when, and the least count, for the group that is about tonight."""
        size = self.night.group_size
        steps = self.facts.plan.rule[t].tolist()
        return np.array([(after, least_count(n, share, size)) for after, n, share in steps])

    def draw(self, t: int, row: int, purpose: int) -> float:
        kind, a, b = self.facts.trigger_durations[t][row]
        return sample(kind, a, b, self.night.seed, self.night.number, purpose, t, 0)

    def false_release(self, _: int) -> None:
        self.night.note("trigger acts", note="other animals or wind")
        self.night.gates.pull(-1.0)

    def fire(self, t: int, force: float) -> None:
        """Trigger ``t`` has done its part; the latch is pulled if that was all it takes.

        ``force`` in N: a container's weight, an animal's push on a line, or negative for a switch.
        """
        self.fired[t] = True
        if self.facts.all_needed and not all(self.fired):
            return
        self.night.gates.pull(force, t)
        if not self.night.gates.acted:
            self.fired[t] = False

    # ---- a line worked by bodies -----------------------------------------------------------

    def share_tonight(self, t: int) -> float:
        """Share of the tension of line ``t`` that its bends leave."""
        row, u = self.facts.triggers[t], self.night.chance(k.D_LINE, t, 0)
        return share_left(row.line_turn, row.friction_mu, row.friction_sigma, u)

    def pulls(self, t: int) -> bool:
        """Whether trigger ``t`` is a line that pulls latches itself, and no switch."""
        return t in self.left and self.facts.triggers[t].switch_force < 0.0

    def drawn_by_a_line(self, ln_need: float) -> bool:
        """Whether some line's own tension frees a latch as soon as it is set."""
        for t in self.left:
            row = self.facts.triggers[t]
            hung, breaks = row.line_tension, row.break_force
            if self.pulls(t) and drawn_by_itself(ln_need, self.left[t], hung, breaks):
                return True
        return False

    def pulled_by_line(self, t: int, push: float, ln_need: float, travel: float) -> bool:
        """Whether a push on line ``t`` frees a latch."""
        row = self.facts.triggers[t]
        return frees(
            push, ln_need, self.left[t], row.line_tension, row.line_slack + travel,
            row.line_stiffness, row.break_force, row.line_span,
        )  # fmt: skip

    def touch(self, i: int, t: int) -> None:
        """Animal ``i``, which does not pass under line ``t``, pushes against it."""
        row, night = self.facts.triggers[t], self.night
        if self.fired[t] or self.broken[t]:
            return
        night.note("touches the line", i)
        push, share = night.bodies.push(i), self.left[t]
        hung, slack, stiffness = row.line_tension, row.line_slack, row.line_stiffness
        span = row.line_span
        if not self.pulls(t):
            give = slack + row.switch_travel
            if push >= switch_push(row.switch_force, share, hung, give, stiffness, span):
                self.fire(t, -1.0)
            return
        easiest = night.gates.easiest()
        if snaps(push, easiest, share, hung, slack, stiffness, row.break_force, span):
            self.broken[t] = True
            night.note("line breaks", i)
        self.fire(t, push)

    # ---- a container, a counter ------------------------------------------------------------

    def bucket_moves(self, t: int) -> None:
        self.clock[t].drop(t)
        self.night.note("container falls")
        self.fire(t, self.facts.triggers[t].container_pull[self.night.level])

    def counted(self, i: int, purpose: int, sign: int) -> None:
        """A beam or treadle counts a passage: once, not at all, or twice."""
        for t in self.counters:
            row, u = self.facts.triggers[t], self.night.chance(purpose, i, self.night.stay[i])
            if u >= row.miss_share:
                double = u >= 1.0 - row.double_share
                self.count[t] += sign * (2 if double else 1)
            self.check_count(t, row)

    def check_count(self, t: int, row: Trigger) -> None:
        """At the count it releases; from the first net entry on it also counts the seconds."""
        if self.count[t] >= row.count_needed and not self.fired[t]:
            self.fire(t, -1.0)
        elif self.count[t] < 1:
            self.decided[t] = False
            self.dwell[t].cancel()
        elif not self.decided[t]:
            self.decided[t] = True
            self.dwell[t].set(self.night.env.now + row.count_dwell, k.DWELT, t)

    def dwelt(self, t: int) -> None:
        self.night.note("counter decides")
        self.fire(t, -1.0)

    # ---- a person on a link ----------------------------------------------------------------

    def group_arrives(self) -> None:
        for t in self.people:
            if self.night.chance(k.D_AWAKE, t, 0) < self.facts.triggers[t].awake_share:
                wait = self.draw(t, k.X_ALERT, k.D_ALERT)
                self.alert[t].set(self.night.env.now + wait, k.WATCHES, t)

    def watches(self, t: int) -> None:
        now, row = self.night.env.now, self.facts.triggers[t]
        self.watching[t], self.began[t] = True, now
        self.night.note("person starts watching")
        self.refresh[t].set(now + row.refresh, k.REFRESHES, t)
        if row.frame_interval > 0.0:
            self.look[t].set(now, k.LOOKS, t)

    def refreshes(self, t: int) -> None:
        """A scheduled recount: the error of the count is drawn anew."""
        self.seen_of[t] = -1
        self.refresh[t].set(self.night.env.now + self.facts.triggers[t].refresh, k.REFRESHES, t)

    def count_on_screen(self, t: int) -> None:
        """The count that the person has; its error stays until the true count changes."""
        n = self.night.inside
        if self.seen_of[t] == n:
            return
        self.seen_of[t] = n
        if self.facts.triggers[t].exact_count != 0:
            self.seen[t] = n
            return
        u = self.night.chance(k.D_SEEN, t, self.seen_times[t])
        self.seen_times[t] += 1
        self.seen[t] = next(m for m, p in enumerate(self.facts.seen_cdf[t][n]) if u <= p)

    def can_act(self, t: int, now: float) -> float:
        """The first instant from now on at which this person would release, as things stand."""
        clear = not any(self.night.gates.occupied)
        if self.facts.triggers[t].clear_opening != 0 and not clear:
            return math.inf
        if self.facts.person_rule is not None:
            return (
                now
                if self.facts.person_rule.releases(self.on_screen(t, now), self.night.number)
                else math.inf
            )
        return release_from(self.rule[t], self.seen[t], self.began[t], now)

    def on_screen(self, t: int, now: float) -> Seen:
        """What a rule in Python is shown."""
        return Seen(
            watched=watched_for(self.began[t], now),
            counted=self.seen[t],
            group_size=self.night.group_size,
            clear=not any(self.night.gates.occupied),
        )

    def looks(self, t: int) -> None:
        """One look at the picture; plainly, every look is played, but only one that acts counts
        as an event, since the batch engine plays no other."""
        now, row = self.night.env.now, self.facts.triggers[t]
        if self.can_act(t, now) == now:
            self.decides(t)
            return
        self.night.events -= 1
        if row.frame_interval > 0.0:
            j = first_look(self.began[t], row.frame_interval, now) + 1
            self.look[t].set(self.began[t] + j * row.frame_interval, k.LOOKS, t)

    def decides(self, t: int) -> None:
        row = self.facts.triggers[t]
        self.decided[t] = True
        self.commands_under_way += 1
        self.look[t].cancel()
        self.refresh[t].cancel()
        self.night.note("person decides")
        wait = row.view_delay + self.draw(t, k.X_REACTION, k.D_REACTION)
        wait += self.draw(t, k.X_COMMAND, k.D_COMMAND) + self.lost(t) * row.retry
        self.command[t].set(self.night.env.now + wait, k.COMMAND, t)

    def lost(self, t: int) -> int:
        """How many commands were lost before one got through (50 at most)."""
        share = self.facts.triggers[t].dropout_share
        count = 0
        while count < 50 and self.night.chance(k.D_DROPOUT, t, count) < share:
            count += 1
        return count

    def commands(self, t: int) -> None:
        self.commands_under_way -= 1
        self.night.note("command arrives")
        self.fire(t, -1.0)

    # ---- settling --------------------------------------------------------------------------

    def settle(self, now: float) -> None:
        night = self.night
        for t in self.buckets:
            self.clock[t].settle(self.facts.bucket_speed[t][night.feeding][night.level], now)
        for t in self.people:
            if self.watching[t] and not self.decided[t]:
                self.count_on_screen(t)
                if self.facts.triggers[t].frame_interval == 0.0:  # an unbroken picture
                    self.look[t].set(self.can_act(t, now), k.LOOKS, t)

    def minutes_watched(self, end: float) -> float:
        """Minutes that people watched, until the release or the end of the night."""
        released = self.night.gates.released_at
        until = end if math.isnan(released) else released
        total = 0.0
        for t in self.people:
            if self.watching[t] and until > self.began[t]:
                total += until - self.began[t]
        return total / 60.0
