"""The keys of a push panel, hinged on top or at the side. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from soundergate.scenario.field_types import RestShare, Share, SpreadForce
from soundergate.scenario.fields import Choice
from soundergate.scenario.gates.base import OneWayGate
from soundergate.scenario.register import from_register


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


PLACE = 4
CHOICE = "hinge"
CLASSES = (TopPushPanel, SidePushPanel)
