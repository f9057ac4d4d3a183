"""Openings and gates in the reference engine: the queue, the bodies abreast, the closing gate."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from soundergate.engine import codes as k
from soundergate.engine.luck.draws import sample
from soundergate.engine.luck.elementary import ln
from soundergate.engine.luck.normal import normal_quantile
from soundergate.engine.plan import Opening
from soundergate.engine.rules.breakout import push_that_opens
from soundergate.engine.rules.clocks import look_up, look_up_from
from soundergate.engine.rules.line_pull import ln_pull

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


def _by_animals(row: Opening) -> bool:
    """Whether animals pull the latch of an opening."""
    return row.own_pull == 0 and row.one_way == 0


class Gatehouse:
    """Everything that happens at the openings of one night."""

    def __init__(self, night: Night) -> None:
        self.night, self.facts, plan = night, night.facts, night.facts.plan
        openings = range(self.facts.o)
        self.queue: list[list[int]] = [[] for _ in openings]
        self.crossing: list[list[int]] = [[] for _ in openings]
        self.occupied = [0] * self.facts.o
        self.room_may_be_free = [False] * self.facts.o
        one_way = [row.one_way != 0 for row in self.facts.openings]
        self.gate = [k.ONE_WAY if pushed else k.OPEN for pushed in one_way]
        self.since, self.due = [0.0] * self.facts.o, [False] * self.facts.o
        self.let_go_at = [math.inf] * self.facts.o
        self.propped_by = [0] * self.facts.o
        n = self.facts.animals
        self.space, self.waited = [0] * n, [False] * n
        self.began, self.ends = [0.0] * n, [0.0] * n
        self.moving = [night.timer(self.moves) for _ in openings]
        self.shutting = [night.timer(self.shut) for _ in openings]
        self.prop = [night.timer(self.prop_ends) for _ in openings]
        self.time_row, self.energy_row = plan.close_time, plan.close_energy
        self.time_from, self.energy_from = plan.rest_time, plan.rest_energy
        self.struck_animals: set[int] = set()
        self.strike_energy = 0.0
        self.pulled_at = self.released_at = math.nan
        self.closed_once = self.acted = False

    # ---- through the opening ---------------------------------------------------------------

    def join(self, i: int, o: int) -> None:
        """Come to opening ``o`` and pass as soon as there is room; first come, first served."""
        night = self.night
        night.at[i] = o
        self.space[i] = night.bodies.space(i, night.bolting[i])
        self.waited[i] = False
        self.queue[o].append(i)
        self.room_may_be_free[o] = True
        inward = night.state[i] == k.WAIT_IN
        night.note("comes to the opening" if inward else "waits to leave", i, o)

    def forget(self, i: int) -> None:
        """Animal ``i`` no longer waits; who stood behind it may now have room."""
        o = self.night.at[i]
        self.queue[o].remove(i)
        self.room_may_be_free[o] = True

    def grant_room(self) -> None:
        """Once an event, before it settles."""
        for o, stirred in enumerate(self.room_may_be_free):
            if stirred:
                self.room_may_be_free[o] = False
                self.grant(o)

    def grant(self, o: int) -> None:
        """Let in or out whom there is room for. Behind a blocked head only piglets slip by."""
        blocked = False
        for i in list(self.queue[o]):
            if not self.passable(i, o):
                self.queue[o].remove(i)
                self.turns_away(i)
            elif self.has_room(i, o) and (not blocked or self.facts.small[self.facts.class_of[i]]):
                self.queue[o].remove(i)
                self.step_through(i, o)
            else:
                self.waited[i] = blocked = True

    def has_room(self, i: int, o: int) -> bool:
        return self.occupied[o] == 0 or self.occupied[o] + self.space[i] <= self.facts.width[o]

    def step_through(self, i: int, o: int) -> None:
        night, now = self.night, self.night.env.now
        inward = night.state[i] == k.WAIT_IN
        self.occupied[o] += self.space[i]
        self.crossing[o].append(i)
        if not inward:
            night.counts(i, -1)
        night.state[i] = k.CROSS_IN if inward else k.CROSS_OUT
        night.note("steps in" if inward else "steps out", i, o)
        self.began[i] = now
        self.ends[i] = now + self.crossing_time(i, o, inward)
        self.watch_gate(i, o)

    def crossing_time(self, i: int, o: int, inward: bool) -> float:
        night, b = self.night, self.facts.behaviour
        if self.facts.durations[k.T_CROSS][0] >= 0:
            purpose = k.D_CROSS_IN if inward else k.D_CROSS_OUT
            took = night.draw(k.T_CROSS, purpose, i, night.stay[i])
        else:
            speed = b.bolt_speed if night.bolting[i] else b.cross_speed
            took = (self.facts.openings[o].depth + night.bodies.length(i)) / speed
        if self.waited[i]:
            head = k.D_HEAD_IN if inward else k.D_HEAD_OUT
            took += night.draw(k.T_HEADWAY, head, i, night.stay[i])
        return took

    def watch_gate(self, i: int, o: int) -> None:
        """When will it be through, or will the gate come down on it first?"""
        hit = self.passable_until(i, o) if self.gate[o] == k.CLOSING else math.inf
        if hit < self.ends[i]:
            self.night.by(i, max(hit, self.night.env.now), k.STRUCK, self.strike)
        else:
            self.night.by(i, self.ends[i], k.CROSSED, self.crossed)

    def crossed(self, i: int) -> None:
        self.leave_opening(i, self.night.at[i], inward=self.night.state[i] == k.CROSS_IN)

    def leave_opening(self, i: int, o: int, inward: bool) -> None:
        self.occupied[o] -= self.space[i]
        self.crossing[o].remove(i)
        self.room_may_be_free[o] = True
        if inward:
            self.night.came_in(i)
        else:
            self.night.went_out(i)

    def turn_back(self, i: int) -> None:
        night = self.night
        night.state[i] = k.CROSS_OUT
        night.note("turns back", i, night.at[i])
        self.ends[i] = night.env.now + (night.env.now - self.began[i])
        self.watch_gate(i, night.at[i])

    def lets_out(self, i: int, o: int) -> bool:
        """Whether opening ``o`` is one by which animal ``i`` can leave, as things stand."""
        return self.gate[o] not in (k.CLOSED, k.ONE_WAY) and self.night.bodies.fits(i, o)

    def nearest_way_out(self, i: int) -> int | None:
        """Of the openings by which it can leave the nearest to where it stands."""
        ways = [o for o in range(self.facts.o) if self.lets_out(i, o)]
        return min(ways, key=lambda o: self.night.ground.distance_to(i, o), default=None)

    def pushes_in(self, i: int, o: int) -> bool:
        """Whether animal ``i`` is willing and able to push open a one-way entrance."""
        row = self.facts.openings[o]
        willing = self.night.chance(k.D_WILLING, i, 0) < row.willing_share
        return willing and self.night.bodies.push(i) >= self.push_tonight(o)

    def push_tonight(self, o: int) -> float:
        """Push in N that opens a one-way entrance."""
        row, night = self.facts.openings[o], self.night
        return push_that_opens(row.push_force, row.push_sigma, night.seed, night.number, o)

    def late_entrance(self, i: int) -> int | None:
        """The one-way entrance by which animal ``i`` can still come in after the release."""
        for o in range(len(self.facts.openings)):
            able = self.gate[o] == k.ONE_WAY and self.night.bodies.fits(i, o)
            if able and self.night.bodies.push(i) >= self.push_tonight(o):
                return o
        return None

    def stands_open_for(self, i: int) -> int | None:
        """The first opening that still stands open, or hangs, and that animal ``i`` fits."""
        for o, gate in enumerate(self.gate):
            if gate in (k.OPEN, k.HUNG) and self.night.bodies.fits(i, o):
                return o
        return None

    def exit_force(self) -> float:
        """The least force in N that opens a shut gate from inside; inf if all are locked."""
        o = self.opens_from_inside()
        return math.inf if o is None else self.facts.openings[o].exit_force

    def opens_from_inside(self) -> int | None:
        """Of the gates that nothing locks tonight the one that takes the least force, if any."""
        unlocked = (o for o in range(self.facts.o) if self.lock_fails(o))
        return min(unlocked, key=lambda o: self.facts.openings[o].exit_force, default=None)

    def lock_fails(self, o: int) -> bool:
        """Whether nothing locks gate ``o`` tonight: mud, a stone, a stick, or there is no lock."""
        return self.night.chance(k.D_HANG, o, 1) < self.facts.openings[o].lock_fails

    # ---- the gate --------------------------------------------------------------------------

    def passable(self, i: int, o: int) -> bool:
        gate = self.gate[o]
        if gate == k.CLOSING:
            return self.night.env.now < self.passable_until(i, o)
        if gate == k.PROPPED:
            return self.night.bodies.need(i, o) < self.let_go_at[o]
        if gate == k.ONE_WAY:
            return self.night.state[i] == k.WAIT_IN
        return gate != k.CLOSED

    def passable_until(self, i: int, o: int) -> float:
        need = self.night.bodies.need(i, o)
        if self.let_go_at[o] == math.inf:
            return self.since[o] + look_up(self.time_row[o], need)
        return self.since[o] + look_up_from(self.time_from[o], self.let_go_at[o], need)

    def set_up(self) -> None:
        """The trap is set: what lets go of itself does so at once, before anyone comes."""
        freed = [o for o in range(self.facts.o) if self.lets_go_by_itself(o)]
        if freed:
            self.night.note("trigger acts", note="by itself, as soon as it is set")
            self.pulled_at = self.night.env.now
            self.acted = True
        for o in freed:
            self.will_move(o)

    def lets_go_by_itself(self, o: int) -> bool:
        """Whether its load opens the latch, or a line's own tension draws it."""
        row = self.facts.openings[o]
        if row.one_way != 0:
            return False
        if normal_quantile(self.night.chance(k.D_NEED, o, 0)) < row.slips_below:
            return True
        return _by_animals(row) and self.night.triggers.drawn_by_a_line(self.needed(o))

    def will_move(self, o: int) -> None:
        """The latch has let go; the gate moves after its delay."""
        row, night = self.facts.openings[o], self.night
        kind, a, b = row.delay_kind, row.delay_a, row.delay_b
        wait = sample(kind, a, b, night.seed, night.number, k.D_DELAY, o, 0)
        self.due[o] = True
        self.moving[o].set(night.env.now + wait, k.MOVES, o)

    def pull(self, force: float, by: int = -1) -> None:
        """A trigger acts, number ``by`` if it is one of the scenario's.

        ``force`` in N is what a container weighs or an animal pushes a line with; a negative one
        works a switch.
        """
        if self.acted:
            return
        self.night.note("trigger acts")
        if math.isnan(self.pulled_at):
            self.pulled_at = self.night.env.now
        freed = [o for o in range(self.facts.o) if self.latch_lets_go(o, force, by)]
        for o in freed:
            self.will_move(o)
        if not freed:
            self.night.note("latch fails")
        self.acted = bool(freed) or force < 0.0

    def needed(self, o: int) -> float:
        """ln of the pull (N) that latch ``o`` needs tonight; inf if none frees it."""
        row = self.facts.openings[o]
        z = normal_quantile(self.night.chance(k.D_NEED, o, 0))
        return ln_pull(row.need_mu, row.need_sigma, row.need_steady, z)

    def easiest(self) -> float:
        """`needed` of the easiest latch that animals pull."""
        pulled = [o for o, row in enumerate(self.facts.openings) if _by_animals(row)]
        return min((self.needed(o) for o in pulled), default=math.inf)

    def latch_lets_go(self, o: int, force: float, by: int) -> bool:
        row, triggers = self.facts.openings[o], self.night.triggers
        if row.one_way != 0:
            return False
        needed = self.needed(o)
        if row.own_pull != 0:
            z = normal_quantile(self.night.chance(k.D_PULL, o, 0))
            return ln_pull(row.pull_mu, row.pull_sigma, row.pull_steady, z) >= needed
        if force < 0.0:
            return needed < math.inf
        if triggers.pulls(by):
            return triggers.pulled_by_line(by, force, needed, row.trip_travel)
        return force > 0.0 and ln(force) >= needed

    def moves(self, o: int) -> None:
        """The gate starts to close, or hangs."""
        night = self.night
        self.due[o] = False
        if math.isnan(self.released_at):
            self.released_at = night.env.now
        hangs = night.chance(k.D_HANG, o, 0) < self.facts.openings[o].hang_probability
        self.gate[o] = k.HUNG if hangs else k.CLOSING
        self.since[o] = night.env.now
        night.note("gate moves", opening=o, note="hangs" if hangs else "")
        if not night.alarmed:
            night.alarm()
        if not hangs:
            self.let_go(o)

    def let_go(self, o: int) -> None:
        """The gate falls from here: who is under it, and when is it shut?"""
        start = self.let_go_at[o]
        if start == math.inf:
            takes = look_up(self.time_row[o], 0.0)
        else:
            takes = look_up_from(self.time_from[o], start, 0.0)
        self.shutting[o].set(self.since[o] + takes, k.SHUT, o)
        for i in sorted(self.crossing[o]):
            self.watch_gate(i, o)

    def strike(self, i: int) -> None:
        """The gate lands on an animal, which props it for a while."""
        night, o = self.night, self.night.at[i]
        need = night.bodies.need(i, o)
        if self.let_go_at[o] == math.inf:
            energy = look_up(self.energy_row[o], need)
        else:
            energy = look_up_from(self.energy_from[o], self.let_go_at[o], need)
        self.struck_animals.add(i)
        self.strike_energy = max(self.strike_energy, energy)
        self.gate[o], self.let_go_at[o], self.propped_by[o] = k.PROPPED, need, i
        night.note("is struck", i, o, f"{energy:.0f} J")
        self.shutting[o].cancel()
        for j in sorted(self.crossing[o]):
            if j == i:
                night.animal_timer[j].cancel()
            else:
                self.watch_gate(j, o)
        night.note("gate propped", i, o)
        held = night.draw(k.T_PROP, k.D_PROP, i, 0)
        self.prop[o].set(night.env.now + held, k.PROP_ENDS, o)

    def prop_ends(self, o: int) -> None:
        """It gets clear, outside or inside, and the gate falls on from rest."""
        night, i = self.night, self.propped_by[o]
        self.gate[o], self.since[o] = k.CLOSING, night.env.now
        outside = night.chance(k.D_STRUCK_OUT, i, 0) < self.facts.behaviour.out_share
        night.note("gate moves", opening=o, note="again")
        self.leave_opening(i, o, inward=not outside)
        self.let_go(o)

    def shut(self, o: int) -> None:
        self.gate[o] = k.CLOSED
        self.closed_once = True
        self.night.note("gate shut", opening=o)
        if self.facts.openings[o].lock_fails < 1.0 and self.lock_fails(o):
            self.night.note("lock fails", opening=o)
        waiting, self.queue[o] = self.queue[o], []
        for i in waiting:
            self.turns_away(i)
        self.night.captives_begin()

    def turns_away(self, i: int) -> None:
        """The gate is down, or too low, for one that waits at it, on either side."""
        if self.night.state[i] == k.WAIT_IN:
            self.night.onlookers.waits_on(i)
        else:
            self.night.lingers(i)

    def a_way_stays_open(self) -> bool:
        return any(gate in (k.OPEN, k.HUNG) for gate in self.gate)

    def in_motion(self) -> bool:
        """Whether a gate is falling, propped, or about to move."""
        return any(self.due) or any(gate in (k.CLOSING, k.PROPPED) for gate in self.gate)

    def holds(self) -> bool:
        """Whether no opening lets an animal out."""
        return all(gate in (k.CLOSED, k.ONE_WAY) for gate in self.gate)
