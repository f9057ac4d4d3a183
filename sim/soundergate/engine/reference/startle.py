"""The alarm in the reference engine: at the noise of a gate each animal flees, freezes or bolts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.engine import codes as k

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


class Startle:
    """What the first gate that moves does to the animals of one night."""

    def __init__(self, night: Night) -> None:
        self.night, self.b = night, night.facts.behaviour
        self.held_count = 0
        self.held, self.witness = [False] * night.facts.animals, [False] * night.facts.animals

    def notice(self) -> None:
        """Who was inside at the release, and who learns from it."""
        self.held_count = self.night.inside
        for i, state in enumerate(self.night.state):
            self.witness[i] = state not in (k.AWAY, k.GONE)
            self.held[i] = state in k.INSIDE_STATES

    def react(self) -> None:
        """Those inside freeze or bolt; of those on their way in some turn back."""
        night = self.night
        for i, state in enumerate(night.state):
            if state in k.INSIDE_STATES:
                self.startled(i)
            elif state == k.CROSS_IN and night.chance(k.D_TURN, i, 0) < self.b.turn_back_share:
                night.gates.turn_back(i)

    def startled(self, i: int) -> None:
        night = self.night
        leaving = night.state[i] in (k.WALK_OUT, k.WAIT_OUT)
        night.ground.stops(i)
        night.stops_feeding(i)
        if night.state[i] == k.WAIT_OUT:
            night.gates.forget(i)
        night.animal_timer[i].cancel()
        if night.chance(k.D_BOLT, i, 0) < self.b.bolt_share:
            self.bolts(i, leaving)
        else:
            night.state[i] = k.STILL
            night.note("freezes", i)
            if leaving:
                night.may_leave_later(i)

    def bolts(self, i: int, leaving: bool) -> None:
        """Off to the opening that it had in mind, as soon as it has taken fright."""
        night = self.night
        night.state[i], night.bolting[i] = k.BOLTING, True
        night.leaving.drop(i)
        night.note("bolts", i)
        o = night.mouth[i] if leaving else night.ground.way_out(i)
        wait = night.draw(k.T_BOLT, k.D_BOLT, i, 1)
        night.heads_for(i, o, night.time_to_opening(i, o), after=wait)
