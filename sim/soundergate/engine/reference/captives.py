"""After the release in the reference engine: captives who get out, latecomers who come back.

A captive opens the gate, climbs out or roots under; where a one-way entrance is pushed open by one
that comes in, another may slip out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.engine import codes as k
from soundergate.engine.reference.agenda import Timer

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


class Captives:
    """Animals that one night's gates have shut in or out."""

    def __init__(self, night: Night) -> None:
        self.night, self.facts = night, night.facts
        n = self.facts.animals
        self.way = [0] * n
        self.broke_out = [False] * n
        """Out of a trap that held it; while a way is open, one that slips out has only left."""
        self.break_timer: dict[int, Timer] = {}
        self.pending = 0
        """Breakouts and returns to come before the trap check."""

    def hold(self, i: int) -> None:
        """When will captive ``i`` break out, if ever before the trap check?"""
        night = self.night
        seconds, self.way[i] = night.bodies.break_out(i, night.gates.exit_force())
        when = night.env.now + seconds
        if when < self.facts.behaviour.check:
            self.pending += 1
            if i not in self.break_timer:
                self.break_timer[i] = night.timer(self.breaks_out)
            self.break_timer[i].set(when, k.BREAKS_OUT, i)

    def breaks_out(self, i: int) -> None:
        self.pending -= 1
        self.gets_out(i, self.way[i])

    def gets_out(self, i: int, way: int) -> None:
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
        night.note(k.BREAKOUT_WORDS[way], i)

    def may_slip_out(self, i: int) -> None:
        """Animal ``i`` comes in by a one-way entrance; one that is inside may use the gap."""
        night, visit = self.night, 2 * self.night.stay[i]
        if night.chance(k.D_SLIP, i, visit) >= self.facts.behaviour.slip_share:
            return
        others = [j for j, state in enumerate(night.state) if state in k.INSIDE_STATES]
        j = others[int(night.chance(k.D_SLIP, i, visit + 1) * len(others))]
        if j in self.break_timer and self.break_timer[j].pending:
            self.pending -= 1
            self.break_timer[j].cancel()
        self.gets_out(j, k.BY_SLIPPING)

    def may_come_back(self, i: int) -> bool:
        """Left outside at the release, animal ``i`` flees; does it come back later?"""
        night = self.night
        if night.chance(k.D_LATE, i, 0) >= self.facts.late_share:
            return False
        self.pending += 1
        night.state[i] = k.FLED
        wait = night.draw(k.T_LATE, k.D_LATE, i, 1)
        night.by(i, night.env.now + wait, k.COMES_BACK, self.comes_back)
        return True

    def comes_back(self, i: int) -> None:
        """It may push in by a one-way entrance."""
        night = self.night
        self.pending -= 1
        night.note("comes back", i)
        o = night.gates.late_entrance(i)
        if o is None:
            night.goes_away(i)
        else:
            night.state[i] = k.WAIT_IN
            night.gates.join(i, o)
