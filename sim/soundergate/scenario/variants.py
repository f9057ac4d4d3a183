"""Tables whose keys depend on a choice made in them: a gate on its kind, a latch on its puller."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Union

from pydantic import BeforeValidator, Discriminator, Tag

from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import check_choice

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


def other_owner(key: str, classes: tuple[type, ...]) -> list[Any]:
    """The classes among `classes` that do know `key`."""
    return [cls for cls in classes if key in getattr(cls, "model_fields", {})]
