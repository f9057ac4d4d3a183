"""What every trigger has. SI."""

from __future__ import annotations

import math
from typing import Annotated, ClassVar

from soundergate.scenario.fields import Quantity
from soundergate.scenario.register import default, from_register
from soundergate.scenario.site import Corral
from soundergate.scenario.toml_table import Table
from soundergate.scenario.variants import owner_of

TRIGGERS = "soundergate.scenario.triggers"


class AnyTrigger(Table):
    """What every trigger has: releases that no pig causes (wind, deer, raccoons)."""

    false_release: Annotated[float, Quantity("rate", at_least="0 1/s")] = from_register(
        "trigger.false_release"
    )

    combine: ClassVar[str] = "one"  # "one", "any" (first of) or "all"

    @property
    def parts(self) -> tuple[AnyTrigger, ...]:
        """The single triggers, in the order written; itself when it is single."""
        return (self,)


class SingleTrigger(AnyTrigger):
    """One trigger of one kind."""

    kind: str
    releases: ClassVar[bool] = True  # False when it never does
    pulls: ClassVar[bool] = False  # True when an animal's own force reaches a latch through it
    tells: ClassVar[bool] = False  # True when somebody hears of a closure through it

    @classmethod
    def elsewhere(cls, key: str) -> str | None:
        return owner_of(key, "trigger", TRIGGERS)

    def fit(self, corral: Corral, animals: int) -> None:
        """Settle what is left open and depends on the corral or on how many ``animals`` there are.

        Raises Problem where the trigger does not go into the corral.
        """


def share_of_group(known: str, animals: int) -> int:
    """A count of animals whose default, of this id in the register, is a share of the group."""
    return max(1, math.ceil(default(known) * animals - 1e-9))
