"""What is kept of campaigns: one number a campaign, side by side."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Campaigns:
    """C campaigns against one group each, from the first bait to the trap's removal.

    Every array has shape (C,). ``nights`` counts those of the calendar: pre-baiting, set and
    quiet ones.
    """

    group_size: Ints
    """Animals of the group."""
    caught: Ints
    """Animals caught, on all nights together."""
    wary: Ints
    """Animals left that will not enter again."""
    nights: Ints
    pre_bait_nights: Ints
    set_nights: Ints
    idle_nights: Ints
    """Set nights after the last on which any were caught; all of them if none ever were."""
    quiet_nights: Ints
    """Nights without visits of pigs after a failed closure."""
    pre_bait_visits: Ints
    """Visits of people to put bait out before the trap is set."""
    bait_visits: Ints
    """Visits after that to set the trap or put bait out, on days when nobody comes to check it."""
    check_visits: Ints
    """Visits of people to check a set trap; they carry bait too if it goes on."""
    heaps: Ints
    """Times that bait was carried there, each on one of those visits."""
    captures: Ints
    """Nights after which animals had to be taken out."""
    failed_closures: Ints
    """Nights on which the gate fell and animals that knew of it were left."""
    struck: Ints
    """Animals struck by a gate."""
    watched_min: Floats
    """Minutes that a person watched."""
    moved_away: Bools
    """Whether the group stopped visiting."""
    gave_up: Bools
    """Whether the trap was taken away from animals that were left and still came, before the
    nights ran out."""
    alarm: Bools
    """Whether an alarm at the gate reported closures."""

    @property
    def left(self) -> Ints:
        """Animals not caught."""
        return self.group_size - self.caught

    @property
    def whole_group(self) -> Bools:
        """Whether all were caught."""
        return self.caught == self.group_size

    @property
    def visits(self) -> Ints:
        """Visits of people, for whatever: bait, setting the trap, checks."""
        return self.pre_bait_visits + self.bait_visits + self.check_visits

    def __len__(self) -> int:
        return len(self.group_size)

    def columns(self) -> dict[str, NDArray[np.generic]]:
        """Name -> array, in the order of the fields."""
        return {field.name: getattr(self, field.name) for field in fields(self)}
