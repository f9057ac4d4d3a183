"""Tables whose keys depend on a choice made in them: a gate on its kind, a latch on its puller."""

from __future__ import annotations

import typing
from collections.abc import Callable
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Annotated, Any, Union

from pydantic import BeforeValidator, Discriminator, Tag

from soundergate.scenario.errors import Problem
from soundergate.scenario.fields import check_choice
from soundergate.scenario.register import default as register_default
from soundergate.scenario.toml_table import Table

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


@cache
def kinds_in(folder: str, key: str = "kind") -> dict[str, Any]:
    """The module of each kind in a folder of this room, by what a scenario file calls the kind.

    A module of a kind says ``CLASSES``, the tables that it may be, each with the kind as the one
    value of its field ``key``; ``PLACE``, where it stands in lists (the usual kinds first); and
    ``CHOICE``, the key that chooses where there are several classes.
    """
    package = import_module(folder)
    modules = [
        import_module(f"{folder}.{found.name}")
        for found in iter_modules(package.__path__)
        if found.name not in _SHARED
    ]
    modules.sort(key=lambda module: (module.PLACE, module.__name__))
    return {value_of(module.CLASSES[0], key): module for module in modules}


_SHARED = ("base", "choice")
"""Modules beside those of the kinds: what kinds have in common, and the choice among them."""


def value_of(cls: type[Table], key: str) -> str:
    """The one value that a choosing key may have in a table of this class."""
    return str(typing.get_args(cls.model_fields[key].annotation)[0])


def all_classes(folder: str, key: str = "kind") -> tuple[Any, ...]:
    """The classes of all kinds of a folder, in the order of lists."""
    return tuple(cls for module in kinds_in(folder, key).values() for cls in module.CLASSES)


def class_for(table: dict[str, Any], folder: str, path: str) -> Any:
    """The class that a table as written calls for, by its kind and by its kind's own choice.

    ``path`` leads to the table, as in "opening.gate": the register knows defaults under it.
    """
    kinds = kinds_in(folder)
    kind = chosen(table, "kind", tuple(kinds))
    classes = _by_choice(kinds[kind])
    if len(classes) == 1:
        return next(iter(classes.values()))
    key = kinds[kind].CHOICE
    return classes[chosen(table, key, tuple(classes), register_default(f"{path}.{kind}.{key}"))]


def _by_choice(module: Any) -> dict[str, type[Table]]:
    """The classes of a kind by the value of the key that chooses among them."""
    key = getattr(module, "CHOICE", None)
    return {value_of(cls, key) if key else "": cls for cls in module.CLASSES}


def owner_of(key: str, what: str, folder: str, choosing: str = "kind") -> str | None:
    """A remark such as: pull belongs to a latch with puller = "solenoid". None when nobody's.

    ``what`` names the table, ``folder`` holds its kinds, which the key ``choosing`` chooses.
    """
    kinds = kinds_in(folder, choosing)
    choices = {choosing: {kind: module.CLASSES for kind, module in kinds.items()}}
    for module in kinds.values():
        if hasattr(module, "CHOICE"):
            choices[module.CHOICE] = {one: (cls,) for one, cls in _by_choice(module).items()}
    for chooser, by_choice in choices.items():
        owners = [
            choice
            for choice, classes in by_choice.items()
            if all(key in cls.model_fields for cls in classes)
        ]
        if owners and len(owners) < len(by_choice):
            words = " or ".join(f'"{owner}"' for owner in owners)
            return f"{key} belongs to a {what} with {chooser} = {words}"
    return None
