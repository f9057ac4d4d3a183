"""The keys of a side-hinged gate, of one leaf or two, by what closes it. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from soundergate.scenario.field_types import Angle, Mass, Part, Size, Torque
from soundergate.scenario.fields import Choice, Quantity
from soundergate.scenario.gates.base import Hinged
from soundergate.scenario.register import default, from_register, settled_from


class SideHingedGate(Hinged):
    """One or two leaves that swing shut; angles from shut."""

    kind: Literal["side-hinged"]
    leaves: Annotated[int, Choice((1, 2))] = from_register("opening.gate.side-hinged.leaves")
    closer: str
    set_angle: Annotated[float, Quantity("angle", above="0 deg", at_most="180 deg")] = (
        from_register("opening.gate.side-hinged.set_angle")
    )
    hinge_spacing: Size = settled_from("opening.gate.side-hinged.hinge_spacing")

    def fit(self, height: float) -> None:
        if self.hinge_spacing is None:
            share = default("opening.gate.side-hinged.hinge_spacing")
            self.settle(hinge_spacing=share * height)


class SpringGate(SideHingedGate):
    """Closed by a torsion spring at each leaf's hinge."""

    closer: Literal["spring"] = from_register("opening.gate.side-hinged.closer")
    spring_rate: Torque = from_register("opening.gate.side-hinged.spring.spring_rate")
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


PLACE = 3
CHOICE = "closer"
CLASSES = (SpringGate, RisingHingeGate, WeightGate)
