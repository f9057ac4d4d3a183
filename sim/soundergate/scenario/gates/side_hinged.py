"""The keys of a side-hinged gate, of one leaf or two, by what closes it. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import Angle, Mass, Part, Size, Torque
from soundergate.scenario.fields import Choice, Quantity
from soundergate.scenario.gates.base import Hinged
from soundergate.scenario.register import default, from_register, settled_from

EndForce = Annotated[float, Quantity("force", above="0 N", at_most="5000 lbf")]


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
    spring_rate: Torque | None = from_register("opening.gate.side-hinged.spring.spring_rate")
    preload: Angle | None = from_register("opening.gate.side-hinged.spring.preload")
    pull_set: EndForce | None = None
    pull_shut: EndForce | None = None

    @model_validator(mode="after")
    def _one_spring(self) -> SpringGate:
        """A spring by its pull at the leaf's end stands in for its rate, and with both for all."""
        if self.pull_set is None:
            if self.pull_shut is not None:
                raise Problem(
                    "the pull at the leaf's end when it is shut says nothing alone",
                    key="pull_shut",
                    hint="give pull_set too, the pull there when the leaf is set open",
                )
            return self
        replaced = ["spring_rate"] + (["preload"] if self.pull_shut is not None else [])
        for name in replaced:
            if name in self.model_fields_set:
                raise Problem(
                    f"pull_set says already how strong the spring is, {name} says it again",
                    key=name,
                    hint="leave out one of the two",
                )
        if self.pull_shut is not None and self.pull_shut >= self.pull_set:
            raise Problem(
                "a spring pulls harder the further it is wound, and this one does not",
                key="pull_shut",
                hint="it must be below pull_set",
            )
        self.settle(**dict.fromkeys(replaced))
        return self


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
