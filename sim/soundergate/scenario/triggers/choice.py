"""Which class of trigger a table as written calls for: one, or the first or all of several."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from pydantic import model_validator

from soundergate.scenario.errors import Problem
from soundergate.scenario.triggers.base import TRIGGERS, AnyTrigger, SingleTrigger
from soundergate.scenario.variants import all_classes, class_for, one_of

SINGLE_CLASSES: tuple[type[AnyTrigger], ...] = all_classes(TRIGGERS)


def single_class(table: dict[str, Any]) -> type[AnyTrigger]:
    """The class that a table of one trigger as written calls for."""
    return class_for(table, TRIGGERS, "trigger")


if TYPE_CHECKING:
    PartField = SingleTrigger
else:
    PartField = one_of(single_class, SINGLE_CLASSES)


class FirstOf(AnyTrigger):
    """Releases as soon as one of its parts would."""

    any: tuple[PartField, ...]
    combine: ClassVar[str] = "any"

    @property
    def parts(self) -> tuple[AnyTrigger, ...]:
        return self.any

    @model_validator(mode="after")
    def _parts_fit(self) -> FirstOf:
        _check_parts("any", self.any)
        return self


class AllOf(AnyTrigger):
    """Releases when all of its parts have called for it."""

    all: tuple[PartField, ...]
    combine: ClassVar[str] = "all"

    @property
    def parts(self) -> tuple[AnyTrigger, ...]:
        return self.all

    @model_validator(mode="after")
    def _parts_fit(self) -> AllOf:
        _check_parts("all", self.all)
        return self


def _check_parts(key: str, parts: tuple[SingleTrigger, ...]) -> None:
    if len(parts) < 2:
        raise Problem("needs at least two triggers", key=key)
    for number, part in enumerate(parts, 1):
        if not part.releases:
            raise Problem(
                f'"{part.kind}" cannot be one of several triggers', key=f"{key}.{number}.kind"
            )
        if "false_release" in part.model_fields_set:
            raise Problem(
                "belongs to the whole trigger, not to one part",
                key=f"{key}.{number}.false_release",
                hint="move it up to [trigger]",
            )


TRIGGER_CLASSES: tuple[type[AnyTrigger], ...] = (*SINGLE_CLASSES, FirstOf, AllOf)


def trigger_class(table: dict[str, Any]) -> type[AnyTrigger]:
    """The class that the trigger table as written calls for."""
    ways = [key for key in ("kind", "any", "all") if key in table]
    if len(ways) > 1:
        raise Problem(f"give one of kind, any and all, not {' and '.join(ways)}", key=ways[1])
    if ways == ["any"]:
        return FirstOf
    if ways == ["all"]:
        return AllOf
    return single_class(table)


if TYPE_CHECKING:
    TriggerField = AnyTrigger
else:
    TriggerField = one_of(trigger_class, TRIGGER_CLASSES)
