"""Types of keys that several tables share: a length, a mass, a share, a time to draw. SI."""

from __future__ import annotations

from typing import Annotated

from soundergate.scenario.distributions import Duration, LogNormal
from soundergate.scenario.fields import Number, Quantity, Whole
from soundergate.scenario.spread_fields import DurationField, SpreadField

# Upper bounds are generous: what is beyond them cannot be built, and no solver should try.
Length = Annotated[float, Quantity("length", at_least="0 m", at_most="1000 ft")]
Size = Annotated[float, Quantity("length", above="0 m", at_most="1000 ft")]
Opened = Annotated[
    float, Quantity("length", above="0 m", at_least="1 in", at_most="200 ft")
]  # width, height
Part = Annotated[float, Quantity("length", above="0 m", at_most="10 ft")]  # of a latch or a gate
Thickness = Annotated[float, Quantity("length", above="0 m", at_most="12 in")]
Offset = Annotated[float, Quantity("length", at_least="-100 ft", at_most="100 ft")]
Mass = Annotated[float, Quantity("mass", above="0 kg", at_most="20000 lb")]
GateMass = Annotated[float, Quantity("mass", above="0 kg", at_least="1 oz", at_most="20000 lb")]
AddedMass = Annotated[float, Quantity("mass", at_least="0 kg", at_most="20000 lb")]
Force = Annotated[float, Quantity("force", at_least="0 N", at_most="50000 lbf")]
Torque = Annotated[float, Quantity("torque", at_least="0 N*m", at_most="20000 N*m")]
Angle = Annotated[float, Quantity("angle", at_least="0 deg", at_most="180 deg")]
Share = Annotated[float, Number(at_least=0, at_most=1, what="a share")]
# Of a one-way entrance's push force, what is left when it is shut.
RestShare = Annotated[float, Number(at_least=0, at_most=0.95, what="a share")]
WindSpeed = Annotated[float, Quantity("speed", at_least="0 m/s", at_most="60 m/s")]
Friction = Annotated[LogNormal, SpreadField(None, at_most=2.0)]
SpreadForce = Annotated[LogNormal, SpreadField("force", at_most="50000 lbf")]


Supply = Annotated[LogNormal, SpreadField(None, at_most=2.0)]
Delay = Annotated[Duration, DurationField()]
Pressure = Annotated[
    float, Quantity("pressure", at_least="0 psi", at_most="500 psi",
                    why="pressure below atmosphere (it is a gauge pressure)")]  # fmt: skip
TankPressure = Annotated[float, Quantity("pressure", at_least="0 psi", at_most="5000 psi")]
Time = Annotated[float, Quantity("time", at_least="0 s")]
Count = Annotated[int, Whole(at_least=1)]
Clock = Annotated[Duration, DurationField(never=True)]
