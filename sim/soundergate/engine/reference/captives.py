"""Captives of a shut trap in the reference engine: how they get out, and who follows.

A captive opens the gate, climbs out or roots under; by a raised gate or a hole others may follow
for a while. Where a one-way entrance is pushed open by one that comes in, another may slip out.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from soundergate.engine import codes as k
from soundergate.engine.reference.agenda import Timer

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


class Way(NamedTuple):
    """A way out that animal ``by`` has opened: how one follows by it, and until when (s)."""

    by: int
    how: int
    until: float


class Captives:
    """Animals that one night's gates have shut in."""

    def __init__(self, night: Night) -> None:
        self.night, self.facts = night, night.facts
        n = self.facts.animals
        self.way = [0] * n
        self.due = [math.inf] * n
        self.broke_out = [False] * n
        """Out of a trap that held it; while a way is open, one that slips out has only left."""
        self.break_timer: dict[int, Timer] = {}
        self.pending = 0
        """Breakouts, and returns of those that may push in, to come before the trap check."""
        self.way_out: Way | None = None
        """Of the ways that captives have opened the one that stays longest."""

    def hold(self, i: int) -> None:
        """When will captive ``i`` break out, if ever before the trap check?"""
        night = self.night
        seconds, way = night.bodies.break_out(i, night.gates.exit_force())
        self.gets_out_at(i, night.env.now + seconds, way)
        if self.way_out is not None:
            self.may_follow(i, self.way_out)

    def gets_out_at(self, i: int, when: float, way: int) -> None:
        """Captive ``i`` will be out at ``when``, before it would be by any other way."""
        if when >= self.facts.behaviour.check or when >= self.due[i]:
            return
        if self.due[i] == math.inf:
            self.pending += 1
        self.due[i], self.way[i] = when, way
        if i not in self.break_timer:
            self.break_timer[i] = self.night.timer(self.breaks_out)
        self.break_timer[i].set(when, k.BREAKS_OUT, i)

    def breaks_out(self, i: int) -> None:
        self.due[i] = math.inf
        self.pending -= 1
        self.gets_out(i, self.way[i])
        if self.way[i] == k.BY_ROOTING:
            self.opens_way(i, k.T_HOLE, k.BY_HOLE)
        elif self.way[i] == k.BY_GATE:
            self.opens_way(i, k.T_RAISED, k.BY_RAISED_GATE)

    def where_and_how(self, way: int, by: int | None) -> tuple[int | None, str]:
        """For the telling: the opening that a captive gets out by, and how if that is not plain."""
        gates = self.night.gates
        if way == k.BY_SLIPPING and by is not None:
            return self.night.at[by], "as another comes in"
        if way not in (k.BY_GATE, k.BY_RAISED_GATE):
            return None, ""
        o = gates.opens_from_inside()
        pushed = way == k.BY_GATE and o is not None and gates.gate[o] == k.ONE_WAY
        return o, "pushes the one-way gate open from inside" if pushed else ""

    def gets_out(self, i: int, way: int, by: int | None = None) -> None:
        """Animal ``i`` is out; it slips out as animal ``by`` comes in."""
        night = self.night
        night.ground.stops(i)
        night.stops_feeding(i)
        if night.state[i] == k.WAIT_OUT:
            night.gates.forget(i)
        night.leaving.drop(i)
        night.animal_timer[i].cancel()
        self.broke_out[i] = night.gates.holds()
        night.counts(i, -1)
        night.state[i] = k.GONE
        night.gone += 1
        night.note(k.BREAKOUT_WORDS[way], i, *self.where_and_how(way, by))

    def opens_way(self, i: int, stays: int, how: int) -> None:
        """For a while the others may follow animal ``i``, each in its own time."""
        night = self.night
        until = night.env.now + night.draw(stays, k.D_WAY_STAYS, i, 0)
        way = Way(i, how, until)
        if self.way_out is None or until > self.way_out.until:
            self.way_out = way
        for j, state in enumerate(night.state):
            if state in k.INSIDE_STATES:
                self.may_follow(j, way)

    def may_follow(self, j: int, way: Way) -> None:
        """Captive ``j`` finds a way and uses it while it is there, if it is no larger."""
        night = self.night
        if night.bodies.shoulder(j) > night.bodies.shoulder(way.by):
            return
        when = night.env.now + night.draw(k.T_FOLLOW, k.D_FOLLOW, j, way.by)
        if when < way.until:
            self.gets_out_at(j, when, way.how)

    def may_slip_out(self, i: int) -> None:
        """Animal ``i`` comes in by a one-way entrance; one that is inside may use the gap."""
        night, visit = self.night, 2 * self.night.stay[i]
        if night.chance(k.D_SLIP, i, visit) >= self.facts.behaviour.slip_share:
            return
        others = [j for j, state in enumerate(night.state) if state in k.INSIDE_STATES]
        j = others[int(night.chance(k.D_SLIP, i, visit + 1) * len(others))]
        if self.due[j] < math.inf:
            self.due[j] = math.inf
            self.pending -= 1
            self.break_timer[j].cancel()
        self.gets_out(j, k.BY_SLIPPING, i)
