"""What every gate has, what gates on a hinge have, and one-way entrances. SI."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar

from pydantic import model_validator

from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import (
    Friction,
    GateMass,
    Part,
    Share,
    SpreadForce,
    Thickness,
    Torque,
    WindSpeed,
)
from soundergate.scenario.fields import Flag, Quantity, Spec
from soundergate.scenario.register import default, from_register, registered_id, settled_from
from soundergate.scenario.toml_table import Table
from soundergate.scenario.units import read_quantity
from soundergate.scenario.variants import owner_of

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
    lock_fails: Share = from_register("opening.gate.lock_fails")  # nights on which it does not
    depth: Part = from_register("opening.gate.depth")  # thickness in the walking direction
    wind: WindSpeed = from_register("opening.gate.wind")
    restitution: Share = from_register("opening.gate.restitution")  # rebound at the sill or stop
    late_entry: Share = from_register("opening.gate.late_entry")

    one_way: ClassVar[bool] = False

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        return owner_of(key, "gate", "soundergate.scenario.gates")

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

    def fit(self, height: float) -> None:
        """Settle what is left open and depends on the ``height`` (m) of the opening.

        Raises Problem where the gate does not go into it.
        """

    @property
    def face(self) -> str:
        """The material of the face: "sheet", "plywood", "mesh", or "stated" for a stated mass."""
        return next((name for name in MATERIALS if getattr(self, name) is not None), "stated")


class Hinged(Gate):
    """What every gate on a hinge pin has."""

    family: ClassVar[str] = "hinge"

    friction: Friction = from_register("opening.gate.hinge.friction")
    pin_radius: Thickness = from_register("opening.gate.hinge.pin_radius")
    # A stated hinge torque stands in for friction and pin radius.
    hinge_friction: Torque | None = None


class OneWayGate(Gate):
    """An entrance that animals push open from outside and that shuts behind them."""

    push_force: SpreadForce
    one_way: ClassVar[bool] = True
