"""The keys of a rotary latch. SI."""

from __future__ import annotations

from typing import Literal

from soundergate.scenario.field_types import Part, Thickness
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import from_register


class Rotary(Latch):
    """A turning jaw that carries the load, blocked by a pawl."""

    kind: Literal["rotary"]
    hold_arm: Part = from_register("opening.latch.rotary.hold_arm")
    catch_arm: Part = from_register("opening.latch.rotary.catch_arm")
    pawl_arm: Part = from_register("opening.latch.rotary.pawl_arm")
    trip_arm: Part = from_register("opening.latch.rotary.trip_arm")
    diameter: Thickness = from_register("opening.latch.rotary.diameter")


PLACE = 4
CLASSES = (Rotary,)
