"""The keys of a drop gate: a panel that falls in two channels. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from soundergate.scenario.distributions import LogNormal
from soundergate.scenario.errors import Problem
from soundergate.scenario.field_types import AddedMass, Angle, Force, Friction, Offset, Size
from soundergate.scenario.gates.base import Gate, SheetText
from soundergate.scenario.register import default, from_register, scatters_like, settled_from
from soundergate.scenario.spread_fields import SpreadField
from soundergate.scenario.units import format_quantity


class DropGate(Gate):
    """A panel that falls in two channels."""

    kind: Literal["drop"]
    channel_length: Size = settled_from("opening.gate.drop.channel_length")
    guided_length: Size = settled_from("opening.gate.drop.guided_length")
    channel_sheet: SheetText = from_register("opening.gate.drop.channel_sheet")
    friction: Friction = from_register("opening.gate.drop.friction")
    # Mud, rust and warp in one channel over the other: a force, or else a share of the weight.
    drag: Annotated[LogNormal | None, SpreadField("force", at_most="50000 lbf")] = scatters_like(
        "opening.gate.drop.drag"
    )
    drag_share: Annotated[LogNormal | None, SpreadField(None, at_most=5.0)] = from_register(
        "opening.gate.drop.drag_share"
    )
    offset: Offset = from_register("opening.gate.drop.offset")
    pull_offset: Offset = from_register("opening.gate.drop.pull_offset")
    counterweight: AddedMass = from_register("opening.gate.drop.counterweight")
    out_of_plumb: Angle = from_register("opening.gate.drop.out_of_plumb")
    side_load: Force = from_register("opening.gate.drop.side_load")

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

    def fit(self, height: float) -> None:
        if self.channel_length is None:
            self.settle(channel_length=default("opening.gate.drop.channel_length") * height)
        high = format_quantity(height, "ft")
        if self.channel_length <= height:
            raise Problem(
                "the channels are too short to hold the raised gate",
                key="gate.channel_length"
                if "channel_length" in self.model_fields_set
                else "height",
                hint=f"they must be longer than the opening is high, {high}",
            )
        if self.guided_length is None:
            self.settle(guided_length=default("opening.gate.drop.guided_length") * height)
        elif self.guided_length > height:
            raise Problem(
                "more guided length than the gate is high",
                key="gate.guided_length",
                hint=f"at most {high}",
            )


PLACE = 1
CLASSES = (DropGate,)
