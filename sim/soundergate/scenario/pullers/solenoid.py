"""The keys of a solenoid that pulls a latch. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from soundergate.scenario.constants import INCH
from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import (
    AddedMass,
    Delay,
    Force,
    Length,
    Part,
    Supply,
    Thickness,
)
from soundergate.scenario.fields import Quantity, Whole
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import default, from_register, settled_from
from soundergate.scenario.units import read_quantity


class Solenoid(Latch):
    """Pulled by a solenoid: a stated pull, or a coil from which the pull is computed."""

    puller: Literal["solenoid"] = from_register("opening.latch.puller")
    # The maker's figure: at the gap and the rated volts below, across a coil at 20 degrees C.
    pull: Force = from_register("opening.latch.solenoid.pull")
    gap: Thickness = from_register("opening.latch.solenoid.gap")
    # How far out the plunger may be drawn, at least the gap (and left out, just that): further out
    # it pulls less, and it frees nothing that has to move further.
    stroke: Part | None = settled_from("opening.latch.solenoid.stroke")
    # Left out: 12 V, or the battery's where that has more.
    rated_volts: Annotated[
        float | None, Quantity("voltage", at_least="0.1 V", at_most="1000 V")
    ] = settled_from("opening.latch.solenoid.rated_volts")
    turns: Annotated[int | None, Whole(at_least=1, at_most=1000000)] = None
    plunger_area: Annotated[float | None, Quantity("area", above="0 m^2", at_most="0.1 m^2")] = None
    saturation: Annotated[
        float, Quantity("magnetic flux density", at_least="0.1 T", at_most="3 T")
    ] = from_register("opening.latch.solenoid.saturation")
    # Of a coil described by its turns: a gap that never closes, and the flux path in its iron.
    residual_gap: Thickness = from_register("opening.latch.solenoid.residual_gap")
    iron_length: Annotated[float, Quantity("length", at_least="0 m", at_most="10 ft")] = (
        from_register("opening.latch.solenoid.iron_length")
    )
    plunger: AddedMass = from_register("opening.latch.solenoid.plunger")
    volts: Annotated[float, Quantity("voltage", at_least="0 V", at_most="1000 V")] = from_register(
        "opening.latch.solenoid.volts"
    )
    resistance: Annotated[
        float, Quantity("resistance", at_least="0.001 ohm", at_most="100000 ohm")
    ] = from_register("opening.latch.solenoid.resistance")
    inductance: Annotated[float, Quantity("inductance", at_least="0 H", at_most="1000 H")] = (
        from_register("opening.latch.solenoid.inductance")
    )
    battery_resistance: Annotated[
        float, Quantity("resistance", at_least="0 ohm", at_most="100000 ohm")
    ] = from_register("opening.latch.solenoid.battery_resistance")
    relay_resistance: Annotated[
        float, Quantity("resistance", at_least="0 ohm", at_most="100000 ohm")
    ] = from_register("opening.latch.solenoid.relay_resistance")
    wire_length: Length = from_register("opening.latch.solenoid.wire_length")
    wire_gauge: Annotated[int, Whole(at_least=0, at_most=40, what="an AWG number")] = from_register(
        "opening.latch.solenoid.wire_gauge"
    )
    temperature: Annotated[float, Quantity("temperature", above="0 K", at_most="300 degC")] = (
        from_register("opening.latch.solenoid.temperature")
    )
    relay: Delay = from_register("opening.latch.solenoid.relay")
    supply: Supply = from_register("opening.latch.solenoid.supply")
    delay: Delay | None = None

    @model_validator(mode="after")
    def _whole_coil(self) -> Solenoid:
        if (self.turns is None) != (self.plunger_area is None):
            missing = "turns" if self.turns is None else "plunger_area"
            raise Problem("a coil needs both turns and plunger_area", key=missing)
        return self

    @model_validator(mode="after")
    def _settled_circuit(self) -> Solenoid:
        if self.stroke is None:
            self.settle(stroke=default("opening.latch.solenoid.stroke") * self.gap)
        elif self.stroke < self.gap * (1.0 - 1e-9):
            raise Problem(
                "shorter than the gap at which the pull is stated",
                key="stroke",
                hint=f"at least {self.gap * 1000:.4g} mm ({self.gap / INCH:.4g} in)",
            )
        if self.rated_volts is None:
            usual = read_quantity(default("opening.latch.solenoid.rated_volts"), "voltage")
            self.settle(rated_volts=max(usual, self.volts))
        return self


PLACE = 1
CLASSES = (Solenoid,)
