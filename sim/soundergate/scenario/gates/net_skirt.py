"""The keys of a net skirt. SI."""

from __future__ import annotations

from typing import Literal

from soundergate.scenario.field_types import Length, Share, SpreadForce
from soundergate.scenario.gates.base import MeshText, OneWayGate, SheetText
from soundergate.scenario.register import from_register, settled_from


class NetSkirt(OneWayGate):
    """A net hanging to the ground that animals root under."""

    kind: Literal["net skirt"]
    skirt: Length = from_register("opening.gate.net skirt.skirt")
    push_force: SpreadForce = from_register("opening.gate.net skirt.push_force")
    snout: Length = from_register("opening.gate.net skirt.snout")
    sheet: SheetText | None = None
    mesh: MeshText | None = settled_from("opening.gate.net skirt.mesh")
    late_entry: Share = from_register("opening.gate.net skirt.late_entry")


PLACE = 6
CLASSES = (NetSkirt,)
