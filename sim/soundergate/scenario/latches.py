"""The latch of an opening: what holds the gate (its kind) and what pulls it (its puller). SI.

The keys of both lie flat in one table, so that there is one class for each pair, such as
`PinSolenoid`; ask `isinstance(latch, Pin)` and `isinstance(latch, Solenoid)`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import model_validator

from soundergate.scenario.distributions import Duration, Spread
from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import Choice, Flag, Number, Quantity, Whole
from soundergate.scenario.gates import AddedMass, Force, Friction, Length, Part, Thickness
from soundergate.scenario.register import default, from_register, settled_from
from soundergate.scenario.spread_fields import DurationField, SpreadField
from soundergate.scenario.table import Table
from soundergate.scenario.units import read_quantity
from soundergate.scenario.variants import chosen, one_of, owner_of

Supply = Annotated[Spread, SpreadField(None, at_most=2.0)]
Delay = Annotated[Duration, DurationField()]
Pressure = Annotated[
    float, Quantity("pressure", at_least="0 psi", at_most="500 psi",
                    why="pressure below atmosphere (it is a gauge pressure)")]  # fmt: skip
TankPressure = Annotated[float, Quantity("pressure", at_least="0 psi", at_most="5000 psi")]


class Latch(Table):
    """What every latch has. `friction` is that of its sliding or turning parts."""

    if TYPE_CHECKING:  # each half of a pair declares its own; declared here it would hide the other
        kind: str
        puller: str
    friction: Friction = from_register("opening.latch.friction")
    lever: Annotated[float, Number(above=0, at_most=100, what="a ratio")] = from_register(
        "opening.latch.lever"
    )  # force times this, travel divided by it
    engaged: Part = from_register("opening.latch.engaged")  # length to withdraw before it lets go

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        return owner_of(key, {"kind": LATCH_KINDS, "puller": PULLERS}, "latch")


class Pin(Latch):
    """A pin under or through the gate."""

    kind: Literal["pin"] = from_register("opening.latch.kind")
    support: Annotated[str, Choice(("double shear", "overhung"))] = from_register(
        "opening.latch.pin.support"
    )
    overhang: Annotated[float, Quantity("length", at_least="0 m", at_most="10 ft")] = from_register(
        "opening.latch.pin.overhang"
    )  # load to guide, overhung only
    guide: Part = from_register("opening.latch.pin.guide")  # length of the guide, overhung only
    diameter: Thickness = from_register("opening.latch.pin.diameter")


class Knee(Latch):
    """Two links past their dead centre (over-centre)."""

    kind: Literal["knee"]
    link: Part = from_register("opening.latch.knee.link")  # length of one link
    over_centre: Annotated[float, Quantity("angle", at_least="0 deg", below="45 deg")] = (
        from_register("opening.latch.knee.over_centre")
    )
    diameter: Thickness = from_register("opening.latch.knee.diameter")  # of its pins


class Finger(Latch):
    """A pivoted finger that carries the load on a short arm and is tripped on a long one."""

    kind: Literal["finger"]
    hold_arm: Part = from_register("opening.latch.finger.hold_arm")
    trip_arm: Part = from_register("opening.latch.finger.trip_arm")
    # How far the load's line of action passes the pivot; negative: the load turns the finger away.
    offset: Annotated[float, Quantity("length", at_least="-10 ft", at_most="10 ft")] = (
        from_register("opening.latch.finger.offset")
    )
    diameter: Thickness = from_register("opening.latch.finger.diameter")  # of its pivot


class Rotary(Latch):
    """A turning jaw that carries the load, blocked by a pawl."""

    kind: Literal["rotary"]
    hold_arm: Part = from_register("opening.latch.rotary.hold_arm")  # load from the jaw's pivot
    catch_arm: Part = from_register("opening.latch.rotary.catch_arm")  # pawl from the same pivot
    pawl_arm: Part = from_register("opening.latch.rotary.pawl_arm")  # contact from pawl's pivot
    trip_arm: Part = from_register("opening.latch.rotary.trip_arm")  # pull from pawl's pivot
    diameter: Thickness = from_register("opening.latch.rotary.diameter")  # of its pivots


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
    plunger: AddedMass = from_register("opening.latch.solenoid.plunger")  # moving mass
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
    ] = from_register(
        "opening.latch.solenoid.relay_resistance"
    )  # of the relay's contacts and the joints in the circuit
    wire_length: Length = from_register("opening.latch.solenoid.wire_length")  # one way
    wire_gauge: Annotated[int, Whole(at_least=0, at_most=40, what="an AWG number")] = from_register(
        "opening.latch.solenoid.wire_gauge"
    )
    temperature: Annotated[float, Quantity("temperature", above="0 K", at_most="300 degC")] = (
        from_register("opening.latch.solenoid.temperature")
    )  # of the coil when it is asked to pull
    relay: Delay = from_register("opening.latch.solenoid.relay")  # pick-up of the relay
    supply: Supply = from_register("opening.latch.solenoid.supply")  # share of that pull
    delay: Delay | None = None  # replaces the computed time from trigger to gate moving

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
                hint=f"at least {self.gap * 1000:.4g} mm ({self.gap / 0.0254:.4g} in)",
            )
        if self.rated_volts is None:
            usual = read_quantity(default("opening.latch.solenoid.rated_volts"), "voltage")
            self.settle(rated_volts=max(usual, self.volts))
        return self


class AirCylinder(Latch):
    """Pulled by an air cylinder through a valve and a hose."""

    puller: Literal["air cylinder"]
    bore: Thickness = from_register("opening.latch.air cylinder.bore")
    rod: Thickness = from_register("opening.latch.air cylinder.rod")
    stroke: Part = from_register("opening.latch.air cylinder.stroke")
    pressure: Pressure = from_register("opening.latch.air cylinder.pressure")  # gauge
    retracting: Annotated[bool, Flag()] = from_register("opening.latch.air cylinder.retracting")
    seal_loss: Pressure = from_register("opening.latch.air cylinder.seal_loss")
    conductance: Annotated[
        float, Quantity("flow", above="0 m^3/(s*Pa)", at_most="1000 L/(s*bar)")
    ] = from_register("opening.latch.air cylinder.conductance")  # ISO 6358 C
    critical_ratio: Annotated[float, Number(at_least=0, below=1)] = from_register(
        "opening.latch.air cylinder.critical_ratio"
    )  # ISO 6358 b
    valve: Delay = from_register("opening.latch.air cylinder.valve")  # shift time
    hose_bore: Thickness = from_register("opening.latch.air cylinder.hose_bore")
    hose_length: Length = from_register("opening.latch.air cylinder.hose_length")
    dead_volume: Annotated[float, Quantity("volume", at_least="0 m^3", at_most="1 m^3")] = (
        from_register("opening.latch.air cylinder.dead_volume")
    )
    moving_mass: Annotated[float, Quantity("mass", at_least="1 g", at_most="20000 lb")] = (
        from_register("opening.latch.air cylinder.moving_mass")
    )  # piston, rod and what hangs on it
    supply: Supply = from_register("opening.latch.air cylinder.supply")
    # Volume of the air tank, filled to `pressure`, or to `tank_pressure` ahead of a regulator that
    # holds `pressure`. Without a tank the supply does not run down.
    tank: Annotated[float | None, Quantity("volume", above="0 m^3", at_most="100 m^3")] = None
    tank_pressure: TankPressure | None = None
    delay: Delay | None = None  # replaces the computed time from trigger to gate moving

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
                f"({self.bore / 0.0254:.4g} in)",
            )
        return self


class AnimalPull(Latch):
    """Pulled by an animal through a trip line or a bait container; no other power."""

    puller: Literal["animal"]
    delay: Delay = from_register("opening.latch.animal.delay")


class PinSolenoid(Pin, Solenoid):
    pass


class PinAirCylinder(Pin, AirCylinder):
    pass


class PinAnimal(Pin, AnimalPull):
    pass


class KneeSolenoid(Knee, Solenoid):
    pass


class KneeAirCylinder(Knee, AirCylinder):
    pass


class KneeAnimal(Knee, AnimalPull):
    pass


class FingerSolenoid(Finger, Solenoid):
    pass


class FingerAirCylinder(Finger, AirCylinder):
    pass


class FingerAnimal(Finger, AnimalPull):
    pass


class RotarySolenoid(Rotary, Solenoid):
    pass


class RotaryAirCylinder(Rotary, AirCylinder):
    pass


class RotaryAnimal(Rotary, AnimalPull):
    pass


LATCH_KINDS: dict[str, type[Latch]] = {
    "pin": Pin, "knee": Knee, "finger": Finger, "rotary": Rotary
}  # fmt: skip
PULLERS: dict[str, type[Latch]] = {
    "solenoid": Solenoid,
    "air cylinder": AirCylinder,
    "animal": AnimalPull,
}
LATCH_CLASSES: tuple[type[Latch], ...] = (
    PinSolenoid, PinAirCylinder, PinAnimal,
    KneeSolenoid, KneeAirCylinder, KneeAnimal,
    FingerSolenoid, FingerAirCylinder, FingerAnimal,
    RotarySolenoid, RotaryAirCylinder, RotaryAnimal,
)  # fmt: skip


def latch_class(table: dict[str, Any]) -> type[Latch]:
    """The class that a latch table as written calls for."""
    kind = chosen(table, "kind", tuple(LATCH_KINDS), default("opening.latch.kind"))
    puller = chosen(table, "puller", tuple(PULLERS), default("opening.latch.puller"))
    pair = (LATCH_KINDS[kind], PULLERS[puller])
    return next(cls for cls in LATCH_CLASSES if all(issubclass(cls, part) for part in pair))


if TYPE_CHECKING:
    LatchField = Latch
else:
    LatchField = one_of(latch_class, LATCH_CLASSES)
