"""The keys of a curled panel. SI."""

from __future__ import annotations

from typing import Annotated, Literal

from soundergate.scenario.field_types import RestShare, Share, SpreadForce
from soundergate.scenario.fields import Choice
from soundergate.scenario.gates.base import MeshText, OneWayGate, SheetText
from soundergate.scenario.register import from_register, settled_from


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


PLACE = 5
CLASSES = (CurledPanel,)
