"""The gate of an opening: what it is made of and how its kind moves. SI throughout.

Lengths m, masses kg, forces N, torques N m, angles rad, speeds m/s; coefficients and shares are
plain numbers. What a key does to the closing curve is told in `soundergate.mechanics`.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import model_validator

from soundergate.scenario.distributions import Spread
from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import Choice, Flag, Number, Quantity, Spec
from soundergate.scenario.register import (
    default,
    from_register,
    registered_id,
    scatters_like,
    settled_from,
)
from soundergate.scenario.spread_fields import SpreadField
from soundergate.scenario.table import Table
from soundergate.scenario.units import read_quantity
from soundergate.scenario.variants import chosen, one_of, owner_of

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
Friction = Annotated[Spread, SpreadField(None, at_most=2.0)]
SpreadForce = Annotated[Spread, SpreadField("force", at_most="50000 lbf")]

MATERIALS = ("sheet", "plywood", "mesh")
# Only the form is checked here; `mechanics.materials` knows which gauges and sizes there are.
_GAUGE = re.compile(r"\s*\d{1,2}\s*-?\s*(?:gauge|gage|ga)\.?\s*", re.I)
_LUMBER = re.compile(r"\s*\d{1,2}\s*[x×]\s*\d{1,2}(?:\s*lumber)?\s*", re.I)
_MESH = re.compile(
    r"\s*\d{1,2}(?:\.\d)?\s*-?\s*(?:gauge|gage|ga)\.?\s+"
    r"\d+(?:\.\d+)?\s*[x×]\s*\d+(?:\.\d+)?\s*(?:in|cm|mm)\s*",
    re.I,
)


class Material(Spec):
    """A material by trade name or by a quantity; kept as text, which `mechanics` turns to mass."""

    def __init__(self, names: re.Pattern[str], dimension: str, example: str, quantity: str) -> None:
        self.names, self.dimension = names, dimension
        self.example, self.quantity = example, quantity

    def read(self, value: Any) -> str:
        if isinstance(value, str) and self.names.fullmatch(value):
            return " ".join(value.split())
        try:
            si = read_quantity(value, self.dimension)
        except Problem as problem:
            raise Problem(
                problem.text, hint=f'write "{self.example}" or "{self.quantity}"'
            ) from None
        if si <= 0.0:
            raise Problem(f"a {self.dimension} must be above zero")
        return str(value)

    def json_type(self) -> dict[str, Any]:
        return {"type": "string", "examples": [self.example, self.quantity]}


SheetText = Annotated[str, Material(_GAUGE, "length", "14 gauge", "2 mm")]
MeshText = Annotated[str, Material(_MESH, "mass per area", "4 gauge 2x4 in", "4 kg/m^2")]
FrameText = Annotated[str, Material(_LUMBER, "mass per length", "2x4 lumber", "2 kg/m")]


class Gate(Table):
    """What every gate has. Its outer size is that of the opening."""

    kind: str
    mass: GateMass | None = None  # a stated mass overrides the materials
    sheet: SheetText | None = settled_from("opening.gate.sheet")
    galvanized: Annotated[bool, Flag()] = from_register("opening.gate.galvanized")
    plywood: Annotated[float | None, Quantity("length", above="0 m", at_most="4 in")] = None
    mesh: MeshText | None = None
    frame: FrameText | None = None
    lock: Annotated[bool, Flag()] = from_register("opening.gate.lock")  # catches at shut
    depth: Part = from_register("opening.gate.depth")  # thickness in the walking direction
    wind: WindSpeed = from_register("opening.gate.wind")
    restitution: Share = from_register("opening.gate.restitution")  # rebound at the sill or stop
    late_entry: Share = from_register("opening.gate.late_entry")

    one_way: ClassVar[bool] = False

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        kinds: dict[str, type[Table]] = {
            **_PLAIN,
            "side-hinged": SideHingedGate,
            "push panel": TopPushPanel,
        }
        return owner_of(key, {"kind": kinds, "closer": CLOSERS, "hinge": HINGES}, "gate")

    @model_validator(mode="after")
    def _one_material(self) -> Gate:
        given = [name for name in MATERIALS if getattr(self, name) is not None]
        if len(given) > 1:
            raise Problem(
                f"give one of {', '.join(MATERIALS)}, not {' and '.join(given)}",
                hint="for a gate of several materials state its mass",
            )
        if not given and self.mass is None:
            self._settle_material()
        return self

    def _settle_material(self) -> None:
        """The usual face of this kind, when the file gives neither material nor mass."""
        for name in MATERIALS:
            known = registered_id(type(self).model_fields[name])
            if known:
                self.settle(**{name: default(known)})

    @property
    def face(self) -> str:
        """The material of the face: "sheet", "plywood", "mesh", or "stated" for a stated mass."""
        return next((name for name in MATERIALS if getattr(self, name) is not None), "stated")


class DropGate(Gate):
    """A panel that falls in two channels."""

    kind: Literal["drop"]
    channel_length: Size = settled_from("opening.gate.drop.channel_length")
    guided_length: Size = settled_from("opening.gate.drop.guided_length")
    channel_sheet: SheetText = from_register("opening.gate.drop.channel_sheet")
    friction: Friction = from_register("opening.gate.drop.friction")
    # Mud, rust and warp in one channel over the other: a force, or else a share of the weight.
    drag: Annotated[Spread | None, SpreadField("force", at_most="50000 lbf")] = scatters_like(
        "opening.gate.drop.drag"
    )
    drag_share: Annotated[Spread | None, SpreadField(None, at_most=5.0)] = from_register(
        "opening.gate.drop.drag_share"
    )
    offset: Offset = from_register("opening.gate.drop.offset")  # centre of mass off the middle
    pull_offset: Offset = from_register("opening.gate.drop.pull_offset")  # rope off the middle
    counterweight: AddedMass = from_register("opening.gate.drop.counterweight")
    out_of_plumb: Angle = from_register("opening.gate.drop.out_of_plumb")
    side_load: Force = from_register("opening.gate.drop.side_load")  # an animal leaning on it

    @model_validator(mode="after")
    def _one_drag(self) -> DropGate:
        if self.drag is not None and "drag_share" in self.model_fields_set:
            raise Problem(
                "give drag or drag_share, not both",
                key="drag_share",
                hint="drag is a force, drag_share a share of the gate's weight",
            )
        if self.drag is not None:
            self.settle(drag_share=None)
        return self


class Hinged(Gate):
    """What every gate on a hinge pin has."""

    family: ClassVar[str] = "hinge"

    friction: Friction = from_register("opening.gate.hinge.friction")
    pin_radius: Thickness = from_register("opening.gate.hinge.pin_radius")
    # A stated hinge torque stands in for friction and pin radius.
    hinge_friction: Torque | None = None


class TopHingedGate(Hinged):
    """A plate hinged on its top edge; angles from hanging shut (90 deg is level)."""

    kind: Literal["top-hinged"]
    stop: Annotated[float, Quantity("angle", above="0 deg", at_most="180 deg")] = from_register(
        "opening.gate.top-hinged.stop"
    )
    set_angle: Annotated[float, Quantity("angle", above="0 deg", at_most="180 deg")] = (
        from_register("opening.gate.top-hinged.set_angle")
    )
    hold_distance: Size = settled_from("opening.gate.top-hinged.hold_distance")  # latch to hinge
    # True when no frame stops the plate at shut, so that without a lock it swings on through.
    swings_through: Annotated[bool, Flag()] = from_register(
        "opening.gate.top-hinged.swings_through"
    )

    @model_validator(mode="after")
    def _within_stop(self) -> TopHingedGate:
        _check_stop(self.set_angle, self.stop, "stop")
        return self


class SideHingedGate(Hinged):
    """One or two leaves that swing shut; angles from shut."""

    kind: Literal["side-hinged"]
    leaves: Annotated[int, Choice((1, 2))] = from_register("opening.gate.side-hinged.leaves")
    closer: str
    set_angle: Annotated[float, Quantity("angle", above="0 deg", at_most="180 deg")] = (
        from_register("opening.gate.side-hinged.set_angle")
    )
    hinge_spacing: Size = settled_from("opening.gate.side-hinged.hinge_spacing")


class SpringGate(SideHingedGate):
    """Closed by a torsion spring at each leaf's hinge."""

    closer: Literal["spring"] = from_register("opening.gate.side-hinged.closer")
    spring_rate: Torque = from_register(
        "opening.gate.side-hinged.spring.spring_rate"
    )  # torque a radian
    preload: Angle = from_register("opening.gate.side-hinged.spring.preload")


