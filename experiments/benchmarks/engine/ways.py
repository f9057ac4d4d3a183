"""How many ways a night has, counted on the reference engine, and what one costs in the kernel.

A way is a walk from one place to another inside the fence, or an outing that is looked through for
lines before it happens. Both engines walk and look through the very same ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import demo
from timing import best

from soundergate.engine.kernel.batch import play_counted
from soundergate.engine.plan import NightPlan
from soundergate.engine.reference.facts import Facts
from soundergate.engine.reference.ground import Ground
from soundergate.engine.reference.night import Night


@dataclass
class Ways:
    """Of a number of nights."""

    walked: int = 0
    scanned: int = 0


def count(plan: NightPlan, nights: int) -> Ways:
    """Ways of the first nights of the benchmark's seed."""
    ways = Ways()

    class Counted(Ground):
        def walks(self, *given: object, **named: object) -> None:
            ways.walked += 1
            super().walks(*given, **named)  # type: ignore[arg-type]

        def goes_out(self, i: int) -> None:
            first = self.outing[i]
            super().goes_out(i)
            ways.scanned += self.next_outing[i] - first + (self.next_meeting[i] <= 2.0)

    facts = Facts(plan)
    for number in range(nights):
        night = Night(facts, demo.SEED, number)
        night.ground = Counted(night)
        night.play()
    return ways


def cost(nights: int, repeats: int, heard: int) -> tuple[float, float]:
    """Seconds that a scanned outing costs, and how many there are a night.

    The same nights with outings and without, beside a line that hardly anyone meets: what they
    differ by are the outings, and that one looks again when those looked through have passed.
    """
    still, about = (demo.by_a_far_line(roam) for roam in ("never", "2 min"))
    scanned = [count(plan, heard).scanned / heard for plan in (still, about)]
    took = [
        best(repeats, play_counted, plan, demo.SEED, 0, nights).cpu / nights
        for plan in (still, about)
    ]
    return (took[1] - took[0]) / (scanned[1] - scanned[0]), scanned[1]
