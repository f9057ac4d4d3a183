"""What every latch has. SI."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, ClassVar

from soundergate.scenario.field_types import Friction, Part
from soundergate.scenario.fields import Number
from soundergate.scenario.register import from_register
from soundergate.scenario.toml_table import Table
from soundergate.scenario.variants import owner_of

LATCHES, PULLERS = "soundergate.scenario.latches", "soundergate.scenario.pullers"


class Latch(Table):
    """What every latch has. `friction` is that of its sliding or turning parts."""

    if TYPE_CHECKING:  # each half of a pair declares its own; declared here it would hide the other
        kind: str
        puller: str
    by_animal: ClassVar[bool] = False  # True when nothing but an animal pulls it
    friction: Friction = from_register("opening.latch.friction")
    lever: Annotated[float, Number(above=0, at_most=100, what="a ratio")] = from_register(
        "opening.latch.lever"
    )
    engaged: Part = from_register("opening.latch.engaged")

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        by_kind = owner_of(key, "latch", LATCHES)
        return by_kind or owner_of(key, "latch", PULLERS, choosing="puller")
