"""Tables whose keys depend on a choice made in them: a gate on its kind, a latch on its puller."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Union

from pydantic import BeforeValidator, Discriminator, Tag

from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import check_choice
from soundergate.scenario.table import Table

# Tags stand in pydantic's error locations beside real keys; the mark lets `messages` drop them.
TAG_MARK = "<"


def one_of(choose: Callable[[dict[str, Any]], type], classes: tuple[type, ...]) -> Any:
    """A field type that validates a table with the class `choose` picks for it.

    `choose` gets the table as written and raises Problem (see `chosen`) for a bad choice.
    """

    def check(data: Any) -> Any:
        if not isinstance(data, (dict, *classes)):
            raise Problem("must be a table", hint='such as {kind = "..."}')
        if isinstance(data, dict):
            choose(data)
        return data

    def tag(data: Any) -> str:
        return _tag(choose(data) if isinstance(data, dict) else type(data))

    members = tuple(Annotated[cls, Tag(_tag(cls))] for cls in classes)
    union: Any = Union[members]  # noqa: UP007  (built from a tuple)
    return Annotated[union, Discriminator(tag), BeforeValidator(check)]


def _tag(cls: type) -> str:
    return f"{TAG_MARK}{cls.__name__}>"


_MISSING: Any = object()


def chosen(
    table: dict[str, Any], key: str, options: tuple[Any, ...], default: Any = _MISSING
) -> Any:
    """The value of a choosing key, checked against its options; Problem names them if it is bad."""
    if key in table:
        check_choice(table[key], options, key=key)
        return table[key]
    if default is _MISSING:
        known = ", ".join(f'"{option}"' for option in options)
        raise Problem("this key is required", key=key, hint=f"choose one of: {known}")
    return default


def owner_of(key: str, choices: Mapping[str, Mapping[str, type[Table]]], what: str) -> str | None:
    """A remark such as: pull belongs to a latch with puller = "solenoid". None when nobody's.

    `choices` gives, for each choosing key, the classes by choice; `what` names the table.
    """
    for choosing, classes in choices.items():
        owners = [choice for choice, cls in classes.items() if key in cls.model_fields]
        if owners and len(owners) < len(classes):
            words = " or ".join(f'"{owner}"' for owner in owners)
            return f"{key} belongs to a {what} with {choosing} = {words}"
    return None
