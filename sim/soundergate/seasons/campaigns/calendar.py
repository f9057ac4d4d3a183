"""When somebody goes to the trap, and how often bait is carried there.

Bait is carried on every visit after which pigs are to find some, and nowhere without one. Before
the trap is set, and while a scared group keeps off, somebody comes every ``bait_every`` nights;
once more to set the trap; and to a set trap every morning, or, where a link or an alarm tells of a
closure, after closures and whenever the bait is ``bait_every`` nights old. Building the trap and
taking it down are trips of their own (`money.costs`). Days count, not hours: a visit comes before
the night that it is for.
"""

from __future__ import annotations

import numpy as np

from soundergate.seasons.campaigns.outcomes import Bools, Ints
from soundergate.seasons.campaigns.rules import Rules


class Calendar:
    """Visits to C campaigns that are played night by night."""

    def __init__(self, rules: Rules, count: int) -> None:
        self.rules = rules
        self.pre_bait = _every(rules.bait_every, rules.pre_bait_nights)
        self.first = True
        self.bait_visits: Ints = np.zeros(count, np.int64)
        self.check_visits: Ints = np.zeros(count, np.int64)
        self.heaps: Ints = np.full(count, self.pre_bait, np.int64)
        self.checked: Bools = np.zeros(count, bool)
        self.old: Ints = np.zeros(count, np.int64)
        """Nights since bait was carried."""

    def before_night(self, goes_on: Bools, rests: Bools) -> None:
        """The trap is set again where ``goes_on``; ``rests`` where quiet nights came before."""
        if self.first:
            visits = np.ones_like(self.heaps)
            self.first = False
        else:
            # the check after the closure feeds the first of the quiet nights, the last of these
            # visits sets the trap again
            apart = _every(self.rules.bait_every, self.rules.quiet_nights)
            due = ~self.checked & (self.old >= self.rules.bait_every)
            visits = np.where(goes_on, np.where(rests, apart, due), 0)
        carried = visits + (self.checked & goes_on)
        self.bait_visits += visits
        self.heaps += carried
        self.old[carried > 0] = 0

    def after_night(self, rows: Ints, closed: Bools) -> None:
        """The morning after a set night of some campaigns; ``closed`` where a gate had shut."""
        self.checked[rows] = True if self.rules.daily else closed
        self.check_visits[rows] += self.checked[rows]
        self.old[rows] += 1

    def columns(self) -> dict[str, Ints]:
        """Columns of `outcomes.Campaigns`."""
        return {
            "pre_bait_visits": np.full(len(self.heaps), self.pre_bait, np.int64),
            "bait_visits": self.bait_visits,
            "check_visits": self.check_visits,
            "heaps": self.heaps,
        }


def _every(nights: int, of: int) -> int:
    """Visits that feed ``of`` nights, one every so many nights."""
    return -(-of // nights)
