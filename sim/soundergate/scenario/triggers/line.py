"""The keys of a trip line. SI."""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Literal

from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import Angle, Force, Friction, Length, Size
from soundergate.scenario.fields import Quantity, Whole
from soundergate.scenario.register import default, from_register, settled_from
from soundergate.scenario.site import Corral
from soundergate.scenario.triggers.base import SingleTrigger
from soundergate.scenario.units import format_quantity

Bearing = Annotated[float, Quantity("angle")]


class LineTrigger(SingleTrigger):
    """Body contact with a trip line."""

    kind: Literal["line"]
    pulls: ClassVar[bool] = True
    height: Size = from_register("trigger.line.height")
    distance: Size = settled_from("trigger.line.distance")
    span: Size = settled_from("trigger.line.span")
    between: tuple[Bearing, ...] | None = None
    weight: Annotated[float, Quantity("mass per length", at_least="0 kg/m")] = from_register(
        "trigger.line.weight"
    )
    tension: Annotated[float, Quantity("force", above="0 N")] = from_register(
        "trigger.line.tension"
    )
    slack: Length = from_register("trigger.line.slack")
    stiffness: Annotated[float, Quantity("force per length", above="0 N/m")] = from_register(
        "trigger.line.stiffness"
    )
    bends: Annotated[int, Whole(at_least=0, at_most=50)] = from_register("trigger.line.bends")
    bend_angle: Angle = from_register("trigger.line.bend_angle")
    friction: Friction = from_register("trigger.line.friction")
    break_force: Annotated[float, Quantity("force", above="0 N")] = from_register(
        "trigger.line.break_force"
    )
    switch_force: Force = from_register("trigger.line.switch_force")
    switch_travel: Length = from_register("trigger.line.switch_travel")

    def fit(self, corral: Corral, bait: float, animals: int) -> None:
        diameter = corral.diameter
        if self.between is not None:
            self._fit_between(self.between, diameter)
            return
        across = format_quantity(diameter, "ft")
        if self.distance is None:
            beyond = default("trigger.line.distance")
            self.settle(distance=bait + beyond * (diameter - bait))
        if self.distance >= diameter:
            raise Problem(
                "the line lies beyond the far side of the corral",
                key="distance",
                hint=f"the corral is {across} across",
            )
        if self.span is None:
            chord = 2.0 * math.sqrt(self.distance * (diameter - self.distance))
            self.settle(span=default("trigger.line.span") * chord)

    def _fit_between(self, between: tuple[float, ...], diameter: float) -> None:
        """From fence to fence, which says how long it is."""
        for key in ("distance", "span"):
            if getattr(self, key) is not None:
                raise Problem(
                    "a line between two bearings has its place and length from them",
                    key=key,
                    hint=f"leave out {key}, or between",
                )
        if len(between) != 2:
            raise Problem("needs two bearings", key="between")
        a, b = between
        self.settle(span=diameter * abs(math.sin((a - b) / 2.0)))


PLACE = 1
CLASSES = (LineTrigger,)
