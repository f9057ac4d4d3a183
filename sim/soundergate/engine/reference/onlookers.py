"""Those that stood outside when the gate moved, in the reference engine: they stay near for a while
and come back to the trap, where an entrance or an open gate may let them in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.engine import codes as k

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


class Onlookers:
    """Animals that one night's gates have shut out."""

    def __init__(self, night: Night) -> None:
        self.night, self.facts = night, night.facts
        n = self.facts.animals
        self.near_until, self.looks = [0.0] * n, [0] * n
        self.pushes = [False] * n
        """Whether it pushes in at a one-way entrance when it first comes back."""

    def stays_near(self, i: int) -> None:
        """Animal ``i`` flees from the noise, but not far."""
        night = self.night
        night.state[i] = k.FLED
        night.note("stays near", i)
        self.near_until[i] = night.env.now + night.draw(k.T_NEAR, k.D_NEAR, i, 0)
        self.pushes[i] = night.chance(k.D_LATE, i, 0) < self.facts.late_share
        if self.pushes[i]:
            night.captives.pending += 1
        self.will_look(i)

    def will_look(self, i: int) -> None:
        """Back at the trap after a while, and at the latest as it leaves for good."""
        night, when = self.night, self.near_until[i]
        if self.looks[i] < k.MOST_LOOKS:
            wait = night.draw(k.T_LATE, k.D_LATE, i, 1 + self.looks[i])
            when = min(when, night.env.now + wait)
        night.by(i, when, k.COMES_BACK, self.comes_back)

    def comes_back(self, i: int) -> None:
        night = self.night
        o = self.way_in(i)
        night.note("comes back", i, o, self.what_it_does(o))
        self.looks[i] += 1
        if o is None:
            self.waits_on(i)
        else:
            night.state[i] = k.WAIT_IN
            night.gates.join(i, o)

    def what_it_does(self, o: int | None) -> str:
        """For the telling."""
        if o is None:
            return "stays outside"
        return "pushes in" if self.night.gates.gate[o] == k.ONE_WAY else "goes in"

    def way_in(self, i: int) -> int | None:
        """The opening by which animal ``i`` now goes in, if any."""
        night, look = self.night, self.looks[i]
        o = night.gates.stands_open_for(i)
        pushes, self.pushes[i] = self.pushes[i], False  # the first time, or not at all tonight
        night.captives.pending -= pushes
        goes_in = night.chance(k.D_OPEN_WAY, i, look) < self.facts.behaviour.open_entry
        if o is not None and goes_in and not night.is_wary(i):
            return o
        return night.gates.late_entrance(i) if pushes else None

    def waits_on(self, i: int) -> None:
        """Not let in: it stays near as long as it would have, and then goes away."""
        night = self.night
        night.state[i] = k.FLED
        if night.env.now < self.near_until[i]:
            self.will_look(i)
        else:
            night.goes_away(i)
