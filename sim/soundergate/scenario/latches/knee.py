"""The keys of a knee latch. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from soundergate.scenario.field_types import Part, Thickness
from soundergate.scenario.fields import Quantity
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import from_register


class Knee(Latch):
    """Two links past their dead centre (over-centre)."""

    kind: Literal["knee"]
    link: Part = from_register("opening.latch.knee.link")
    over_centre: Annotated[float, Quantity("angle", at_least="0 deg", below="45 deg")] = (
        from_register("opening.latch.knee.over_centre")
    )
    diameter: Thickness = from_register("opening.latch.knee.diameter")


PLACE = 2
CLASSES = (Knee,)
