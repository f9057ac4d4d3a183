"""The keys of a bait container. SI."""

from __future__ import annotations

from typing import ClassVar, Literal

from soundergate.scenario.field_types import AddedMass, Clock, Friction
from soundergate.scenario.register import from_register
from soundergate.scenario.triggers.base import SingleTrigger


class BaitTrigger(SingleTrigger):
    """A container of bait on a stand, pushed off by feeding animals."""

    kind: Literal["bait"]
    pulls: ClassVar[bool] = True
    container: AddedMass = from_register("trigger.bait.container")
    friction: Friction = from_register("trigger.bait.friction")
    rate: Clock = from_register("trigger.bait.rate")


PLACE = 2
CLASSES = (BaitTrigger,)
