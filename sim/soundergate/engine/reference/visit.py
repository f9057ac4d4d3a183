"""The visit in the reference engine: how long there is bait and patience, and who goes then."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soundergate.engine import codes as k
from soundergate.engine.reference.agenda import Clock

if TYPE_CHECKING:
    from soundergate.engine.reference.night import Night


class Visit:
    """Bait and patience of one night."""

    def __init__(self, night: Night) -> None:
        self.night, self.marks = night, night.facts.bait_marks
        self.bait_level = 0
        self.bait = Clock(night.timer(self.bait_falls), k.BAIT_LEVEL)
        self.bait.wait_for(0, self.marks[0])
        self.patience = night.timer(self.ends)

    def lasts(self, seconds: float) -> None:
        """A sounder has come: a visit begins or goes on, unless there is nothing to stay for."""
        night = self.night
        self.patience.set(night.env.now + seconds, k.VISIT_ENDS, 0)
        if not night.alarmed and self.bait_level < k.SPENT:
            night.over, night.level = False, self.bait_level

    def bait_falls(self, _: int) -> None:
        """Another quarter of the bait is eaten."""
        self.bait_level += 1
        if not self.night.over:
            self.night.level = self.bait_level
        self.night.note("bait level", note=f"level {self.bait_level}")
        if self.bait_level == k.SPENT:
            self.bait.drop(0)
            self.ends(0)
        else:
            self.bait.wait_for(0, self.marks[self.bait_level])

    def ends(self, _: int) -> None:
        """Bait or patience is at an end: those outside go, those inside will soon want to."""
        if not self.night.over:
            self.night.note("visit ends")
            self.dismiss()

    def dismiss(self) -> None:
        """Everyone who is outside or waiting to enter goes away; at the alarm not far, at first."""
        night = self.night
        night.over, night.level = True, k.SPENT
        for i, state in enumerate(night.state):
            if state == k.OUTSIDE:
                night.entry.drop(i)
            elif state == k.WAIT_IN:
                night.gates.forget(i)
            else:
                continue
            if night.alarmed:
                night.onlookers.stays_near(i)
            else:
                night.goes_away(i)
