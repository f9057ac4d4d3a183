"""The keys of an air cylinder that pulls a latch. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from soundergate.scenario.constants import INCH
from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import (
    Delay,
    Length,
    Part,
    Pressure,
    Supply,
    TankPressure,
    Thickness,
)
from soundergate.scenario.fields import Flag, Number, Quantity
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import from_register


class AirCylinder(Latch):
    """Pulled by an air cylinder through a valve and a hose."""

    puller: Literal["air cylinder"]
    bore: Thickness = from_register("opening.latch.air cylinder.bore")
    rod: Thickness = from_register("opening.latch.air cylinder.rod")
    stroke: Part = from_register("opening.latch.air cylinder.stroke")
    pressure: Pressure = from_register("opening.latch.air cylinder.pressure")
    retracting: Annotated[bool, Flag()] = from_register("opening.latch.air cylinder.retracting")
    seal_loss: Pressure = from_register("opening.latch.air cylinder.seal_loss")
    conductance: Annotated[
        float, Quantity("flow", above="0 m^3/(s*Pa)", at_most="1000 L/(s*bar)")
    ] = from_register("opening.latch.air cylinder.conductance")  # ISO 6358 C
    critical_ratio: Annotated[float, Number(at_least=0, below=1)] = from_register(
        "opening.latch.air cylinder.critical_ratio"
    )
    valve: Delay = from_register("opening.latch.air cylinder.valve")
    hose_bore: Thickness = from_register("opening.latch.air cylinder.hose_bore")
    hose_length: Length = from_register("opening.latch.air cylinder.hose_length")
    dead_volume: Annotated[float, Quantity("volume", at_least="0 m^3", at_most="1 m^3")] = (
        from_register("opening.latch.air cylinder.dead_volume")
    )
    moving_mass: Annotated[float, Quantity("mass", at_least="1 g", at_most="20000 lb")] = (
        from_register("opening.latch.air cylinder.moving_mass")
    )
    supply: Supply = from_register("opening.latch.air cylinder.supply")
    # Volume of the air tank, filled to `pressure`, or to `tank_pressure` ahead of a regulator that
    # holds `pressure`. Without a tank the supply does not run down.
    tank: Annotated[float | None, Quantity("volume", above="0 m^3", at_most="100 m^3")] = None
    tank_pressure: TankPressure | None = None
    delay: Delay | None = None

    @model_validator(mode="after")
    def _tank_above_its_regulator(self) -> AirCylinder:
        if self.tank_pressure is None:
            return self
        if self.tank is None:
            raise Problem("a tank pressure needs the tank's volume", key="tank")
        if self.tank_pressure < self.pressure:
            raise Problem("below the pressure that the regulator holds", key="tank_pressure")
        return self

    @model_validator(mode="after")
    def _rod_in_bore(self) -> AirCylinder:
        if self.rod >= self.bore:
            raise Problem(
                "the rod is as thick as the bore or thicker",
                key="rod",
                hint=f"it must be thinner than {self.bore * 1000:.4g} mm "
                f"({self.bore / INCH:.4g} in)",
            )
        return self


PLACE = 2
CLASSES = (AirCylinder,)
