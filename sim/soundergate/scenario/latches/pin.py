"""The keys of a pin latch. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from soundergate.scenario.field_types import Part, Thickness
from soundergate.scenario.fields import Choice, Quantity
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import from_register


class Pin(Latch):
    """A pin under or through the gate."""

    kind: Literal["pin"] = from_register("opening.latch.kind")
    support: Annotated[str, Choice(("double shear", "overhung"))] = from_register(
        "opening.latch.pin.support"
    )
    overhang: Annotated[float, Quantity("length", at_least="0 m", at_most="10 ft")] = from_register(
        "opening.latch.pin.overhang"
    )
    guide: Part = from_register("opening.latch.pin.guide")
    diameter: Thickness = from_register("opening.latch.pin.diameter")


PLACE = 1
CLASSES = (Pin,)
