"""The corral and the bait in it. SI throughout."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import model_validator

from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import Count, Length, Mass, Offset, Size
from soundergate.scenario.fields import Number, Quantity
from soundergate.scenario.register import from_register, settled_from
from soundergate.scenario.toml_table import Table

LEVELS = 5  # of bait left: four quarters and none


class Corral(Table):
    """The fence; round, or as if round."""

    diameter: Annotated[float, Quantity("length", above="0 m", at_most="1000 ft")] = from_register(
        "corral.diameter"
    )
    bait_distance: Size = settled_from("corral.bait_distance")
    panel_height: Size = from_register("corral.panel_height")
    space_per_pig: Annotated[float, Quantity("area", at_least="0 m^2")] = from_register(
        "corral.space_per_pig"
    )

    @property
    def perimeter(self) -> float:
        """m"""
        return math.pi * self.diameter

    @property
    def area(self) -> float:
        """m^2"""
        return math.pi * self.diameter * self.diameter / 4.0


class Patch(Table):
    """Ground with bait on it; a trail through an opening is one too."""

    opening: Count = from_register("bait.patch.opening")
    distance: Size
    aside: Offset = from_register("bait.patch.aside")
    radius: Length | None = settled_from("bait.patch.radius")
    share: Annotated[float, Number(above=0, at_most=1e6)] = from_register("bait.patch.share")


class Bait(Table):
    """A finite heap, eaten at a rate in proportion to body mass."""

    radius: Length = from_register("bait.radius")
    space: Annotated[float, Quantity("area", at_least="0 m^2")] = from_register("bait.space")
    patch: tuple[Patch, ...] = ()

    mass: Mass = from_register("bait.mass")
    intake: Annotated[float, Quantity("rate", at_least="0 1/s")] = from_register("bait.intake")
    # Multiplies the leaving speed at 100-75, 75-50, 50-25, 25-0 % of the bait left, and at none.
    levels_appetite: tuple[Annotated[float, Number(at_least=0, at_most=1e6)], ...] = from_register(
        "bait.levels_appetite"
    )

    @model_validator(mode="after")
    def _every_level(self) -> Bait:
        if len(self.levels_appetite) != LEVELS:
            raise Problem(
                f"needs {LEVELS} numbers, for 100-75, 75-50, 50-25, 25-0 % of the bait and none",
                key="levels_appetite",
            )
        return self