class RisingHingeGate(SideHingedGate):
    """Closed by its own weight: the leaf climbs as it opens."""

    closer: Literal["rising hinge"]
    rise: Annotated[float, Quantity("length", at_least="0 m", at_most="10 ft")] = from_register(
        "opening.gate.side-hinged.rising hinge.rise"
    )


class WeightGate(SideHingedGate):
    """Closed by a hanging weight whose rope pulls each leaf at a constant arm."""

    closer: Literal["weight"]
    closing_weight: Mass = from_register("opening.gate.side-hinged.weight.closing_weight")
    arm: Part = from_register("opening.gate.side-hinged.weight.arm")


class OneWayGate(Gate):
    """An entrance that animals push open from outside and that shuts behind them."""

    push_force: SpreadForce
    one_way: ClassVar[bool] = True


class TopPushPanel(OneWayGate):
    """A panel hinged at the top that an animal lifts with its snout."""

    kind: Literal["push panel"]
    hinge: Literal["top"] = from_register("opening.gate.push panel.hinge")
    push_force: SpreadForce = from_register("opening.gate.push panel.top.push_force")
    late_entry: Share = from_register("opening.gate.push panel.top.late_entry")


class SidePushPanel(OneWayGate):
    """A panel (or a pair) hinged at the side and returned by a spring."""

    kind: Literal["push panel"]
    hinge: Literal["side"]
    leaves: Annotated[int, Choice((1, 2))] = from_register("opening.gate.push panel.side.leaves")
    push_force: SpreadForce = from_register("opening.gate.push panel.side.push_force")
    rest_share: RestShare = from_register("opening.gate.push panel.side.rest_share")
    late_entry: Share = from_register("opening.gate.push panel.side.late_entry")


