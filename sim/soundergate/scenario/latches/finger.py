"""The keys of a finger latch. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from soundergate.scenario.field_types import Part, Thickness
from soundergate.scenario.fields import Quantity
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import from_register


class Finger(Latch):
    """A pivoted finger that carries the load on a short arm and is tripped on a long one."""

    kind: Literal["finger"]
    hold_arm: Part = from_register("opening.latch.finger.hold_arm")
    trip_arm: Part = from_register("opening.latch.finger.trip_arm")
    # How far the load's line of action passes the pivot; negative: the load turns the finger away.
    offset: Annotated[float, Quantity("length", at_least="-10 ft", at_most="10 ft")] = (
        from_register("opening.latch.finger.offset")
    )
    diameter: Thickness = from_register("opening.latch.finger.diameter")


PLACE = 3
CLASSES = (Finger,)
