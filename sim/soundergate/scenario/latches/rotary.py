"""The keys of a rotary latch. SI."""

from __future__ import annotations

from typing import Literal

from soundergate.scenario.field_types import Part, Thickness
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import from_register


class Rotary(Latch):
    """A turning jaw that carries the load, blocked by a pawl."""

    kind: Literal["rotary"]
    hold_arm: Part = from_register("opening.latch.rotary.hold_arm")  # load from the jaw's pivot
    catch_arm: Part = from_register("opening.latch.rotary.catch_arm")  # pawl from the same pivot
    pawl_arm: Part = from_register("opening.latch.rotary.pawl_arm")  # contact from pawl's pivot
    trip_arm: Part = from_register("opening.latch.rotary.trip_arm")  # pull from pawl's pivot
    diameter: Thickness = from_register("opening.latch.rotary.diameter")  # of its pivots


PLACE = 4
CLASSES = (Rotary,)
