"""No trigger: one-way entrances, or a trap that stays open."""

from __future__ import annotations

from typing import ClassVar, Literal

from soundergate.scenario.triggers.base import SingleTrigger


class NoTrigger(SingleTrigger):
    """Nothing is released: one-way entrances, or a trap that stays open."""

    kind: Literal["none"]
    releases: ClassVar[bool] = False


PLACE = 5
CLASSES = (NoTrigger,)
