"""The night, told plainly: animals, openings and gates in SimPy, one event after another.

Read `Night.arrive` first and follow an animal in and out. Openings are told in `openings`, bait
and patience in `visit`, what releases the gate in `triggers`, the fright when it falls in
`startle`, what becomes of those that it shut in in `captives`, and of those outside in
`onlookers`. Between two events nothing changes that a rate depends on: a handler makes all its
changes, waiting animals get the room that came free, and clocks change speed in one place
(`Night.settle`). `engine.kernel`, its compiled twin, must agree on every outcome to the bit.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Sequence
from typing import Any

import simpy

from soundergate.engine import codes as k
from soundergate.engine import endless
from soundergate.engine.carried import Carried
from soundergate.engine.outcomes import COLUMNS, Outcomes
from soundergate.engine.place.ways import distance
from soundergate.engine.plan import NightPlan
from soundergate.engine.reference.agenda import Clocks
from soundergate.engine.reference.captives import Captives
from soundergate.engine.reference.facts import Facts, picked
from soundergate.engine.reference.fates import tally, what_they_take
from soundergate.engine.reference.ground import Ground
from soundergate.engine.reference.onlookers import Onlookers
from soundergate.engine.reference.openings import Gatehouse
from soundergate.engine.reference.person_rule import PersonRule
from soundergate.engine.reference.stage import Stage
from soundergate.engine.reference.startle import Startle
from soundergate.engine.reference.triggers import Triggers
from soundergate.engine.reference.visit import Visit


class Night(Stage):
    """One night of a plan. ``play()`` runs it and returns its outcome row."""

    def __init__(
        self,
        facts: Facts,
        seed: int,
        number: int,
        trace: Any = None,
        before: Sequence[int] | None = None,
        traits: int | None = None,
    ) -> None:
        super().__init__(facts, seed, number, trace, before, traits)
        self.entry = Clocks(self.timer, self.tries, k.TRIES, facts.tempo_of)
        self.leaving = Clocks(self.timer, self.leaves, k.LEAVES, facts.tempo_of)
        self.calm = self.timer(self.calmed)
        self.visit, self.gates, self.triggers = Visit(self), Gatehouse(self), Triggers(self)
        self.ground = Ground(self)
        self.startle, self.captives = Startle(self), Captives(self)
        self.onlookers = Onlookers(self)

    # ---- the whole night -------------------------------------------------------------------

    def play(self) -> dict[str, Any]:
        """Run to the end of the night and return the outcome row (columns of `Outcomes`)."""
        comings = self.arrival_times()
        self.arrived = sum(when <= self.facts.behaviour.check for when, _ in comings)
        self.env.process(self.arrivals(comings))
        self.timer(self.trap_check).set(self.facts.behaviour.check, k.CHECKED, 0)
        self.triggers.set_up()
        self.gates.set_up()
        while not self.finished:
            _, last, *_ = self.env.next_event()
            self.env.step()
            if self.events >= k.MOST_EVENTS:
                raise endless.no_end(self.number, last >> k.RANK_BITS)
        return tally(self)

    def arrivals(self, comings: list[tuple[float, int]]) -> Generator[simpy.Event]:
        for when, i in comings:
            if when == math.inf:
                return
            yield self.env.moment(when, k.ARRIVES, i)
            self.arrive(i)
            self.settle()

    def trap_check(self, _: int) -> None:
        self.note("trap check")
        self.finished = True

    # ---- outside, and in -------------------------------------------------------------------

    def arrive(self, i: int) -> None:
        self.note("arrives", i)
        if not any(self.sounder_came):
            self.triggers.group_arrives()
        sounder = self.facts.sounder_of[i]
        if not self.sounder_came[sounder]:
            self.sounder_comes(sounder)
        if self.facts.o > 1:
            who = sounder * k.PARTIES_A_SOUNDER + self.facts.party_of[i]
            self.mouth[i] = picked(self.facts.openings, self.chance(k.D_FROM, who, 0))
        self.outside(i)

    def sounder_comes(self, sounder: int) -> None:
        """The first of a sounder: a visit begins, or goes on, for as long as its patience."""
        self.sounder_came[sounder] = True
        self.visit.lasts(self.draw(k.T_PATIENCE, k.D_PATIENCE, sounder, 0))

    def outside(self, i: int) -> None:
        """Outside, and making up its mind to enter; or gone, if there is nothing to stay for."""
        self.stay[i] += 1
        if self.over or self.alarmed:
            self.goes_away(i)
            return
        self.state[i] = k.OUTSIDE
        if not self.is_wary(i):
            x = self.draw(k.T_ENTRY, k.D_ENTRY, i, self.stay[i])
            readiness = self.bodies.frailty(i) * self.bodies.ease(i, self.mouth[i])
            self.entry.join(i, x / readiness, self.env.now)

    def goes_away(self, i: int) -> None:
        self.state[i] = k.GONE
        self.gone += 1
        self.note("goes away", i)

    def tries(self, i: int) -> None:
        self.entry.drop(i)
        o = self.way_in(i)
        if not self.bodies.fits(i, o):
            if any(self.bodies.fits(i, other) for other in range(self.facts.o)):
                self.tries_another(i, o)
            return
        if self.gates.gate[o] == k.ONE_WAY and not self.gates.pushes_in(i, o):
            if self.facts.o > 1:
                self.tries_another(i, o)
            return
        self.state[i] = k.WAIT_IN
        self.gates.join(i, o)

    def way_in(self, i: int) -> int:
        """The opening that lies on its way, or that by which a companion has just gone in."""
        if self.facts.o == 1:
            return 0
        follows = self.chance(k.D_CHOICE, i, self.stay[i]) < self.facts.behaviour.follow_share
        if follows and self.came_last_by is not None:
            return self.came_last_by
        return self.mouth[i]

    def tries_another(self, i: int, o: int) -> None:
        """Opening ``o`` is none for it: next time it goes to the one after it round the fence."""
        self.mouth[i] = (o + 1) % self.facts.o
        self.outside(i)

    def came_in(self, i: int) -> None:
        """Inside the fence: sets off for the bait, unless the gate has just been released."""
        self.counts(i, 1)
        self.came_last_by = self.mouth[i] = self.at[i]
        self.ground.comes_in(i, self.at[i])
        self.entered[i] = True
        self.note("is inside", i, self.at[i])
        self.triggers.counted(i, k.D_COUNT_IN, 1)
        self.made_way_for_others(i)
        if self.gates.holds():
            self.captive(i)
        if self.alarmed:
            self.lingers(i)
        else:
            self.sets_off(i)

    def counts(self, i: int, change: int) -> None:
        self.inside += change
        self.leaders += change * self.facts.leads[self.facts.class_of[i]]

    def sets_off(self, i: int) -> None:
        """For the bait, with a mind to leave some time."""
        self.leaving.join(i, self.draw(k.T_LEAVE, k.D_STAY, i, 2 * self.stay[i]), self.env.now)
        self.goes_to_the_bait(i)

    def goes_to_the_bait(self, i: int) -> None:
        self.state[i] = k.WALK_IN
        x, y = self.ground.seek(i)
        self.ground.walks(i, x, y, self.time_to_bait(i, x, y), k.REACHES, self.reaches)

    def time_to_bait(self, i: int, x: float, y: float) -> float:
        if self.facts.durations[k.T_TRAVEL][0] < 0:
            return distance(*self.ground.way[i][2:], x, y) / self.facts.behaviour.walk_speed
        if self.ground.seeks[i] == 0:
            return self.draw(k.T_TRAVEL, k.D_TRAVEL, i, self.stay[i])
        return self.draw(k.T_TRAVEL, k.D_SEEK, i, self.ground.seek_number(i))

    def reaches(self, i: int) -> None:
        self.state[i] = k.AT_BAIT
        self.ground.arrives(i)
        self.note("reaches the bait", i)
        if self.ground.finds_room(i):
            dwell = self.draw(k.T_DWELL, k.D_STAY, i, 2 * self.stay[i] + 1)
            self.by(i, self.env.now + dwell, k.FEEDS, self.feeds)
        else:
            self.note("finds no room at the bait", i)
            wait = self.draw(k.T_RETRY, k.D_RETRY, i, self.ground.seek_number(i))
            self.by(i, self.env.now + wait, k.SEEKS, self.seeks_again)

    def seeks_again(self, i: int) -> None:
        """One that found no room looks for another place."""
        self.ground.seeks[i] += 1
        self.goes_to_the_bait(i)

    def feeds(self, i: int) -> None:
        self.state[i] = k.FEEDING
        self.feeding += 1
        self.eats[i] = self.bodies.intake(i)
        self.intake += self.eats[i]
        self.note("feeds", i)
        self.ground.begins_outings(i)

    # ---- out again -------------------------------------------------------------------------

    def stops_feeding(self, i: int) -> None:
        if self.state[i] == k.FEEDING:
            self.feeding -= 1
            self.intake -= self.eats[i]

    def leaves(self, i: int) -> None:
        """The leaving clock is due: to an opening, from wherever it is."""
        self.leaving.drop(i)
        ground, now = self.ground, self.env.now
        just_came = self.state[i] == k.WALK_IN and ground.seeks[i] == 0
        so_far = now - ground.began[i]
        ground.stops(i)
        self.stops_feeding(i)
        self.state[i] = k.WALK_OUT
        self.note("heads out", i)
        o = ground.way_out(i)
        drawn = self.facts.durations[k.T_TRAVEL][0] >= 0
        self.heads_for(i, o, so_far if drawn and just_came else self.time_to_opening(i, o))

    def heads_for(self, i: int, o: int, takes: float, after: float = 0.0) -> None:
        self.mouth[i] = o
        x, y = self.facts.openings[o].x, self.facts.openings[o].y
        self.ground.walks(i, x, y, takes, k.AT_OPENING, self.comes_to_opening, after)

    def comes_to_opening(self, i: int) -> None:
        """There it waits for room; if it is shut, on to the nearest that is not."""
        self.ground.arrives(i)
        o = self.mouth[i]
        if self.gates.lets_out(i, o):
            self.state[i] = k.WAIT_OUT
            self.gates.join(i, o)
            return
        other = self.gates.nearest_way_out(i)
        if other is None:
            self.note("finds no way out", i, o)
            self.lingers(i)
            return
        self.heads_for(i, other, self.time_to_opening(i, other))

    def time_to_opening(self, i: int, o: int) -> float:
        """Seconds from where animal ``i`` stands to opening ``o``, walking or bolting."""
        b, far = self.facts.behaviour, self.ground.distance_to(i, o)
        if self.bolting[i]:
            return far / b.bolt_speed
        if self.facts.durations[k.T_TRAVEL][0] < 0:
            return far / b.walk_speed
        return self.draw(k.T_TRAVEL, k.D_WALK_BACK, i, self.stay[i])

    def lingers(self, i: int) -> None:
        """Still inside after the release; where another way stays open it may yet take it."""
        self.state[i] = k.STILL
        if self.gates.a_way_stays_open():
            self.may_leave_later(i)

    def may_leave_later(self, i: int) -> None:
        """It makes up its mind to leave anew."""
        self.stay[i] += 1
        self.leaving.join(i, self.draw(k.T_LEAVE, k.D_LINGER, i, self.stay[i]), self.env.now)

    def went_out(self, i: int) -> None:
        self.note("is out", i, self.at[i])
        self.triggers.counted(i, k.D_COUNT_OUT, -1)
        if not self.alarmed:
            self.draws_others_after_it()
            if self.chance(k.D_RETURN, i, self.stay[i]) < self.facts.behaviour.return_share:
                self.outside(i)
                return
        self.goes_away(i)

    def draws_others_after_it(self) -> None:
        if len(self.departures) < k.DEPARTURES_KEPT:
            self.departures.append(self.env.now + self.facts.behaviour.contagion_window)
            if len(self.departures) == 1:
                self.calm.set(self.departures[0], k.CALMED, 0)

    def calmed(self, _: int) -> None:
        """The oldest departure no longer draws others after it."""
        self.departures.pop(0)
        if self.departures:
            self.calm.set(self.departures[0], k.CALMED, 0)

    # ---- the release, and after ------------------------------------------------------------

    def alarm(self) -> None:
        """The first gate moves: those outside flee, each inside freezes or bolts."""
        self.alarmed = True
        self.startle.notice()
        self.visit.dismiss()
        self.startle.react()

    def captives_begin(self) -> None:
        """A gate has shut: if nothing is open any more, those inside are captives from now on."""
        if self.gates.holds():
            for i, state in enumerate(self.state):
                if state in k.INSIDE_STATES:
                    self.captive(i)

    def captive(self, i: int) -> None:
        self.captives.hold(i)

    def made_way_for_others(self, i: int) -> None:
        """While ``i`` holds a one-way entrance open, another may slip out."""
        if self.gates.gate[self.at[i]] == k.ONE_WAY and self.inside > 1:
            self.captives.may_slip_out(i)

    def settle(self) -> None:
        """The one place where speeds are looked up and clocks move, once an event."""
        self.events += 1
        self.gates.grant_room()
        self.settle_entry_and_leaving()
        now = self.env.now
        self.visit.bait.settle(float(self.intake), now)
        self.triggers.settle(now)
        self.finished |= self.nothing_more_happens()

    def settle_entry_and_leaving(self) -> None:
        """Nothing is looked up if no count has changed that these speeds depend on."""
        now, facts, n, level = self.env.now, self.facts, self.inside, self.level
        recent = min(len(self.departures), facts.departures - 1)
        lead = 1 if self.leaders > 0 or not self.led else 0
        counts = (lead, n, level, recent, self.over)
        if counts == self.speeds_of:
            self.entry.settle_again(now)
            self.leaving.settle_again(now)
            return
        self.speeds_of = counts
        entry = [0.0 if self.over else table[lead][n][level] for table in facts.entry_speed]
        self.entry.settle(entry, now)
        self.leaving.settle([table[n][level][recent] for table in facts.leave_speed], now)

    def nothing_more_happens(self) -> bool:
        if self.alarmed and self.gates.holds():
            return not self.captives.pending and not any(self.gates.crossing)
        all_gone = self.gone == self.facts.animals
        return all_gone and not (self.gates.in_motion() or self.triggers.commands_under_way)


def play_reference(
    plan: NightPlan, seed: int, first: int, count: int, person_rule: PersonRule | None = None
) -> Outcomes:
    """Play nights one by one in SimPy: slow, readable, the measure of the batch engine.

    People release by ``person_rule`` where one is given, and else by the plan's.
    """
    facts = Facts(plan, person_rule)
    rows = [Night(facts, seed, number).play() for number in range(first, first + count)]
    return Outcomes.from_columns({name: [row[name] for row in rows] for name, _ in COLUMNS})


def play_carried_reference(plan: NightPlan, seed: int, nights: Carried) -> Outcomes:
    """The same for nights of campaigns; fills in ``nights.after``."""
    facts = Facts(plan)
    rows = []
    for row, (number, traits, before) in enumerate(
        zip(nights.number.tolist(), nights.traits.tolist(), nights.before.tolist(), strict=True)
    ):
        night = Night(facts, seed, number, before=before, traits=traits)
        rows.append(night.play())
        nights.after[row] = what_they_take(night)
    return Outcomes.from_columns({name: [row[name] for row in rows] for name, _ in COLUMNS})
