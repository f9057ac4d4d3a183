"""The keys of a counter at the opening. SI."""

from __future__ import annotations

from typing import Literal

from soundergate.scenario.field_types import Count, Share, Time
from soundergate.scenario.register import from_register, settled_from
from soundergate.scenario.site import Corral
from soundergate.scenario.triggers.base import SingleTrigger, share_of_group


class CounterTrigger(SingleTrigger):
    """A beam or treadle at the opening that counts in and out."""

    kind: Literal["counter"]
    count: Count = settled_from("trigger.counter.count")
    miss: Share = from_register("trigger.counter.miss")
    double: Share = from_register("trigger.counter.double")
    dwell: Time | None = None

    def fit(self, corral: Corral, bait: float, animals: int) -> None:
        if self.count is None:
            self.settle(count=share_of_group("trigger.counter.count", animals))


PLACE = 3
CLASSES = (CounterTrigger,)
