"""The keys of a top-hinged gate. SI."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import model_validator

from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import Size
from soundergate.scenario.fields import Flag, Quantity
from soundergate.scenario.gates.base import Hinged
from soundergate.scenario.register import default, from_register, settled_from


class TopHingedGate(Hinged):
    """A plate hinged on its top edge; angles from hanging shut (90 deg is level)."""

    kind: Literal["top-hinged"]
    stop: Annotated[float, Quantity("angle", above="0 deg", at_most="180 deg")] = from_register(
        "opening.gate.top-hinged.stop"
    )
    set_angle: Annotated[float, Quantity("angle", above="0 deg", at_most="180 deg")] = (
        from_register("opening.gate.top-hinged.set_angle")
    )
    hold_distance: Size = settled_from("opening.gate.top-hinged.hold_distance")
    # True when no frame stops the plate at shut, so that without a lock it swings on through.
    swings_through: Annotated[bool, Flag()] = from_register(
        "opening.gate.top-hinged.swings_through"
    )

    @model_validator(mode="after")
    def _within_stop(self) -> TopHingedGate:
        if self.set_angle > self.stop:
            raise Problem(
                "beyond the stop",
                key="set_angle",
                hint=f"at most {math.degrees(self.stop):.4g} deg",
            )
        return self

    def fit(self, height: float) -> None:
        if self.hold_distance is None:
            share = default("opening.gate.top-hinged.hold_distance")
            self.settle(hold_distance=share * height)


PLACE = 2
CLASSES = (TopHingedGate,)