class CurledPanel(OneWayGate):
    """An unframed flexible panel overlapping its neighbour; animals squeeze past its free end."""

    kind: Literal["curled panel"]
    hand: Annotated[str, Choice(("left", "right"))] = from_register(
        "opening.gate.curled panel.hand"
    )
    push_force: SpreadForce = from_register("opening.gate.curled panel.push_force")
    rest_share: RestShare = from_register("opening.gate.curled panel.rest_share")
    sheet: SheetText | None = None
    mesh: MeshText | None = settled_from("opening.gate.curled panel.mesh")
    late_entry: Share = from_register("opening.gate.curled panel.late_entry")


class NetSkirt(OneWayGate):
    """A net hanging to the ground that animals root under."""

    kind: Literal["net skirt"]
    skirt: Length = from_register("opening.gate.net skirt.skirt")  # net lying inward at the foot
    push_force: SpreadForce = from_register("opening.gate.net skirt.push_force")
    snout: Length = from_register("opening.gate.net skirt.snout")  # of net a snout lifts at first
    sheet: SheetText | None = None
    mesh: MeshText | None = settled_from("opening.gate.net skirt.mesh")
    late_entry: Share = from_register("opening.gate.net skirt.late_entry")


def _check_stop(angle: float, stop: float, key: str) -> None:
    if angle > stop:
        raise Problem(
            f"beyond the {key}",
            key="set_angle",
            hint=f"at most {stop * 57.29577951308232:.4g} deg",
        )


GATE_KINDS = ("drop", "top-hinged", "side-hinged", "push panel", "curled panel", "net skirt")
CLOSERS: dict[str, type[SideHingedGate]] = {
    "spring": SpringGate,
    "rising hinge": RisingHingeGate,
    "weight": WeightGate,
}
HINGES: dict[str, type[Gate]] = {"top": TopPushPanel, "side": SidePushPanel}
_PLAIN: dict[str, type[Gate]] = {
    "drop": DropGate,
    "top-hinged": TopHingedGate,
    "curled panel": CurledPanel,
    "net skirt": NetSkirt,
}
GATE_CLASSES: tuple[type[Gate], ...] = (*_PLAIN.values(), *CLOSERS.values(), *HINGES.values())


def gate_class(table: dict[str, Any]) -> type[Gate]:
    """The class that a gate table as written calls for."""
    kind = chosen(table, "kind", GATE_KINDS)
    if kind == "side-hinged":
        closer = default("opening.gate.side-hinged.closer")
        return CLOSERS[chosen(table, "closer", tuple(CLOSERS), closer)]
    if kind == "push panel":
        hinge = default("opening.gate.push panel.hinge")
        return HINGES[chosen(table, "hinge", tuple(HINGES), hinge)]
    return _PLAIN[kind]


if TYPE_CHECKING:
    GateField = Gate
else:
    GateField = one_of(gate_class, GATE_CLASSES)
