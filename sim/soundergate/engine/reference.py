"""The night, told plainly: animals, openings and gates in SimPy, one event after another.

Read `Night.arrive` first and follow an animal in and out. Between two events nothing changes that
a rate depends on; each handler applies all its changes, lets waiting animals into the room that
came free, and settles once (`Night.settle`), the only place where clocks change speed.
`engine.kernel` is the compiled twin and must agree on every outcome to the bit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

import simpy

from soundergate.engine import codes as k
from soundergate.engine.bodies import Bodies
from soundergate.engine.draws import count_at, frailty, sample
from soundergate.engine.environment import Clock, NightEnvironment, Timer
from soundergate.engine.facts import Facts
from soundergate.engine.gatehouse import Gatehouse
from soundergate.engine.outcomes import COLUMNS, Outcomes
from soundergate.engine.philox import uniform
from soundergate.engine.plan import NightPlan
from soundergate.engine.tally import tally
from soundergate.engine.watch import Triggers


class Night:
    """One night of a plan. ``play()`` runs it and returns its outcome row."""

    def __init__(self, facts: Facts, seed: int, number: int, trace: Any = None) -> None:
        self.facts, self.seed, self.number, self.trace = facts, seed, number, trace
        self.env = NightEnvironment()
        n = facts.animals
        self.state = [k.AWAY] * n
        self.stay = [-1] * n
        self.roams = [0] * n
        self.at = [0] * n
        self.inside_since = [0.0] * n
        self.leg_started = [0.0] * n
        self.leg_time = [0.0] * n
        self.bolting = [False] * n
        self.entered = [False] * n
        self.held = [False] * n
        self.witness = [False] * n
        self.eats = [0] * n
        self.broke_out, self.way = [False] * n, [0] * n
        self.leaders = 0
        self.sizes = [self._size_tonight(s) for s in range(len(facts.plan.size_cdf))]
        self.present = [facts.turn[i] < self.sizes[facts.sounder_of[i]] for i in range(n)]
        self.group_size = sum(self.present)
        self.led = any(self.present[i] and facts.leads[facts.class_of[i]] for i in range(n))
        self.arrived = self.inside = self.feeding = self.intake = self.level = self.gone = 0
        self.bait_level = 0
        self.departures: list[float] = []
        self.sounder_came = [False] * len(facts.plan.size_cdf)
        self.over = self.alarmed = self.finished = False
        self.held_count = self.pending = 0
        self.settled: tuple[Any, ...] = ()
        self.bodies = Bodies(facts, seed, number)
        self._timers(n)
        for i in range(n):
            if not self.present[i]:
                self.state[i] = k.GONE
        self.gone = n - self.group_size
        self.gates = Gatehouse(self)
        self.triggers = Triggers(self)

    def _size_tonight(self, sounder: int) -> int:
        u = self.chance(k.D_SIZE, sounder, 0)
        return count_at(self.facts.plan.size_cdf[sounder], u)

    def _timers(self, n: int) -> None:
        timer = self.timer
        self.animal_timer = [timer(self._animal_event) for _ in range(n)]
        self.break_timer = [timer(self.breaks_out) for _ in range(n)]
        self.next_step: list[Callable[[int], None]] = [self.arrive] * n
        tempos = range(self.facts.tempos)
        self.entry = [Clock(timer(self.tries), k.TRIES) for _ in tempos]
        self.leaving = [Clock(timer(self.leaves), k.LEAVES) for _ in tempos]
        self.roaming = [Clock(timer(self.presses_on), k.PRESSES_ON) for _ in tempos]
        self.bait = Clock(timer(self.bait_falls), k.BAIT_LEVEL)
        self.bait.wait_for(0, self.facts.bait_marks[0])
        self.visit_end = timer(self.visit_ends)
        self.calm = timer(self.calmed)

    def timer(self, handler: Callable[[int], None]) -> Timer:
        """A timer whose handler is followed by the one settling of the event."""

        def then_settle(number: int) -> None:
            handler(number)
            self.settle()

        return Timer(self.env, then_settle)

    def _animal_event(self, i: int) -> None:
        self.next_step[i](i)

    def by(self, i: int, when: float, rank: int, step: Callable[[int], None]) -> None:
        """Animal ``i`` takes ``step`` at ``when``, which supersedes what it was about to do."""
        self.next_step[i] = step
        self.animal_timer[i].set(when, rank, i)

    def draw(self, row: int, purpose: int, who: int, count: int) -> float:
        kind, a, b = self.facts.durations[row]
        return sample(kind, a, b, self.seed, self.number, purpose, who, count)

    def chance(self, purpose: int, who: int, count: int) -> float:
        return uniform(self.seed, self.number, purpose, who, count)

    def note(self, kind: str, animal: int | None = None, opening: int | None = None,
             note: str = "") -> None:
        if self.trace is not None:
            self.trace.record(self.env.now, kind, animal, opening, self.inside, self.level, note)

    # ---- the whole night -------------------------------------------------------------------

    def play(self) -> dict[str, Any]:
        """Run to the end of the night and return the outcome row (columns of `Outcomes`)."""
        self.env.process(self.arrivals())
        self.timer(self.trap_check).set(self.facts.b[k.B_CHECK], k.CHECKED, 0)
        self.triggers.set_up()
        while not self.finished:
            self.env.step()
        return tally(self)

    def arrivals(self) -> Iterator[simpy.Event]:
        times = []
        for i, party in enumerate(self.facts.party_of):
            if self.present[i]:
                sounder = self.facts.sounder_of[i]
                first = self.draw(k.T_FIRST, k.D_FIRST, sounder, 0)
                who = sounder * k.PARTIES_A_SOUNDER + party
                offset = self.draw(k.T_OFFSET, k.D_OFFSET, who, 0) if party else 0.0
                times.append((first + offset + self.draw(k.T_SPREAD, k.D_SPREAD, i, 0), i))
        for when, i in sorted(times):
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
        self.arrived += 1
        self.note("arrives", i)
        if self.arrived == 1:
            self.triggers.group_arrives()
        sounder = self.facts.sounder_of[i]
        if not self.sounder_came[sounder]:
            self.sounder_comes(sounder)
        self.outside(i)

    def sounder_comes(self, sounder: int) -> None:
        """The first of a sounder: a visit begins, or goes on, for as long as its patience."""
        self.sounder_came[sounder] = True
        wait = self.draw(k.T_PATIENCE, k.D_PATIENCE, sounder, 0)
        self.visit_end.set(self.env.now + wait, k.VISIT_ENDS, 0)
        if not self.alarmed and self.bait_level < k.SPENT:
            self.over, self.level = False, self.bait_level

    def outside(self, i: int) -> None:
        """Outside, and making up its mind to enter; or gone, if there is nothing to stay for."""
        self.stay[i] += 1
        if self.over or self.alarmed:
            self.goes_away(i)
            return
        self.state[i] = k.OUTSIDE
        if self.chance(k.D_SPREAD, i, 1) >= self.facts.b[k.B_SHY]:
            x = self.draw(k.T_ENTRY, k.D_ENTRY, i, self.stay[i])
            amount = x / frailty(*self.facts.durations[k.T_FRAILTY], self.seed, self.number, i)
            self.entry[self.facts.tempo_of[i]].join(i, amount, self.env.now)

    def goes_away(self, i: int) -> None:
        self.state[i] = k.GONE
        self.gone += 1
        self.note("goes away", i)

    def tries(self, i: int) -> None:
        self.entry[self.facts.tempo_of[i]].drop(i)
        o = self.facts.choose(self.chance(k.D_CHOICE, i, self.stay[i])) if self.facts.o > 1 else 0
        if not self.bodies.fits(i, o):
            return
        if self.gates.gate[o] == k.ONE_WAY and not self.gates.pushes_in(i, o):
            if self.facts.o > 1:
                self.outside(i)  # and perhaps to another opening next time
            return
        self.state[i] = k.WAIT_IN
        self.gates.join(i, o)

    def came_in(self, i: int) -> None:
        """Inside the fence: sets off for the bait, unless the gate has just been released."""
        now = self.env.now
        self.counts(i, 1)
        self.entered[i] = True
        self.note("is inside", i, self.at[i])
        self.triggers.counted(i, k.D_COUNT_IN, 1)
        self.made_way_for_others(i)
        if self.gates.holds():
            self.captive(i)
        if self.alarmed:
            self.lingers(i)
            return
        x = self.draw(k.T_LEAVE, k.D_STAY, i, 2 * self.stay[i])
        self.leaving[self.facts.tempo_of[i]].join(i, x, now)
        self.state[i] = k.WALK_IN
        self.inside_since[i] = self.leg_started[i] = now
        self.leg_time[i] = self.walk_time(i, k.D_TRAVEL)
        self.walks_to(i, 0.0)

    def counts(self, i: int, change: int) -> None:
        self.inside += change
        self.leaders += change * self.facts.leads[self.facts.class_of[i]]

    def walk_time(self, i: int, purpose: int) -> float:
        if self.facts.durations[k.T_TRAVEL][0] >= 0:
            return self.draw(k.T_TRAVEL, purpose, i, self.stay[i])
        return self.facts.opening[self.at[i]][k.O_RUN] / self.facts.b[k.B_WALK]

    def walks_to(self, i: int, share: float) -> None:
        """On from ``share`` of the way: to the next line across it, or to the bait."""
        line = self.triggers.next_line(share)
        to = 1.0 if line is None else self.facts.trigger[line][k.LINE_SHARE]
        when = self.leg_started[i] + self.leg_time[i] * to
        if line is None:
            self.by(i, when, k.REACHES, self.reaches)
        else:
            self.by(i, when, k.TOUCHES, lambda j: self.crosses_line(j, line))

    def crosses_line(self, i: int, line: int) -> None:
        share = self.facts.trigger[line][k.LINE_SHARE]
        for t in self.triggers.before:
            if self.facts.trigger[t][k.LINE_SHARE] == share:
                self.triggers.touch(i, t)
        self.walks_to(i, share)

    def reaches(self, i: int) -> None:
        self.state[i] = k.AT_BAIT
        self.note("reaches the bait", i)
        dwell = self.draw(k.T_DWELL, k.D_STAY, i, 2 * self.stay[i] + 1)
        self.by(i, self.env.now + dwell, k.FEEDS, self.feeds)

    def feeds(self, i: int) -> None:
        self.state[i] = k.FEEDING
        self.feeding += 1
        self.eats[i] = self.bodies.intake(i)
        self.intake += self.eats[i]
        self.note("feeds", i)
        self.roaming_again(i)

    def roaming_again(self, i: int) -> None:
        if self.triggers.beyond:
            x = self.draw(k.T_ROAM, k.D_ROAM, i, self.roams[i])
            self.roams[i] += 1
            self.roaming[self.facts.tempo_of[i]].join(i, x, self.env.now)

    def presses_on(self, i: int) -> None:
        self.roaming[self.facts.tempo_of[i]].drop(i)
        for line in self.triggers.beyond:
            self.triggers.touch(i, line)
        self.roaming_again(i)

    # ---- out again -------------------------------------------------------------------------

    def stops_feeding(self, i: int) -> None:
        if self.state[i] == k.FEEDING:
            self.feeding -= 1
            self.intake -= self.eats[i]
            self.roaming[self.facts.tempo_of[i]].drop(i)

    def leaves(self, i: int) -> None:
        """The leaving clock is due: back to the opening it came in by."""
        self.leaving[self.facts.tempo_of[i]].drop(i)
        now = self.env.now
        back = now - self.inside_since[i]
        if self.state[i] != k.WALK_IN:
            back = self.walk_time(i, k.D_WALK_BACK)
        self.stops_feeding(i)
        self.state[i] = k.WALK_OUT
        self.leg_started[i], self.leg_time[i] = now, back
        self.note("heads out", i)
        self.by(i, now + back, k.AT_OPENING, self.comes_to_opening)

    def comes_to_opening(self, i: int) -> None:
        o = self.gates.way_out(self.at[i])
        if o is None:
            self.lingers(i)
            return
        self.state[i] = k.WAIT_OUT
        self.gates.join(i, o)

    def lingers(self, i: int) -> None:
        """Still inside after the release; where another way stays open it may yet take it."""
        self.state[i] = k.STILL
        if self.gates.a_way_stays_open():
            self.stay[i] += 1
            x = self.draw(k.T_LEAVE, k.D_LINGER, i, self.stay[i])
            self.leaving[self.facts.tempo_of[i]].join(i, x, self.env.now)

    def went_out(self, i: int) -> None:
        now = self.env.now
        self.note("is out", i, self.at[i])
        self.triggers.counted(i, k.D_COUNT_OUT, -1)
        if not self.alarmed:
            if len(self.departures) < k.DEPARTURES_KEPT:
                self.departures.append(now + self.facts.b[k.B_WINDOW])
                if len(self.departures) == 1:
                    self.calm.set(self.departures[0], k.CALMED, 0)
            if self.chance(k.D_RETURN, i, self.stay[i]) < self.facts.b[k.B_RETURN]:
                self.outside(i)
                return
        self.goes_away(i)

    def calmed(self, _: int) -> None:
        """The oldest departure no longer draws others after it."""
        self.departures.pop(0)
        if self.departures:
            self.calm.set(self.departures[0], k.CALMED, 0)

    def bait_falls(self, _: int) -> None:
        self.bait_level += 1
        if not self.over:
            self.level = self.bait_level
        self.note("bait level", note=f"level {self.bait_level}")
        if self.bait_level == k.SPENT:
            self.bait.drop(0)
            self.visit_ends(0)
        else:
            self.bait.wait_for(0, self.facts.bait_marks[self.bait_level])

    def visit_ends(self, _: int) -> None:
        """Bait or patience is at an end: those outside go, those inside will soon want to."""
        if self.over:
            return
        self.note("visit ends")
        self.over, self.level = True, k.SPENT
        self.dismiss()

    def dismiss(self) -> None:
        """Everyone who is outside or waiting to enter goes away."""
        for i, state in enumerate(self.state):
            if state == k.OUTSIDE:
                self.entry[self.facts.tempo_of[i]].drop(i)
            elif state == k.WAIT_IN:
                self.gates.forget(i)
            else:
                continue
            if self.alarmed and self.chance(k.D_LATE, i, 0) < self.facts.late_share:
                self.pending += 1
                self.state[i] = k.FLED
                wait = self.draw(k.T_LATE, k.D_LATE, i, 1)
                self.by(i, self.env.now + wait, k.COMES_BACK, self.comes_back)
            else:
                self.goes_away(i)

    # ---- captives --------------------------------------------------------------------------

    def captives_begin(self) -> None:
        """A gate has shut: if nothing is open any more, those inside are captives from now on."""
        if self.gates.holds():
            for i, state in enumerate(self.state):
                if state in k.INSIDE_STATES:
                    self.captive(i)

    def captive(self, i: int) -> None:
        """When will it break out, if ever before the trap check?"""
        seconds, self.way[i] = self.bodies.break_out(i, self.gates.exit_force())
        when = self.env.now + seconds
        if when < self.facts.b[k.B_CHECK]:
            self.pending += 1
            self.break_timer[i].set(when, k.BREAKS_OUT, i)

    def breaks_out(self, i: int) -> None:
        self.pending -= 1
        self.gets_out(i, self.way[i])

    def gets_out(self, i: int, way: int) -> None:
        self.stops_feeding(i)
        if self.state[i] == k.WAIT_OUT:
            self.gates.forget(i)
        self.leaving[self.facts.tempo_of[i]].drop(i)
        self.animal_timer[i].cancel()
        self.broke_out[i] = True
        self.counts(i, -1)
        self.state[i] = k.GONE
        self.gone += 1
        self.note(k.BREAKOUT_WORDS[way], i)

    def made_way_for_others(self, i: int) -> None:
        """While ``i`` holds a one-way entrance open, one that is inside may slip out."""
        if self.gates.gate[self.at[i]] != k.ONE_WAY or self.inside < 2:
            return
        if self.chance(k.D_SLIP, i, 2 * self.stay[i]) >= self.facts.b[k.B_SLIP]:
            return
        others = [j for j, s in enumerate(self.state) if s in k.INSIDE_STATES]
        pick = int(self.chance(k.D_SLIP, i, 2 * self.stay[i] + 1) * len(others))
        j = others[pick]
        if self.break_timer[j].pending:
            self.pending -= 1
            self.break_timer[j].cancel()
        self.gets_out(j, k.BY_SLIPPING)

    def comes_back(self, i: int) -> None:
        """Left outside at the release, it comes back and may push in by a one-way entrance."""
        self.pending -= 1
        self.note("comes back", i)
        o = self.gates.late_entrance(i)
        if o is None:
            self.goes_away(i)
            return
        self.state[i] = k.WAIT_IN
        self.gates.join(i, o)

    # ---- the release -----------------------------------------------------------------------

    def alarm(self) -> None:
        """The first gate moves: those outside flee, each inside freezes or bolts."""
        self.alarmed, self.held_count = True, self.inside
        for i, state in enumerate(self.state):
            self.witness[i] = state not in (k.AWAY, k.GONE)
            self.held[i] = state in k.INSIDE_STATES
        self.over, self.level = True, k.SPENT
        self.dismiss()
        for i, state in enumerate(self.state):
            if state in k.INSIDE_STATES:
                self.startled(i)
            elif state == k.CROSS_IN and self.chance(k.D_TURN, i, 0) < self.facts.b[k.B_TURN]:
                self.gates.turn_back(i)

    def startled(self, i: int) -> None:
        distance = self.from_opening(i)
        self.stops_feeding(i)
        if self.state[i] == k.WAIT_OUT:
            self.gates.forget(i)
        self.animal_timer[i].cancel()
        if self.chance(k.D_BOLT, i, 0) >= self.facts.b[k.B_BOLT]:
            self.state[i] = k.STILL
            self.note("freezes", i)
            return
        self.state[i], self.bolting[i] = k.BOLTING, True
        self.leaving[self.facts.tempo_of[i]].drop(i)
        self.note("bolts", i)
        wait = self.draw(k.T_BOLT, k.D_BOLT, i, 1) + distance / self.facts.b[k.B_RUN]
        self.by(i, self.env.now + wait, k.AT_OPENING, self.comes_to_opening)

    def from_opening(self, i: int) -> float:
        """Distance in m from where animal ``i`` stands to the opening it came in by."""
        run = self.facts.opening[self.at[i]][k.O_RUN]
        if self.state[i] == k.WAIT_OUT:
            return 0.0
        if self.state[i] in (k.WALK_IN, k.WALK_OUT) and self.leg_time[i] > 0.0:
            share = (self.env.now - self.leg_started[i]) / self.leg_time[i]
            return run * share if self.state[i] == k.WALK_IN else run * (1.0 - share)
        return run

    # ---- settling --------------------------------------------------------------------------

    def settle(self) -> None:
        """The one place where speeds are looked up and clocks move, once an event."""
        self.gates.grant_room()
        now, facts = self.env.now, self.facts
        d = min(len(self.departures), facts.departures - 1)
        n, level = self.inside, self.level
        lead = 1 if self.leaders > 0 or not self.led else 0
        open_to_entry = not self.over
        for c in range(facts.tempos):
            self.entry[c].settle(facts.entry_speed[c][lead][n][level] if open_to_entry else 0.0, now)
            self.leaving[c].settle(facts.leave_speed[c][n][level][d], now)
            self.roaming[c].settle(facts.roam_speed[c][self.feeding], now)
        self.bait.settle(float(self.intake), now)
        self.triggers.settle(now)
        if self.alarmed and self.gates.holds():
            self.finished |= self.pending == 0 and not any(self.gates.crossing)
        elif self.gone == facts.animals and not self.gates.in_motion():
            self.finished |= not self.triggers.commands_under_way


def play_reference(plan: NightPlan, seed: int, first: int, count: int) -> Outcomes:
    """Play nights one by one in SimPy: slow, readable, the measure of the batch engine."""
    facts = Facts(plan)
    rows = [Night(facts, seed, number).play() for number in range(first, first + count)]
    return Outcomes.from_columns({name: [row[name] for row in rows] for name, _ in COLUMNS})
