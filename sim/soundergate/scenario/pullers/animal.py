"""The keys of a latch that an animal pulls. SI."""

from __future__ import annotations

from typing import ClassVar, Literal

from soundergate.scenario.field_types import Delay
from soundergate.scenario.latches.base import Latch
from soundergate.scenario.register import from_register


class Animal(Latch):
    """Pulled by an animal through a trip line or a bait container; no other power."""

    puller: Literal["animal"]
    by_animal: ClassVar[bool] = True
    delay: Delay = from_register("opening.latch.animal.delay")


PLACE = 3
CLASSES = (Animal,)
